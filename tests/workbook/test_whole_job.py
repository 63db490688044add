"""The whole job by one hand: swatch, plan, paper, rows, the finishing page, a pattern."""

import pytest

from planner import make_plan, open_project
from planner.piece import SEWN_IN
from tests.helpers.browsing import Hand, own_piece

pytestmark = pytest.mark.browser


def told(page, words):
    """Wait until these words stand in what the notebook shows."""
    page.locator(".jupyter-widgets:visible", has_text=words).first.wait_for(timeout=60_000)


def fill(page, **boxes):
    """Type into boxes, by their labels, and leave the last one."""
    for label, typed in boxes.items():
        box = page.get_by_label(label.replace("_", " "), exact=True).locator("visible=true").first
        box.fill(str(typed))
        box.press("Tab")


def test_from_the_swatch_to_the_finishing_page(lab, page):
    folder = own_piece(lab)
    hand = Hand(page)
    measured = len(open_project(folder).measurements)

    # What is measured in the swatch is known of the piece.
    lab.open(page, "2-swatch-and-calibrate.ipynb")
    hand.press("Swatch from this chart")
    hand.press("Make the swatch")
    told(page, "as that of Harbour cushion")
    fill(page, length_of_yarn=100, stitches=54)
    hand.press("Log this measurement")
    page.wait_for_timeout(3000)
    told(page, "logged in my-cushion too")
    hand.press("Back to its piece")
    told(page, "Swatch from this chart")
    assert len(open_project(folder).measurements) == measured + 1

    # Lengths go by what was measured; an embroidery is taken; the plan goes along on paper.
    hand.press("Plan with what was measured")
    told(page, "the plan goes by your measurements now")
    hand.open_from_the_list("5-choices")
    hand.press("Take: embroider")
    page.locator(".offers .said").get_by_text("Taken: embroider").wait_for(timeout=60_000)
    hand.open_from_the_list("3-yarn-plan")
    page.get_by_role("button", name="How much yarn").get_by_text("(measured)").wait_for()
    hand.press("On paper")
    hand.press("Make sheet and cards page")
    told(page, "Download")
    assert (folder / "out" / "sheet.pdf").read_bytes().startswith(b"%PDF")

    # Knitted to the last row.
    rows = open_project(folder).chart.rows
    hand.open_from_the_list("4-row-by-row")
    hand.press("Rows worked")
    fill(page, **{"the last row worked is": rows})
    hand.press("Mark it so")
    told(page, f"rows 1 to {rows} are worked")

    # Finished: what is embroidered comes last, and its ends are among those to sew in.
    hand.open_from_the_list("6-finish-and-hand-on")
    plan = make_plan(open_project(folder))
    headline = page.locator(".plan-headline:visible", has_text="Block to 36 × 34.3 cm").first
    headline.get_by_text(f"{len(plan.ends)} of {len(plan.ends)} ends left").wait_for()
    hand.press("Sew in, area by area")
    hand.press("All of this area are sewn in")
    told(page, "all sewn in")
    assert any(entry.what == SEWN_IN for entry in open_project(folder).progress)

    # Handed on, without a word of her own hand.
    hand.press("A pattern for others")
    hand.press("Make the pattern")
    pattern = page.locator(".jupyter-widgets:visible", has_text="pattern.txt").first
    pattern.get_by_role("link").first.wait_for(timeout=60_000)
