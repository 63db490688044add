"""The workbook as a knitter meets it: real JupyterLab in real Chromium."""

import tomllib

import numpy as np
import pytest
import xlsxwriter
from PIL import Image

from planner.folder import read_progress
from tests.helpers.browsing import ROW_WORKED, gauge_box, own_piece, row_of
from tests.helpers.screens import come_alive

pytestmark = pytest.mark.browser
# At the top of each notebook, as soon as its piece is open.
ALL_RUN = "what you see is kept in the piece's folder"
# The demo is opened as a copy the first time something is changed in it.
COPY = "data/my-harbour-cushion"


def open_fold(page, title):
    """Open what folds under a heading."""
    page.locator("button.plan-fold", has_text=title).click()


def winding_list(page):
    """The live winding list, the table beside the map."""
    return page.locator(".jupyter-widgets .plan-table", has_text="held as").first


def lengths_in(table) -> float:
    """The sum of the lengths in the winding list, all of its lines."""
    cells = table.locator("tbody td:nth-child(4)").all_text_contents()
    assert cells
    return sum(float(cell.removesuffix(" m")) for cell in cells)


def test_both_notebooks_run_and_a_changed_gauge_changes_the_winding_list(lab, page):
    lab.open(page, "1-chart-and-gauge.ipynb")
    lab.run_all(page, ALL_RUN)
    assert page.locator(".painting canvas").count() == 1
    open_fold(page, "A quick sum")
    page.locator(".jupyter-widgets", has_text="60 stitches × 10 cm ÷ 20 = 30 cm").first.wait_for(
        timeout=30_000
    )

    lab.open(page, "3-yarn-plan.ipynb")
    lab.run_all(page, ALL_RUN)
    before = lengths_in(winding_list(page))
    stitches = gauge_box(page)
    stitches.fill("25")
    stitches.press("Enter")
    # The answer stands beside the form, and the list follows.
    page.locator(".plan-result", has_text="→").first.wait_for(timeout=30_000)
    lab.calm(page)
    assert lengths_in(winding_list(page)) < 0.9 * before  # narrower stitches take less yarn
    settings = tomllib.loads((lab.root / COPY / "piece.toml").read_text())
    assert settings["gauge"]["stitches"] == 25
    demo = tomllib.loads((lab.root / "data/harbour-cushion/piece.toml").read_text())
    assert demo["gauge"]["stitches"] == 20

    # Once the notebook is saved, a page reload keeps what was typed, and the forms go on working.
    lab.save(page)
    page.reload()
    page.locator(".jupyter-widgets .plan-table").first.wait_for(state="attached", timeout=60_000)
    assert gauge_box(page).input_value() == "25"

    # Another notebook opens the copy; what was changed here is seen there.
    lab.open(page, "1-chart-and-gauge.ipynb")
    lab.run_all(page, "Gauge: 25 stitches and 28 rows over 10 cm")


def test_nonsense_in_a_form_is_answered_in_words(lab, page):
    lab.open(page, "3-yarn-plan.ipynb")
    lab.run_all(page, ALL_RUN)
    before = winding_list(page).inner_text()
    stitches = gauge_box(page)
    stitches.fill("0")
    stitches.press("Enter")
    page.locator(".jupyter-widgets", has_text="must be more than 0").first.wait_for(timeout=30_000)
    assert winding_list(page).inner_text() == before
    # The box shows what holds again.
    page.wait_for_function("(box) => box.value === '20'", arg=stitches.element_handle())


def fill(page, label: str, value: str):
    box = page.get_by_label(label, exact=True).first
    box.fill(value)
    box.press("Enter")


def test_a_logged_swatch_changes_the_winding_list(lab, page):
    """A marked metre logged in notebook 2 and applied: notebook 3 winds less."""
    (lab.root / "data/harbour-cushion/measurements.csv").unlink()
    lab.open(page, "3-yarn-plan.ipynb")
    lab.run_all(page, ALL_RUN)
    before = lengths_in(winding_list(page))

    lab.open(page, "2-swatch-and-calibrate.ipynb")
    lab.run_all(page, "Log this measurement")
    page.locator(".jupyter-widgets", has_text="Nothing is measured yet").first.wait_for(
        timeout=30_000
    )
    page.get_by_label("yarn", exact=True).first.select_option(label="N")
    fill(page, "length of yarn", "100")
    fill(page, "stitches", "60")
    page.locator(".jupyter-widgets", has_text="Multiplier: 100 cm ÷ 30 cm = 3.33").first.wait_for(
        timeout=30_000
    )
    page.get_by_role("button", name="Log this measurement").click()
    page.locator(".jupyter-widgets", has_text="logged as number 1, multiplier 3.33").first.wait_for(
        timeout=60_000
    )
    page.get_by_role("button", name="Plan with what was measured").click()
    page.locator(
        ".jupyter-widgets", has_text="the plan goes by your measurements now"
    ).first.wait_for(timeout=60_000)
    assert len((lab.root / COPY / "measurements.csv").read_text().splitlines()) == 2

    lab.open(page, "3-yarn-plan.ipynb")
    lab.run_all(page, ALL_RUN)
    assert lengths_in(winding_list(page)) < 0.95 * before
    page.get_by_role("button", name="(measured)").wait_for()


NEEDLES = "4-row-by-row.ipynb"
SIZES = {"screen": (1400, 900), "tablet": (820, 1180), "phone": (390, 844)}
# The outputs and boxes of the notebook that are wider than their place.
RUNS_OFF = """() => [...document.querySelectorAll(
  ".jp-OutputArea-output, .jupyter-widgets.widget-html, .jupyter-widgets.widget-inline-hbox")]
  .filter((each) => each.scrollWidth > each.clientWidth + 1).map((each) => each.innerText)"""


def unfold(page, heading: str):
    """Open the fold whose heading begins so, if it is shut."""
    folded = page.get_by_role("button", name=heading).first
    folded.wait_for(timeout=60_000)
    if folded.get_attribute("aria-expanded") == "false":
        folded.click()


def mark_up_to(page, row: int):
    unfold(page, "Rows worked:")
    fill(page, "the last row worked is", str(row))
    page.get_by_role("button", name="Mark it so").first.click()
    row_of(page, row + 1).wait_for(timeout=60_000)


def hide_files(page):
    """The list of files beside the notebook, put away as one does on a small screen."""
    if page.locator(".jp-FileBrowser").first.is_visible():
        page.keyboard.press("Control+b")
        page.locator(".jp-FileBrowser").first.wait_for(state="hidden")


def test_rows_and_notes_are_kept_on_every_screen(lab, page):
    """Ten rows marked, three taken back, a supply short in mid-row; closed, opened: all is there.

    So it is on a screen, a tablet and a phone, where nothing runs off at the side, and at last with
    another kernel. The button is pressed by the space bar alone: it keeps the focus and its place.
    """
    folder = own_piece(lab, NEEDLES)
    lab.open(page, NEEDLES)
    lab.run_all(page, ALL_RUN)
    worked = page.get_by_role("button", name=ROW_WORKED)
    worked.focus()
    place = worked.bounding_box()
    for row in range(1, 7):
        page.keyboard.press("Space")
        row_of(page, row + 1).wait_for(timeout=60_000)
        lab.idle(page)
    assert worked.bounding_box() == place
    for number, (width, height) in enumerate(SIZES.values()):
        page.set_viewport_size({"width": width, "height": height})
        hide_files(page)
        mark_up_to(page, 10 + 7 * number)
        mark_up_to(page, 7 + 7 * number)
        unfold(page, "Notes, and what")
        page.get_by_label("what happens", exact=True).select_option(label="it ran short")
        page.get_by_label("where", exact=True).select_option(index=1)
        fill(page, "after so many of its stitches", "5")
        page.get_by_role("button", name="Note it", exact=True).click()
        noted = page.locator(".jupyter-widgets .row-card", has_text=" ran short after 5 of")
        noted.first.wait_for(timeout=60_000)
        lab.idle(page)
        assert page.evaluate(RUNS_OFF) == [], (width, height)

        card = row_of(page, 8 + 7 * number).inner_text()
        lab.save(page)
        page.reload()
        row_of(page, 8 + 7 * number).wait_for(timeout=60_000)
        assert row_of(page, 8 + 7 * number).inner_text() == card

    left = page.locator(".jupyter-widgets .plan-table", has_text="chance it lasts").first
    unfold(page, "Will it last:")
    before = left.inner_text()
    lab.end_kernels()
    lab.open(page, NEEDLES)
    lab.run_all(page, ALL_RUN)
    assert row_of(page, 22).inner_text() == card
    unfold(page, "Will it last:")
    assert left.inner_text() == before
    log = read_progress(folder)
    assert [entry.what for entry in log].count("row worked") == 6 + 4 + 10 + 10
    short = [(entry.row, entry.stitch) for entry in log if entry.what == "ran short"]
    assert short == [(8, 5), (15, 5), (22, 5)]


HEADLINE = ".painting [data-stroke]"


def test_painting_by_keyboard_alone(lab, page):
    lab.open(page, "1-chart-and-gauge.ipynb")
    lab.run_all(page, ALL_RUN)
    headline, cells = page.locator(HEADLINE), page.locator(".jp-Cell").count()
    before = headline.inner_text()
    page.get_by_role("button", name="Whole chart").focus()
    while page.evaluate("document.activeElement.getAttribute('role')") != "application":
        page.keyboard.press("Tab")
    page.keyboard.press("y")
    for _ in range(5):
        page.keyboard.press("ArrowUp")
    page.keyboard.press("Space")
    page.locator(f'{HEADLINE}[data-stroke="1"]').wait_for(timeout=30_000)
    assert headline.inner_text() != before
    page.keyboard.press("r")
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("4")
    page.keyboard.press("Enter")  # fills; it does not run the cell
    for _ in range(3):
        page.keyboard.press("Control+z")
    page.locator(HEADLINE, has_text=before).wait_for(timeout=30_000)
    assert (
        page.locator(".jp-Cell").count() == cells
    )  # a, b, x, z are no commands of the notebook here
    lab.idle(page)


def test_a_picture_and_a_spreadsheet_are_loaded(lab, page, tmp_path):
    lab.open(page, "1-chart-and-gauge.ipynb")
    lab.run_all(page, ALL_RUN)
    open_fold(page, "A chart from a file")
    pixels = np.random.default_rng(0).integers(0, 255, (2000, 2400, 3), dtype=np.uint8)
    pixels[600:1400, 800:1600] = (200, 30, 30)
    Image.fromarray(pixels).save(tmp_path / "square.png")
    assert (
        tmp_path / "square.png"
    ).stat().st_size > 10_500_000  # larger than the server would take by itself

    def choose(name):
        with page.expect_file_chooser() as chooser:
            page.get_by_role("button", name="Choose a file").click()
        chooser.value.set_files(tmp_path / name)

    choose("square.png")
    open_fold(page, "Read as:")
    fill(page, "or stitches across", "24")
    # Shown by the gauge that a new piece begins with; in this piece it goes by this piece's.
    page.locator(".jupyter-widgets", has_text="24 stitches × 27 rows").first.wait_for(
        timeout=60_000
    )
    page.get_by_role("button", name="Make it the chart of this piece").click()
    page.locator(".jupyter-widgets", has_text="it is on the chart now").first.wait_for(
        timeout=60_000
    )
    assert (
        page.get_by_role("application")
        .get_attribute("aria-label")
        .startswith("Chart of 24 stitches and 28 rows")
    )

    book = xlsxwriter.Workbook(tmp_path / "motif.xlsx")
    sheet = book.add_worksheet()
    blue, white = book.add_format({"bg_color": "#1f3a8f"}), book.add_format({"bg_color": "#ffffff"})
    for row in range(6):
        for column in range(8):
            sheet.write_blank(
                row, column, None, blue if 2 <= row < 4 and 2 <= column < 6 else white
            )
        sheet.write_number(row, 8, 6 - row)
    book.close()
    choose("motif.xlsx")
    page.locator(".jupyter-widgets", has_text="8 stitches × 6 rows").first.wait_for(timeout=60_000)
    page.get_by_role("button", name="Make it the chart of this piece").click()
    page.locator(f"{HEADLINE}", has_text="3 strands · 6 ends").wait_for(timeout=60_000)
    page.get_by_role("button", name="Undo", exact=True).click()
    page.get_by_role("button", name="Undo", exact=True).click()
    page.locator(f"{HEADLINE}", has_text="33 strands · 66 ends").wait_for(timeout=60_000)


def test_an_offer_is_taken_and_taken_back_on_the_chart(lab, page):
    come_alive(lab, page, "5-choices.ipynb")
    said = page.locator(".offers .said")
    page.get_by_role("button", name="Take: embroider 3 × a patch of 6 stitches in Y").click()
    said.get_by_text("Taken: embroider 3 ×").wait_for(timeout=60_000)
    assert (lab.root / COPY / "choices.csv").read_text().count("embroider,Y") == 3
    page.get_by_role("button", name="Take back: embroider 3 ×").click()
    said.get_by_text("Taken back: embroider 3 ×").wait_for(timeout=60_000)
    # As it was, and the pointer is on no other offer.
    page.mouse.move(0, 0)
    page.locator(".offers .figures").get_by_text("33 strands", exact=True).wait_for()
