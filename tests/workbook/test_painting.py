"""Painting a chart, in two of its three layers: Python's messages, and the browser's side alone.

The browser's side gets a made-up model. The third layer, real JupyterLab, is in test_browser.py.
Lines and fills are compared with scikit-image (BSD-3-Clause).
"""

from itertools import pairwise

import numpy as np
import pytest

from planner import Chart, PlanError, Yarn, open_project
from planner.folder import read_chart
from planner.workbook import Desk, Painting, headline, pack, unpack
from planner.workbook.painting import NO_STITCH_BYTE
from tests.helpers.forms import work_rows
from tests.helpers.painting_page import PaintingPage

# ---- Python's side


def stroke(painting, cells, letters=None):
    """What the browser sends after a stroke: cells as rows of letters, top row first."""
    letters = letters or painting.letters
    places = [
        [NO_STITCH_BYTE if c == "." else letters.index(c) for c in row] for row in reversed(cells)
    ]
    grid = (
        len(cells).to_bytes(2) + len(cells[0]).to_bytes(2) + bytes(b for row in places for b in row)
    )
    painting.set_state({"grid": memoryview(grid), "stroke": painting.stroke + 1})


def desk_of(demo_copy, rows=("NNTT", "NNTT", "NNNN")):
    (demo_copy / "chart.csv").write_text("\n".join(rows) + "\n")
    return Desk(open_project(demo_copy))


def test_pack_and_unpack_are_inverse():
    chart = Chart.from_rows(["A.B", "ABB"])
    grid = pack(chart, ["B", "X", "A"])
    assert grid == bytes([0, 2, 0, 3, 2, 0, 0, 2, 255, 0])
    assert unpack(grid, ["B", "X", "A"]) == chart


def test_a_stroke_is_planned_and_the_headline_follows(demo_copy):
    desk = desk_of(demo_copy)
    painting = Painting(desk)
    assert painting.headline == headline(desk.plan)
    assert painting.headline.startswith("2 strands · 4 ends · at most 2 at once")
    stroke(painting, ["NNTT", "NNTT", "KNNN"])
    assert desk.project.chart == Chart.from_rows(["NNTT", "NNTT", "KNNN"])
    assert read_chart(demo_copy / "chart.csv") == desk.project.chart
    assert painting.headline.startswith("3 strands · 6 ends")
    assert (painting.answered, painting.trouble) == (1, "")


def test_what_cannot_be_planned_is_said_and_stays_painted(demo_copy):
    desk = desk_of(demo_copy)
    painting, before = Painting(desk), desk.project.chart
    stroke(painting, ["NNTT", "....", "NNNN"])
    painted = painting.grid
    assert "row 2 has no worked stitch" in painting.trouble
    assert painting.answered == 1
    painting.set_state({"show_strands": True})  # something else happens meanwhile
    desk.change(units="in")
    assert painting.grid == painted
    assert desk.project.chart == before
    assert "row 2 has no worked stitch" in painting.trouble
    assert read_chart(demo_copy / "chart.csv") == before
    stroke(painting, ["NNTT", "N...", "NNNN"])
    assert painting.trouble == ""
    assert desk.project.chart.to_rows()[1] == ["N", ".", ".", "."]


def test_kept_and_read_again(demo_copy):
    painting = Painting(desk_of(demo_copy))
    stroke(painting, ["YYYY", "NN.T", "NNNN"])
    assert (demo_copy / "chart.csv").read_text() == "Y,Y,Y,Y\nN,N,.,T\nN,N,N,N\n"


def test_a_chart_changed_by_somebody_else_is_not_overwritten(demo_copy):
    """Strokes go into the chart that is there; on one of another size nothing is painted."""
    painting = Painting(desk_of(demo_copy))
    (demo_copy / "chart.csv").write_text("NNTT\nNNTT\nNNNR\n")
    stroke(painting, ["YNTT", "NNTT", "NNNN"])
    assert read_chart(demo_copy / "chart.csv") == Chart.from_rows(["YNTT", "NNTT", "NNNR"])
    assert unpack(painting.grid, painting.letters) == read_chart(demo_copy / "chart.csv")
    (demo_copy / "chart.csv").write_text("RRRR\n")
    stroke(painting, ["YYTT", "NNTT", "NNNR"])
    assert "changed elsewhere; it has 4 stitches × 1 rows" in painting.trouble
    assert (demo_copy / "chart.csv").read_text() == "RRRR\n"


def test_worked_rows_stay(demo_copy):
    desk = desk_of(demo_copy)
    work_rows(desk)
    painting = Painting(desk)
    assert painting.worked == 1
    stroke(painting, ["NNTT", "NNTT", "KNNN"])
    assert "worked and stay as they are" in painting.trouble
    stroke(painting, ["NNTT", "KNTT", "NNNN"])
    assert painting.trouble == ""
    assert desk.project.chart.to_rows()[1] == ["K", "N", "T", "T"]


def test_another_chart_on_the_desk_is_shown(demo_copy):
    desk = desk_of(demo_copy)
    painting = Painting(desk)
    desk.change(chart=Chart.from_rows(["NQ"]))  # Q is not among the yarns
    assert unpack(painting.grid, painting.letters) == desk.project.chart
    before = painting.letters
    desk.change(chart=Chart.from_rows(["AN"]))
    assert (
        painting.letters[: len(before)] == before
    )  # a yarn keeps its place, so that steps back stay true


def test_a_step_back_brings_a_yarn_back_in_its_colour(demo_copy):
    desk = desk_of(demo_copy)
    painting = Painting(desk)
    desk.change(
        chart=Chart.from_rows(["Q"]),
        yarns=dict(desk.project.yarns) | {"Q": Yarn("Q", colour="#123456")},
    )
    desk.change(
        chart=Chart.from_rows(["N"]),
        yarns={y: yarn for y, yarn in desk.project.yarns.items() if y != "Q"},
    )
    stroke(painting, ["Q"])  # as undo sends it
    assert desk.project.yarns["Q"].colour == "#123456"


def test_strands_are_sent_when_they_are_wanted(demo_copy):
    desk = desk_of(demo_copy)
    painting = Painting(desk)
    assert painting.strand_of == b""
    painting.show_strands = True
    strands = np.frombuffer(painting.strand_of, "<u2").reshape(3, 4)
    assert strands.tolist() == [[0, 0, 0, 0], [0, 0, 1, 1], [0, 0, 1, 1]]
    assert painting.strand_labels == ["N1", "T1"]
    assert [painting.letters[y] for y in painting.strand_yarn] == ["N", "T"]


def test_a_saved_notebook_shows_the_chart(demo_copy):
    data = Painting(desk_of(demo_copy))._repr_mimebundle_()
    assert data["image/png"].startswith("iVBOR")
    assert "4 stitches × 3 rows" in data["text/plain"]


def test_more_yarns_than_can_be_painted_are_refused(demo_copy, monkeypatch):
    monkeypatch.setattr("planner.workbook.painting.MOST_YARNS_TO_PAINT_WITH", 5)
    with pytest.raises(PlanError, match="has 6 yarns; one to paint on has at most 5"):
        Painting(desk_of(demo_copy))


# ---- the browser's side, alone


@pytest.fixture
def alone(page):
    def open_page(rows, **traits):
        return PaintingPage(page, rows, **traits)

    return open_page


@pytest.mark.browser
def test_lines_and_fills_as_scikit_image_has_them(alone, page):
    """Independent: skimage.draw.line and skimage.segmentation.flood_fill, BSD-3-Clause."""
    from skimage.draw import line
    from skimage.segmentation import flood_fill

    alone(["A"])
    rng = np.random.default_rng(11)
    ends = rng.integers(0, 60, (300, 4)).tolist()
    ours = page.evaluate("(ends) => ends.map((e) => module.line(...e))", ends)
    for (x0, y0, x1, y1), cells in zip(ends, ours, strict=True):
        rows, columns = line(y0, x0, y1, x1)
        assert cells == np.stack([columns, rows], 1).tolist()
    for _ in range(40):
        image = rng.integers(0, 2, (17, 23)).astype(np.uint8)
        y, x = int(rng.integers(17)), int(rng.integers(23))
        ours = page.evaluate(
            """([cells, x, y]) => {
                const filled = new Uint8Array(cells);
                module.fill(filled, 17, 23, x, y, 7);
                return [...filled];
            }""",
            [image.ravel().tolist(), x, y],
        )
        assert np.array_equal(
            np.array(ours).reshape(17, 23), flood_fill(image, (y, x), 7, connectivity=1)
        )


@pytest.mark.browser
def test_a_stroke_leaves_no_gap_and_is_one_step(alone, page):
    on = alone(["A" * 30] * 20)
    on.choose("B yarn")
    page.mouse.move(*on.middle(2, 3, 20, 30))
    page.mouse.down()
    page.mouse.move(*on.middle(25, 14, 20, 30))  # one jump: the samples are joined
    page.mouse.up()
    from skimage.draw import line

    want = np.full((20, 30), "A")
    want[line(3, 2, 14, 25)] = "B"
    assert on.rows == ["".join(row) for row in want[::-1].tolist()]
    assert page.evaluate("saved") == 1
    page.get_by_role("button", name="Undo").click()
    assert on.rows == ["A" * 30] * 20
    page.get_by_role("button", name="Do again").click()
    assert sum(row.count("B") for row in on.rows) == 24


@pytest.mark.browser
def test_by_keyboard_alone(alone, page):
    on = alone(["AAAA", "AAAA", "AAAA"])
    on.cloth.focus()  # the pointer of work stands on row 1, stitch 1, at the right
    for key in ("b", "Space", "ArrowUp", "Shift+ArrowLeft", "Delete"):
        page.keyboard.press(key)
    assert on.rows == ["AAAA", "AA.B", "AAAB"]
    page.keyboard.press("Home")
    page.keyboard.press("Control+Enter")
    assert on.rows == ["BBBB", "BB.B", "BBBB"]
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+z")
    assert on.rows == ["AAAA", "AABB", "AAAB"]
    page.keyboard.press("Control+y")
    page.keyboard.press("PageUp")
    page.keyboard.type("ab")  # the yarn Ab has a name of two letters
    page.keyboard.press("Enter")
    page.keyboard.press(".")
    page.keyboard.press("Shift+End")
    assert on.rows == ["....", "AA.B", "AAAB"]
    page.keyboard.press("Control+z")
    assert on.rows == ["CAAA", "AA.B", "AAAB"]
    assert (
        "Row 3, which begins at the right; stitch 1 from the right: A yarn"
        in on.cloth.get_attribute("aria-label")
    )
    for key in ("+", "+", "0", "-"):
        page.keyboard.press(key)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.getAttribute('role')") != "application"


@pytest.mark.browser
def test_rows_and_stitches_come_and_go_at_each_side(alone, page):
    on = alone(["AB", "BA"])
    page.get_by_text("More or fewer rows and stitches").click()

    def do(what, count, where):
        page.get_by_label("add or take away").select_option(label=what)
        page.get_by_label("how many").fill(str(count))
        page.get_by_label("where").select_option(label=where)
        page.get_by_role("button", name="Do it").click()

    on.choose(". no stitch")
    do("Add", 1, "stitches at the left")
    assert on.rows == [".AB", ".BA"]
    on.choose("A yarn")
    do("Add", 2, "rows at the bottom")
    assert on.rows == [".AB", ".BA", "AAA", "AAA"]
    do("Take away", 1, "rows at the top")
    do("Take away", 2, "stitches at the right")
    assert on.rows == [".", "A", "A"]
    do("Take away", 1, "stitches at the right")
    assert "fewer can go" in page.get_by_role("alert").inner_text()
    do("Add", 1, "rows at the top")
    for _ in range(5):
        page.get_by_role("button", name="Undo").click()
    assert on.rows == ["AB", "BA"]


@pytest.mark.browser
def test_worked_rows_cannot_be_painted(alone, page):
    on = alone(["AAA", "AAA", "AAA"], worked=1)
    on.choose("B yarn")
    page.mouse.move(*on.middle(1, 0, 3, 3))
    page.mouse.down()
    page.mouse.move(*on.middle(1, 2, 3, 3))
    page.mouse.up()
    assert on.rows == ["ABA", "ABA", "AAA"]
    on.cloth.focus()
    page.keyboard.press("Control+Enter")
    page.get_by_role("button", name="Fill an area").click()
    page.mouse.click(*on.middle(0, 1, 3, 3))
    assert on.rows[2] == "AAA"
    page.get_by_text("More or fewer rows and stitches").click()
    page.get_by_label("where").select_option(label="rows at the bottom")
    page.get_by_role("button", name="Do it").click()
    assert "only rows at the top" in page.get_by_role("alert").inner_text()


@pytest.mark.browser
def test_text_is_never_markup(alone, page):
    nasty = "<img src=x onerror='window.ran = true'>"
    alone(
        ["A"],
        yarns=[{"letter": "A", "title": nasty, "colour": "#112233", "ink": "white"}],
        headline=nasty,
        trouble=nasty,
    )
    assert nasty in page.get_by_role("group", name="Yarn to put in").inner_text()
    assert page.locator("img").count() == 0
    assert page.evaluate("window.ran") is None


@pytest.mark.browser
def test_a_loaded_chart_can_be_undone_and_an_echo_is_no_step(alone, page):
    on = alone(["AB"])
    page.evaluate("foreign([0, 1, 0, 2, 0, 1])")
    assert page.get_by_role("button", name="Undo").is_disabled()
    page.evaluate("foreign([0, 1, 0, 3, 1, 1, 1])")
    assert on.rows == ["BBB"]
    page.get_by_role("button", name="Undo").click()
    assert on.rows == ["AB"]


@pytest.mark.browser
def test_no_stitch_is_lost_at_200_by_300(alone, page):
    """A stroke of 200 samples over a large chart, each of its cells put in."""
    on = alone(["A" * 200] * 300, aspect=0.8)
    on.choose("B yarn")
    rng = np.random.default_rng(3)
    points = np.array([100, 120]) + np.cumsum(rng.integers(-6, 7, (200, 2)), axis=0)
    points = np.clip(points, (1, 1), (198, 298)).tolist()
    from skimage.draw import line

    want = np.zeros((300, 200), bool)
    for (x0, y0), (x1, y1) in pairwise(points):
        want[line(y0, x0, y1, x1)] = True
    page.mouse.move(*on.middle(*points[0], 300, 200))
    page.mouse.down()
    for point in points[1:]:
        page.mouse.move(*on.middle(*point, 300, 200))
    page.mouse.up()
    got = np.array([[c == "B" for c in row] for row in on.rows])[::-1]
    assert np.array_equal(got, want)
