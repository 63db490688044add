"""From a knitter's spreadsheet to what to wind, in as few clicks as are promised."""

import pytest

from tests.helpers.sheet_to_list import knitters_sheet, walk

pytestmark = pytest.mark.browser

MOST_CLICKS = 8
# Whether so many yarns stand in the first column of what is to be wound.
YARNS_LISTED = """(yarns) => {
  const tables = [...document.querySelectorAll(".plan-table")].filter((each) => each.offsetParent);
  const winding = tables.find((each) => each.textContent.includes("held as"));
  const first = [...(winding?.querySelectorAll("tbody tr td:first-child") ?? [])];
  return new Set(first.map((cell) => cell.textContent.trim())).size === yarns;
}"""


def test_from_a_knitters_sheet_to_the_winding_list(lab, page, tmp_path):
    """Seen without scrolling, with something to wind of each of the sheet's four colours."""
    hand, winding = walk(lab, page, knitters_sheet(tmp_path / "fish.xlsx"))
    assert hand.clicks <= MOST_CLICKS
    # A notebook that was open before follows within two seconds.
    page.wait_for_function(YARNS_LISTED, arg=4)
    place = winding.bounding_box()
    assert place["y"] + place["height"] < page.viewport_size["height"]
