"""A PDF by its page and part, a photograph by its corners, cells in doubt one by one."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from planner.charts import CARRIED, GRID, PRINTED, chart_png
from planner.folder import read_chart
from planner.piece import Chart, Yarn
from planner.workbook import Fold, load_form
from planner.workbook.framing import WHOLE, Frame, PageChoice, part_frame
from tests.helpers.browsing import own_piece
from tests.helpers.forms import boxes, by_label, choose_file, press, said
from tests.helpers.leaflet import (
    AROUND_POCKET,
    CUSHION,
    POCKET,
    SLEEVE,
    leaflet,
    same_but_for_letters,
)
from tests.helpers.photographs import colours, patches, photographed

PUT_IT = "Make it the chart of this piece"
GRID_LINE = 60


def photograph(seed=3):
    rng = np.random.default_rng(seed)
    return photographed(rng, patches(rng, 23, 27, 4), colours(rng, 4), size=(1000, 750))


def frame_of(form, *, is_free):
    return next(frame for frame in boxes(form, Frame) if frame.is_free == is_free)


def opened(form):
    """The form with all its folds open."""
    for fold in boxes(form, Fold):
        fold.heading.is_open = True
    return form


def put(desk, form):
    press(form, PUT_IT)
    return desk.project.chart.to_rows()


# ---- PDF


def test_a_pdf_opens_at_its_first_chart(desk):
    form = load_form(desk)
    choose_file(form, "cushion.pdf", leaflet())
    (pages,) = boxes(form, PageChoice)
    assert (pages.pages, pages.value, len(pages.pictures)) == (3, 2, 3)
    assert "page 2 of 3 pages" in said(form)
    assert same_but_for_letters(put(desk, form), CUSHION)


def test_the_page_and_the_part_are_chosen(desk):
    form = load_form(desk)
    choose_file(form, "cushion.pdf", leaflet())
    boxes(form, PageChoice)[0].value = 3
    assert "more than one chart" in said(form)
    assert same_but_for_letters(put(desk, form), SLEEVE)
    frame_of(form, is_free=False).put(AROUND_POCKET)
    assert "a part of page 3 of 3 pages" in said(form)
    assert "more than one chart" not in said(form)
    assert same_but_for_letters(put(desk, form), POCKET)
    boxes(form, PageChoice)[0].value = 1
    assert "No regular grid was found" in said(form)
    press(form, PUT_IT)
    assert "Nothing is read yet" in said(form)


def test_which_chart_on_the_page_is_answered_at_its_place(desk):
    for answer, chart in (("Yes, the largest", SLEEVE), ("No, the one below", POCKET)):
        form = load_form(desk)
        choose_file(form, "cushion.pdf", leaflet(3))
        press(form, answer)
        assert "more than one chart" not in said(form)
        assert same_but_for_letters(put(desk, form), chart)


def test_pages_are_drawn_by_and_by():
    drawn = []

    def small(number):
        drawn.append(number)
        return np.full((30, 20, 3), 200, np.uint8)

    pages = PageChoice(60, small, 1)
    assert drawn == list(range(1, 25))
    pages._asked(pages, {"more": True}, [])
    assert (len(pages.pictures), drawn[-1]) == (48, 48)
    # The page that is chosen is among those that are drawn.
    assert len(PageChoice(60, small, 30).pictures) == 48


# ---- frames


def test_a_frame_around_nothing_else_is_the_whole():
    frame = part_frame(np.zeros((30, 40, 3), np.uint8), "the picture")
    assert frame.part is None
    frame.put((0.1, 0.2, 0.5, 0.8))
    assert frame.part == (0.1, 0.2, 0.5, 0.8)
    frame.value = [list(corner) for corner in WHOLE]
    assert frame.part is None


def test_a_chart_in_a_part_of_other_art(desk):
    """A chart beside a disc: by its frame it is found to be a chart."""
    y, x = np.mgrid[-150:150, -150:150]
    page = np.full((300, 700, 3), 255, np.uint8)
    page[:, :300][x**2 + y**2 < 140**2] = (31, 58, 95)
    cells = np.random.default_rng(1).integers(0, 2, (12, 16))
    drawn = np.array([(164, 36, 59), (217, 210, 195)], np.uint8)[cells].repeat(20, 0).repeat(20, 1)
    drawn[::20], drawn[:, ::20] = GRID_LINE, GRID_LINE
    page[30:270, 340:660] = drawn
    file = io.BytesIO()
    Image.fromarray(page).save(file, "PNG")
    form = load_form(desk)
    choose_file(form, "both.png", file.getvalue())
    frame_of(opened(form), is_free=False).put((0.45, 0.05, 0.98, 0.95))
    assert by_label(form)["it is"].value == GRID
    assert same_but_for_letters(put(desk, form), cells)


# ---- photographs


def test_a_photograph_of_a_chart_opens_by_its_corners(desk):
    form = load_form(desk)
    photo = photograph()
    choose_file(form, "page.jpg", photo.data)
    assert by_label(opened(form))["it is"].value == PRINTED
    assert "27 stitches × 23 rows" in said(form)
    assert "How many yarns does the chart have? Taken: 4." in said(form)
    press(form, "Yes, 4")
    assert "How many yarns" not in said(form)
    assert same_but_for_letters(put(desk, form), photo.cells)


def test_corners_put_elsewhere_are_read_at_once(desk):
    """Crossed corners are refused in words; those that are right are read, as told or counted."""
    form = load_form(desk)
    photo = photograph()
    choose_file(form, "page.jpg", photo.data)
    frame = frame_of(form, is_free=True)
    as_found = frame.value
    frame.value = [[0.5, 0.5], [0.4, 0.5], [0.4, 0.6], [0.5, 0.6]]
    assert "four corners must go round the chart" in said(form)
    frame.value = [list(corner) for corner in photo.corners]
    assert "27 stitches × 23 rows" in said(form)
    headings = [fold.heading.description for fold in boxes(form, Fold)]
    assert "Its corners: as you put them" in headings
    frame.value = as_found
    box = by_label(opened(form))
    box["stitches (0: counted from the grid)"].value = 9
    box["rows (0: counted from the grid)"].value = 23
    assert "9 stitches × 23 rows" in said(form)


# ---- cells in doubt


def blurred(seed=5):
    """A chart on a grid with three cells that lie between two yarns."""
    cells = np.random.default_rng(seed).integers(0, 2, (10, 12))
    pixels = np.array([(31, 58, 95), (217, 210, 195)], float)[cells]
    places = [(2, 3), (4, 8), (9, 0)]
    for place in places:
        pixels[place] = (121, 129, 140)
    picture = pixels.repeat(20, 0).repeat(20, 1).astype(np.uint8)
    picture[::20], picture[:, ::20] = GRID_LINE, GRID_LINE
    file = io.BytesIO()
    Image.fromarray(picture).save(file, "PNG")
    return file.getvalue(), places


def test_cells_in_doubt_are_settled_one_by_one(desk):
    data, places = blurred()
    form = load_form(desk)
    choose_file(form, "blurred.png", data)
    by_label(opened(form))["number of yarns (0: counted)"].value = 2
    fold = next(each for each in boxes(form, Fold) if "look at again" in each.heading.description)
    assert fold.heading.description == "To look at again: 3 cells"
    assert "1 of 3  · Row 1 stitch 12" in said(form)
    press(fold, "The next one")
    assert "2 of 3  · Row 6 stitch 4" in said(form)
    presses = [each for each in boxes(fold) if getattr(each, "description", "").startswith("Yes")]
    presses[0].click()
    assert fold.heading.description == "To look at again: 2 cells"
    # Behind the one that was settled stands the next; what is pressed there goes on the chart.
    assert "2 of 2  · Row 8 stitch 9" in said(form)
    before = np.array(put(desk, form))
    letter = before[places[0]]
    other = next(each for each in desk.project.chart.letters if each != letter)
    press(fold, desk.project.yarns[other].title)
    after = np.array(put(desk, form))
    assert np.argwhere(before != after).tolist() == [list(places[0])]
    assert fold.heading.description == "To look at again: 1 cell"


# ---- charts that travel in their picture


def test_a_picture_that_carries_its_chart_comes_back_exactly(desk):
    chart = Chart.from_rows([["W", "W", "St", "RS", "."], ["RS", "St", "W", "W", "W"]])
    looks = {"W": "#ffffff", "St": "#1f3a5f", "RS": "#a4243b"}
    yarns = {letter: Yarn(letter, colour=colour) for letter, colour in looks.items()}
    form = load_form(desk)
    choose_file(form, "chart.png", chart_png(chart, yarns, 0.8))
    assert by_label(opened(form))["it is"].value == CARRIED
    press(form, PUT_IT)
    assert desk.project.chart == chart


# ---- in a real browser


@pytest.fixture
def piece(lab):
    return own_piece(lab)


def choose_in(page, path):
    with page.expect_file_chooser(timeout=60_000) as chooser:
        page.get_by_role("button", name="Choose a file").click()
    chooser.value.set_files(path)


@pytest.mark.browser
def test_a_pdf_by_page_and_part_then_a_photograph_by_its_corners(lab, page, piece, tmp_path):
    lab.open(page, "1-chart-and-gauge.ipynb")
    lab.awake(page)
    look_at_a_pdf(page, piece)
    look_at_a_photograph(page, piece, tmp_path)


def look_at_a_pdf(page, piece):
    """Dropped on the form; the third page, a frame drawn around the lower chart; on the needles."""
    page.get_by_role("button", name="A chart from a file").click()
    form = page.locator(".plan-drop")
    form.wait_for()
    form.evaluate(
        """(form, bytes) => {
          const data = new DataTransfer();
          data.items.add(new File([new Uint8Array(bytes)], "leaflet.pdf"));
          for (const kind of ["dragover", "drop"])
            form.dispatchEvent(
              new DragEvent(kind, { dataTransfer: data, bubbles: true, cancelable: true }));
        }""",
        list(leaflet()),
    )
    page.get_by_text("30 stitches × 24 rows").first.wait_for(timeout=30_000)
    page.get_by_alt_text("page 3 of 3").click()
    page.get_by_text("24 stitches × 20 rows").first.wait_for(timeout=30_000)
    picture = page.get_by_alt_text("the page, with a frame")
    picture.scroll_into_view_if_needed()
    box = picture.bounding_box()
    left, top, right, bottom = AROUND_POCKET
    page.mouse.move(box["x"] + left * box["width"], box["y"] + top * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + right * box["width"], box["y"] + bottom * box["height"], steps=5)
    page.mouse.up()
    page.get_by_text("15 stitches × 12 rows").first.wait_for(timeout=30_000)
    page.get_by_role("button", name=PUT_IT).click()
    page.get_by_text("it is on the chart now").wait_for(timeout=30_000)
    assert same_but_for_letters(read_chart(piece / "chart.csv").to_rows(), POCKET)


def look_at_a_photograph(page, piece, tmp_path):
    """Corners by the keys, by numbers and by the pointer; what is read follows; on the needles."""
    photo = photograph()
    (tmp_path / "page.jpg").write_bytes(photo.data)
    choose_in(page, tmp_path / "page.jpg")
    page.get_by_text("27 stitches × 23 rows").first.wait_for(timeout=30_000)
    corner = page.get_by_role("button", name="bottom right corner")
    before = corner.get_attribute("aria-label")
    corner.focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Shift+ArrowUp")
    assert corner.get_attribute("aria-label") != before
    assert page.locator(".plan-free .plan-lens").is_visible()
    page.get_by_role("button", name="Its corners: as you put them").wait_for(timeout=30_000)
    # By its number, and by the pointer to where it was printed.
    exact = page.get_by_label("bottom right corner, from the left, in percent")
    exact.fill("99")
    exact.press("Enter")
    assert "99.0 % from the left" in corner.get_attribute("aria-label")
    stage = page.locator(".plan-stage.plan-free img")
    box, at = stage.bounding_box(), corner.bounding_box()
    x, y = photo.corners[2]
    page.mouse.move(at["x"] + at["width"] / 2, at["y"] + at["height"] / 2)
    page.mouse.down()
    page.mouse.move(box["x"] + x * box["width"], box["y"] + y * box["height"], steps=4)
    page.mouse.up()
    page.get_by_role("button", name="Yes, 4").click(timeout=30_000)
    page.get_by_text("How many yarns").wait_for(state="detached", timeout=30_000)
    page.get_by_role("button", name=PUT_IT).click()
    page.get_by_text("it is on the chart now").wait_for(timeout=30_000)
    assert same_but_for_letters(read_chart(piece / "chart.csv").to_rows(), photo.cells)
