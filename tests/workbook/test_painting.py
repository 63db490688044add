"""Painting a chart, in two of its three layers: Python's messages, and the browser's side alone.

The browser's side gets a made-up model. The third layer, real JupyterLab, is in test_browser.py.
Lines and fills are compared with scikit-image, fills round a tube with SciPy, parts with NumPy.
"""

import shutil
from itertools import pairwise

import numpy as np
import pytest

from planner import Chart, Construction, PlanError, Yarn, open_project
from planner.folder import read_chart, read_yarns
from planner.workbook import Desk, Painting, headline, pack, unpack
from planner.workbook.painting import NO_STITCH_BYTE
from tests.helpers.forms import work_rows
from tests.helpers.painting_page import COLOURS, YARNS, PaintingPage

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


def test_a_stroke_made_in_another_piece_is_refused(demo_copy, tmp_path):
    """The desk went on to another piece while the stroke was on its way."""
    desk = desk_of(demo_copy)
    painting = Painting(desk)
    shutil.copytree(demo_copy, tmp_path / "scarf")
    desk.go_to(tmp_path / "scarf")
    assert painting.sitting == 1
    stroke(painting, ["NNTT", "NNTT", "KNNN"])
    assert "Another piece was opened meanwhile" in painting.trouble
    assert unpack(painting.grid, painting.letters) == desk.project.chart
    painting.painted_in = 1
    stroke(painting, ["NNTT", "NNTT", "KNNN"])
    assert painting.trouble == ""
    assert read_chart(tmp_path / "scarf" / "chart.csv") == desk.project.chart
    assert read_chart(demo_copy / "chart.csv").to_rows()[-1] == ["N"] * 4


def test_a_tube_is_known(demo_copy):
    desk = desk_of(demo_copy)
    painting = Painting(desk)
    assert not painting.tube
    desk.change(how=Construction(worked="turned"))
    assert painting.tube


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
def test_round_a_tube_an_area_is_filled_as_scipy_labels_it(alone, page):
    """Independent: scipy.ndimage.label of the chart three times side by side (BSD-3-Clause)."""
    from scipy.ndimage import label

    alone(["A"])
    rng = np.random.default_rng(4)
    for _ in range(60):
        image = rng.integers(0, 2, (rng.integers(1, 9), rng.integers(1, 12))).astype(np.uint8)
        rows, columns = image.shape
        y, x, worked = (int(rng.integers(most)) for most in (rows, columns, rows))
        ours = page.evaluate(
            """([cells, rows, columns, x, y, from]) => {
                const filled = new Uint8Array(cells);
                module.fill(filled, rows, columns, x, y, 7, { from, tube: true });
                return [...filled];
            }""",
            [image.ravel().tolist(), rows, columns, x, y, worked],
        )
        # An area may run round any number of times, once up and once down for each row at most.
        turns = 2 * rows + 1
        free = np.tile(image, turns) == image[y, x]
        free[:worked] = False
        labels, _ = label(free)
        own = labels[y, x + columns * rows]
        area = (labels == own).reshape(rows, turns, columns).any(axis=1) & (own > 0)
        assert np.array_equal(np.array(ours).reshape(rows, columns), np.where(area, 7, image))


@pytest.mark.browser
def test_parts_mirrors_and_sizes_as_numpy_has_them(alone, page):
    """Independent: NumPy's slices, flips, and pad with the values at the edge (BSD-3-Clause)."""
    alone(["A"])
    rng = np.random.default_rng(8)
    work = """([chart, ends, sides]) => {
        chart.cells = new Uint8Array(chart.cells);
        const part = module.partOf(chart, module.block(...ends));
        const parts = [part, module.mirrored(part), module.mirrored(part, { upsideDown: true })];
        const charts = [...parts, module.reshape(chart, sides)];
        const written = charts.map(({ rows, columns, cells }) => [rows, columns, [...cells]]);
        return [written, module.groundOf(part)];
    }"""
    for _ in range(60):
        image = rng.integers(0, 5, rng.integers(1, 9, 2))
        rows, columns = image.shape
        (x0, x1), (y0, y1) = (rng.integers(0, most, 2).tolist() for most in (columns, rows))
        bottom, top = rng.integers(-(rows - 1) // 2, 4, 2).tolist()
        left, right = rng.integers(-(columns - 1) // 2, 4, 2).tolist()
        chart = {"rows": rows, "columns": columns, "cells": image.ravel().tolist()}
        sides = {"bottom": bottom, "top": top, "left": left, "right": right}
        ours, ground = page.evaluate(work, [chart, [x0, y0, x1, y1], sides])
        part = image[min(y0, y1) : max(y0, y1) + 1, min(x0, x1) : max(x0, x1) + 1]
        more = [[max(0, bottom), max(0, top)], [max(0, left), max(0, right)]]
        less = (slice(max(0, -bottom), rows - max(0, -top)),
                slice(max(0, -left), columns - max(0, -right)))  # fmt: skip
        want = [part, part[:, ::-1], part[::-1], np.pad(image[less], more, mode="edge")]
        is_rim = np.pad(np.zeros(np.maximum(np.array(part.shape) - 2, 0), bool), 1,
                        constant_values=True)[: part.shape[0], : part.shape[1]]  # fmt: skip
        assert ground == np.bincount(part[is_rim]).argmax()
        for (high, wide, cells), expected in zip(ours, want, strict=True):
            assert np.array_equal(np.array(cells).reshape(high, wide), expected)


@pytest.mark.browser
def test_lines_and_blocks_are_seen_before_they_are_put_in(alone, page):
    on = alone(["AAAA", "AAAA", "AAAA"])
    on.choose("B yarn")
    on.press_button("Straight line")
    page.mouse.move(*on.middle(0, 0, 3, 4))
    page.mouse.down()
    page.mouse.move(*on.middle(3, 2, 3, 4))
    page.mouse.move(*on.middle(2, 2, 3, 4))
    assert on.rows == ["AAAA", "AAAA", "AAAA"]
    assert "3 stitches × 3 rows" in on.text
    page.mouse.up()
    assert on.rows == ["AABA", "ABAA", "BAAA"]
    on.press_button("Block")
    on.draw((3, 2), (2, 1))
    assert on.rows == ["AABB", "ABBB", "BAAA"]
    on.press_button("Undo", "Undo")
    assert on.rows == ["AAAA", "AAAA", "AAAA"]


@pytest.mark.browser
def test_a_part_is_copied_mirrored_and_set_down(alone, page):
    on = alone(["AAAAAA", "AAAAAA", "BBAAAA", "BCAAAA"])
    on.press_button("Copy a part")
    on.draw((1, 1), (0, 0))
    assert "2 stitches × 2 rows, copied" in on.text
    on.press_button("Mirror left–right")
    on.draw((5, 1), (5, 1))  # its lower left stitch is one to the left and one below
    assert on.rows == ["AAAAAA", "AAAAAA", "BBAABB", "BCAACB"]
    on.press_button("Mirror up–down")
    on.draw((1, 3), (0, 3))  # at the edge it stays whole
    assert on.rows == ["CBAAAA", "BBAAAA", "BBAABB", "BCAACB"]
    on.press_button("Let go of it")
    on.draw((4, 0), (4, 0))
    assert "1 stitch × 1 row, copied" in on.text
    on.press_button("Undo", "Undo")
    assert on.rows == ["AAAAAA", "AAAAAA", "BBAAAA", "BCAAAA"]


@pytest.mark.browser
def test_a_part_that_is_carried_says_how_it_is_mirrored(alone, page):
    on = alone(["AAAAAA", "AAAAAA", "BBAAAA", "BCAAAA"])
    on.press_button("Copy a part")
    on.draw((1, 1), (0, 0))
    mirror = page.get_by_role("button", name="Mirror left–right")
    assert "2 stitches × 2 rows, copied." in on.text
    on.press_button("Mirror left–right")
    assert mirror.get_attribute("aria-pressed") == "true"
    assert "2 stitches × 2 rows, mirrored left–right." in on.text
    on.press_button("Mirror up–down")
    assert ", mirrored left–right and up–down." in on.text
    on.press_button("Mirror left–right", "Mirror up–down")
    assert mirror.get_attribute("aria-pressed") == "false"
    assert "2 stitches × 2 rows, copied." in on.text


@pytest.mark.browser
def test_what_is_undone_is_not_seen_any_more(alone, page):
    """The part that is still held shows again when it is moved, and not before."""
    on = alone(["AAAAAA", "AAAAAA", "BBAAAA", "BBAAAA"])
    on.press_button("Copy a part")
    on.draw((1, 1), (0, 0))
    on.draw((4, 2), (4, 2))
    assert on.rows[:2] == ["AAAAAA", "AAABBA"]
    assert on.colour_at(4, 2) == COLOURS["B"]
    on.press_button("Undo")
    assert on.rows[:2] == ["AAAAAA", "AAAAAA"]
    assert on.colour_at(4, 2) == COLOURS["A"]
    # Enter sets nothing down that is not seen.
    on.press("Enter")
    assert on.rows[:2] == ["AAAAAA", "AAAAAA"]
    assert on.colour_at(4, 2) == COLOURS["B"]
    on.press("Enter")
    assert on.rows[:2] == ["AAAAAA", "AAABBA"]


@pytest.mark.browser
def test_a_yarn_is_added_beside_the_others(alone, page):
    on = alone(["AA"])
    page.get_by_text("Another yarn").click()
    letter = page.get_by_label("letter of the new yarn")
    page.wait_for_function("document.querySelector('.another input').value")
    assert letter.input_value() == "C"  # A and B are taken
    page.get_by_label("name of the new yarn").fill("Oat")
    page.get_by_label("colour of the new yarn", exact=True).fill("cherry red")
    on.press_button("Add it")
    sent = page.evaluate("window.sent")
    assert sent == {"yarn": {"letter": "C", "name": "Oat", "colour": "cherry red"}}
    page.evaluate("told({refused: 'no colour is called so'})")
    assert "no colour is called so" in on.text
    # What is refused is said until the next thing is done.
    on.press_button("Block")
    assert "no colour is called so" not in on.text
    on.press_button("Add it")
    oat = {"letter": "C", "title": "C Oat", "colour": "#d0c0a0", "ink": "black"}
    page.evaluate("yarns => model.set('yarns', yarns)", [*YARNS, oat])
    page.evaluate("told({added: 'C'})")
    assert "Chosen: C Oat." in on.text
    # It stays under the pointer, ready for one more.
    assert page.get_by_role("button", name="Add it").is_visible()
    assert letter.input_value() == "D"
    assert "✓ C Oat is added, and chosen." in on.text


def test_a_yarn_from_the_palette_is_put_down_or_refused_in_words(demo_copy):
    painting = Painting(desk_of(demo_copy))
    told = []
    painting.send = told.append
    for yarn, words in (
        ({"letter": "", "name": "Oat"}, "letter is missing"),
        ({"letter": "N", "name": "Oat"}, "There is a yarn N already"),
        ({"letter": "A", "name": "Oat", "colour": "cherry red"}, '"cherry red" is no colour'),
    ):
        painting._asked_for_yarn(None, {"yarn": yarn}, [])
        assert words in told[-1]["refused"]
    for letter, name, colour, shown in (
        ("A", "Cherry red", "", "#ff0000"),
        ("B", "Oat", "Sea green", "#2e8b57"),
        ("C", "Fog", "d0d0e0", "#d0d0e0"),
    ):
        typed = {"letter": letter, "name": name, "colour": colour}
        painting._asked_for_yarn(None, {"yarn": typed}, [])
        assert told[-1] == {"added": letter}
        assert read_yarns(demo_copy / "yarns.csv")[letter].colour == shown
    assert "A" in painting.letters


@pytest.mark.browser
def test_a_motif_is_set_down_without_its_ground(alone, page):
    on = alone(["AAACCC", "ABACCC", "AAACCC"])
    on.press_button("Copy a part")
    on.draw((0, 0), (2, 2))
    on.press_button("Without ground")
    on.draw((4, 1), (4, 1))
    assert on.rows == ["AAACCC", "ABACBC", "AAACCC"]
    on.press_button("Without ground")
    on.draw((4, 1), (4, 1))
    assert on.rows == ["AAAAAA", "ABAABA", "AAAAAA"]


@pytest.mark.browser
def test_what_goes_from_end_to_end_by_keyboard_alone(alone, page):
    on = alone(["AAAA", "AAAA", "AAAA"])
    on.press("b", "3", "Enter", "ArrowLeft", "ArrowUp", "Enter")
    assert on.rows == ["AAAA", "AABB", "AABB"]
    on.press("Enter", "PageUp", "Escape", "2", "Home", "Shift+ArrowUp", "Enter")
    assert on.rows == ["BAAA", "AABB", "AABB"]
    on.press("5", "Shift+PageDown", "Shift+ArrowRight", "Enter")
    on.press("ArrowRight", "ArrowRight", "Enter", "Escape")
    assert on.rows == ["BABA", "AAAA", "AAAA"]
    assert page.get_by_role("button", name="Let go of it").is_disabled()


@pytest.mark.browser
def test_one_finger_draws_and_two_move_the_chart(browser):
    context = browser.new_context(has_touch=True, viewport={"width": 1000, "height": 800})
    page = context.new_page()
    on = PaintingPage(page, ["A" * 40] * 30)
    on.choose("B yarn")
    on.press_button("Block", *["Larger"] * 6)
    fingers = context.new_cdp_session(page)

    def touch(kind, *points):
        places = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(points)]
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": places})

    box = on.cloth.bounding_box()
    x, y = box["x"] + 200, box["y"] + 200
    touch("touchStart", (x, y))
    touch("touchMove", (x + 5, y + 80))
    touch("touchEnd")
    drawn = "".join(on.rows).count("B")
    assert drawn >= 2
    before = on.cloth.evaluate("(each) => each.scrollTop")
    touch("touchStart", (x, y))
    touch("touchStart", (x, y), (x + 60, y))
    touch("touchMove", (x, y - 50), (x + 60, y - 50))
    touch("touchEnd")
    assert on.cloth.evaluate("(each) => each.scrollTop") > before + 20
    assert "".join(on.rows).count("B") == drawn
    context.close()


@pytest.mark.browser
def test_in_rounds_an_area_goes_round(alone, page):
    on = alone(["ABA", "BBB", "AAA"], tube=True)
    on.choose("Ab yarn")
    on.press_button("Whole area")
    assert "round the tube" in on.text
    on.draw((0, 2), (0, 2))
    assert on.rows == ["CBC", "BBB", "AAA"]


@pytest.mark.browser
def test_another_piece_begins_anew(alone, page):
    """What was painted in the piece before cannot be undone in the other one."""
    on = alone(["AB"])
    on.press("b", "Enter", "5", "Enter", "Enter")
    other = {"yarns": YARNS[:1], "headline": "1 strand", "sitting": 1}
    page.evaluate("(o) => answer({...o, grid: bytes([0, 1, 0, 3, 0, 0, 0])})", other)
    assert on.rows == ["AAA"]
    assert "Size: 3 stitches × 1 row" in on.text
    assert page.get_by_role("button", name="Undo").is_disabled()
    assert page.get_by_role("button", name="Let go of it").is_disabled()
    on.press("1", ".", "Enter")
    assert page.evaluate("model.get('painted_in')") == 1


@pytest.mark.browser
def test_a_button_keeps_the_focus_when_it_is_pressed(alone, page):
    alone(["AB"])
    chip = page.get_by_role("button", name="B yarn", exact=True)
    chip.focus()
    page.keyboard.press("Enter")
    assert chip.get_attribute("aria-pressed") == "true"
    assert page.evaluate("document.activeElement.title") == "B yarn"


@pytest.mark.browser
@pytest.mark.parametrize(("columns", "rows"), [(72, 96), (1000, 40), (30, 2000)])
def test_the_whole_chart_its_tools_and_its_headline_fit_a_screen(alone, page, columns, rows):
    page.set_viewport_size({"width": 1060, "height": 900})
    on = alone(["A" * columns] * rows, headline="3 strands")
    high, wide = page.evaluate(
        "(({offsetHeight, offsetWidth}) => [offsetHeight, offsetWidth])(document.querySelector("
        "'.painting'))"
    )
    cloth = on.cloth.evaluate("(each) => [each.scrollHeight - each.clientHeight,"
                              " each.scrollWidth - each.clientWidth]")  # fmt: skip
    assert high <= 660
    assert wide <= 1060
    assert max(cloth) <= 1


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
    on.press("Home", "4", "Enter", "1")  # fills the area
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
    """New ones go on in the yarns beside them."""
    on = alone(["AB", "BA"])
    on.reshape("Add", 1, "stitches at the left")
    assert on.rows == ["AAB", "BBA"]
    on.reshape("Add", 2, "rows at the bottom")
    assert on.rows == ["AAB", "BBA", "BBA", "BBA"]
    on.reshape("Take away", 1, "rows at the top")
    on.reshape("Take away", 2, "stitches at the right")
    assert on.rows == ["B", "B", "B"]
    on.reshape("Take away", 1, "stitches at the right")
    assert "fewer can go" in page.get_by_role("alert").inner_text()
    on.reshape("Add", 1, "rows at the top")
    assert "Size: 1 stitch × 4 rows" in on.text
    on.press_button(*["Undo"] * 5)
    assert on.rows == ["AB", "BA"]


@pytest.mark.browser
def test_worked_rows_cannot_be_painted(alone, page):
    on = alone(["AAA", "AAA", "AAA"], worked=1)
    on.choose("B yarn")
    on.draw((1, 0), (1, 2))
    assert on.rows == ["ABA", "ABA", "AAA"]
    on.press_button("Block")
    on.draw((0, 0), (0, 1))
    assert on.rows == ["ABA", "BBA", "AAA"]
    assert "Rows 1 to 1 are worked" in page.get_by_role("alert").inner_text()
    on.press_button("Copy a part")
    on.draw((0, 0), (0, 1))
    on.draw((2, 1), (2, 1))
    assert on.rows == ["ABA", "BBB", "AAA"]
    on.press_button("Whole area")
    on.draw((0, 0), (0, 0))
    on.press("Enter")
    assert on.rows[2] == "AAA"
    on.reshape("Add", 1, "rows at the bottom")
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
