"""From a knitter's spreadsheet to what to wind, in as few clicks as are promised."""

import pytest

from tests.helpers.sheet_to_list import knitters_sheet, walk

pytestmark = pytest.mark.browser

MOST_CLICKS = 8


def test_from_a_knitters_sheet_to_the_winding_list(lab, page, tmp_path):
    """Seen without scrolling, with something to wind of each of the sheet's four colours."""
    hand, winding = walk(lab, page, knitters_sheet(tmp_path / "fish.xlsx"))
    assert hand.clicks <= MOST_CLICKS
    assert len(set(winding.locator("tbody tr td:first-child").all_inner_texts())) == 4
    place = winding.bounding_box()
    assert place["y"] + place["height"] < page.viewport_size["height"]
