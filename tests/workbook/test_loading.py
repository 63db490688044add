"""The form that reads a file, driven as a browser drives it."""

import base64
import io
import re

import numpy as np
import pytest
from PIL import Image

from planner import Chart, Gauge, Yarn, open_project
from planner.charts import GRID, Loaded
from planner.folder import chosen_piece
from planner.workbook import Fold, load_form, open_desk, preview_html
from planner.workbook.loading import ONTO
from planner.workbook.pieces import go_to_piece, start_new_piece
from planner.workbook.read_yarns import yarns_with
from planner.workbook.readers import IN_HAND
from tests.helpers.folders import contents
from tests.helpers.forms import (
    boxes,
    by_label,
    press,
    said,
    said_html,
    small,
    work_rows,
)
from tests.helpers.forms import choose_file as only_choose_file

# How an encrypted or an old workbook begins (from memory).
OLE = bytes.fromhex("d0cf11e0a1b11ae1")


def png(pixels, scale=10) -> bytes:
    out = io.BytesIO()
    Image.fromarray(np.array(pixels, np.uint8).repeat(scale, 0).repeat(scale, 1)).save(out, "PNG")
    return out.getvalue()


PUT_IT = "Make it the chart of this piece"
NAVY, SAND, RED = (31, 58, 95), (217, 210, 195), (255, 32, 32)


def choose_file(form, name, content):
    """Choose a file, and open the folds with its choices."""
    only_choose_file(form, name, content)
    open_folds(form)


def open_folds(form):
    for fold in boxes(form, Fold):
        fold.heading.is_open = True


def headings(form):
    """What the folds say, from the top."""
    return [fold.heading.description for fold in boxes(form, Fold)]


def test_flat_art_in_two_colours(desk):
    form = load_form(desk)
    pixels = [[RED, RED, SAND], [SAND, RED, SAND]]
    choose_file(form, "two.png", png(pixels, scale=30))
    box = by_label(form)
    box["or stitches across"].value, box["rows (0: as its shape asks)"].value = 3, 2
    assert "3 stitches × 2 rows" in said(form)
    assert "most at once" in said(form)
    press(form, PUT_IT)
    rows = desk.project.chart.to_rows()
    red, sand = rows[0][0], rows[0][2]
    assert rows == [[red, red, sand], [sand, red, sand]]
    assert {desk.project.yarns[red].colour, desk.project.yarns[sand].colour} == {
        "#ff2020",
        "#d9d2c3",
    }
    assert not {red, sand} & set("NTKWRY")  # no yarn of the piece looks like these


def test_a_photograph_in_the_yarns_of_the_piece(desk):
    form = load_form(desk)
    grey = np.linspace(0, 255, 40, dtype=np.uint8)
    choose_file(form, "slope.png", png(np.stack([np.tile(grey, (30, 1))] * 3, -1), scale=4))
    box = by_label(form)
    box["in"].value = IN_HAND
    box["or stitches across"].value = 20
    press(form, PUT_IT)
    assert set(desk.project.chart.letters) <= set("NTKWRY")
    assert desk.project.chart.columns == 20


def test_yarns_of_a_picture_put_aside_do_not_pile_up(desk):
    for _ in range(3):
        form = load_form(desk)
        choose_file(form, "two.png", png([[RED, SAND]], scale=50))
        press(form, PUT_IT)
    assert desk.project.yarns.keys() == set("NTKWRY") | {"A", "B"}


def test_width_and_stitches_go_together(desk):
    form = load_form(desk)
    choose_file(form, "two.png", png([[NAVY, SAND]], scale=50))
    box = by_label(form)
    box["width (cm)"].value = 20
    # It is read for a new piece, whose gauge is not counted yet.
    assert box["or stitches across"].value == round(20 / Gauge().stitch_cm) == 44
    box["or stitches across"].value = 10
    assert box["width (cm)"].value == pytest.approx(10 * Gauge().stitch_cm, abs=0.05)


def test_the_width_of_a_picture_in_inches(desk):
    """20 cm are 7.874 in, and as many stitches; 8 in are 45 of 10/22 of a centimetre."""
    form = load_form(desk)
    choose_file(form, "two.png", png([[NAVY, SAND]], scale=50))
    box = by_label(form)
    box["width (cm)"].value = 20
    box["lengths in"].value = "in"
    assert (box["width (cm)"].value, box["or stitches across"].value) == (7.874, 44)
    box["width (cm)"].value = 8
    assert box["or stitches across"].value == 45
    box["or stitches across"].value = 20
    assert box["width (cm)"].value == 3.6
    box["lengths in"].value = "cm"
    assert box["or stitches across"].value == 20


def test_tidying_is_chosen_by_its_price(desk):
    form = load_form(desk)
    pixels = np.full((20, 20, 3), NAVY, np.uint8)
    pixels[5, 5] = pixels[9, 14] = SAND
    pixels[12:18, 4:12] = SAND
    choose_file(form, "specks.png", png(pixels))
    box = by_label(form)
    box["or stitches across"].value = 20
    press(form, PUT_IT)
    assert (desk.project.chart.rows, len(desk.plan.areas)) == (
        28,
        4,
    )  # 20 stitches high at 1.4 rows a stitch
    before = desk.plan.traced.count
    box["tidied"].value = 2
    press(form, PUT_IT)
    assert desk.plan.traced.count < before
    assert len(desk.plan.areas) == 2


def test_a_picture_of_a_grid_chart(desk):
    form = load_form(desk)
    rng = np.random.default_rng(4)
    cells = np.array([NAVY, SAND], np.uint8)[rng.integers(0, 2, (12, 15))]
    picture = cells.repeat(17, 0).repeat(17, 1)
    picture[::17] = picture[:, ::17] = 90
    choose_file(form, "grid.png", png(picture, scale=1))
    box = by_label(form)
    assert box["it is"].value == GRID
    assert box["width (cm)"].layout.display == "none"
    assert "15 stitches × 12 rows" in said(form)
    press(form, PUT_IT)
    rows = np.array(desk.project.chart.to_rows())
    assert np.array_equal(rows == rows[0, 0], (cells == cells[0, 0]).all(-1))


def test_a_spreadsheet_and_its_questions(desk):
    form = load_form(desk)
    choose_file(form, "motif.csv", b"N,N,T\nN,T,T\nY,Y,Y\n")
    assert "3 stitches × 3 rows" in said(form)
    assert "No numbers say where row 1 is" in said(form)
    press(form, PUT_IT)
    assert desk.project.chart == Chart.from_rows(["NNT", "NTT", "YYY"])
    by_label(form)["row 1 is at the"].value = "top"
    assert "No numbers say" not in said(form)
    press(form, PUT_IT)
    assert desk.project.chart == Chart.from_rows(["YYY", "NTT", "NNT"])


def test_written_rows_from_a_file_and_pasted(desk):
    form = load_form(desk)
    choose_file(form, "rows.txt", b"Row 1 (RS): 2 N, 1 T\nRow 2 (WS): 3 N\n")
    press(form, PUT_IT)
    assert desk.project.chart == Chart.from_rows(["NNN", "TNN"])
    open_folds(form)
    by_label(form)["written rows or cells"].value = "Row 1: 1 N, 2 T"
    press(form, "Read what is pasted")
    press(form, PUT_IT)
    assert desk.project.chart == Chart.from_rows(["TTN"])
    by_label(form)["written rows or cells"].value = "N\tT\t2\nY\tY\t1"
    press(form, "Read what is pasted")
    press(form, PUT_IT)
    assert desk.project.chart == Chart.from_rows(["NT", "YY"])
    open_folds(form)
    by_label(form)["written rows or cells"].value = "knit two"
    press(form, "Read what is pasted")
    assert "is no written row" in said(form)


def test_a_motif_onto_the_chart(desk):
    before = desk.project.chart.to_rows()
    form = load_form(desk)
    choose_file(form, "motif.csv", b"Y,.\nY,Y\n")
    box = by_label(form)
    box["blank cells are"].value = "no stitch"
    box["it goes"].value = ONTO
    box["its lower right corner at stitch"].value, box["and row"].value = 3, 2
    assert (
        headings(form)[-2] == "In this piece it goes: into the piece's chart, at stitch 3 and row 2"
    )
    press(form, "Set it into the chart of this piece")
    after = desk.project.chart.to_rows()
    assert (after[-2][-4:-2], after[-3][-4:-2]) == (["Y", "Y"], ["Y", before[-3][-3]])
    box["and row"].value = 500
    press(form, "Set it into the chart of this piece")
    assert "Move the motif" in said(form)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("words.png", b"just some words", "not a PNG, JPEG, WebP or GIF"),
        ("empty.csv", b"", "no chart"),
        ("locked.xlsx", OLE + "EncryptedPackage".encode("utf-16-le") + bytes(600), "password"),
        ("old.xls", OLE + bytes(600), "Save it anew as .xlsx"),
        ("words.txt", b"dear knitter", ""),
    ],
)
def test_files_that_hold_no_chart(desk, name, content, words):
    chart = desk.project.chart
    form = load_form(desk)
    choose_file(form, name, content)
    assert "Please look at this" in said(form)
    assert words in said(form)
    assert desk.project.chart == chart


def test_text_in_a_file_is_never_markup(desk):
    form = load_form(desk)
    choose_file(form, "<img src=x onerror=alert(1)>.csv", b"N,N,<script>alert(1)</script>\nN,N,N\n")
    assert "<script>" not in said_html(form)
    assert "<img src=x" not in said_html(form)


def test_worked_rows_stay_whatever_is_loaded(desk):
    work_rows(desk)
    chart = desk.project.chart
    form = load_form(desk)
    choose_file(form, "motif.csv", b"N,T\nT,N\n")
    press(form, PUT_IT)
    assert "are worked and stay as they are" in said(form)
    assert desk.project.chart == chart


def test_what_is_asked_of_a_sheet_is_answered_at_its_place(desk):
    form = load_form(desk)
    only_choose_file(form, "motif.csv", b"N,N,T\nN,T,T\nY,Y,Y\n")
    assert [fold.is_open for fold in boxes(form, Fold)] == [False, False, True, False, False]
    press(form, "No, top")
    assert "No numbers say" not in said(form)
    press(form, PUT_IT)
    assert desk.project.chart == Chart.from_rows(["YYY", "NTT", "NNT"])


def test_nothing_is_asked_where_all_is_understood(desk):
    """The choice of a file and one press; no fold is open."""
    form = load_form(desk)
    only_choose_file(form, "motif.csv", b"N,N,T,3\nN,T,T,2\nY,Y,Y,1\n")
    assert "Please look" not in said(form)
    assert not any(fold.is_open for fold in boxes(form, Fold))
    assert "3 stitches × 3 rows, 1 × 1 cm · 3 yarns · 3 strands · 6 ends" in said(form)
    press(form, PUT_IT)
    assert desk.project.chart == Chart.from_rows(["NNT", "NTT", "YYY"])


def test_the_result_stands_above_the_choices(desk):
    form = load_form(desk)
    choose_file(form, "two.png", png([[RED, SAND]], scale=50))
    order = boxes(form)
    preview = next(child for child in order if "<img " in str(getattr(child, "value", "")))
    first_choice = next(child for child in order if isinstance(child, Fold))
    button = by_label(form)[PUT_IT]
    assert order.index(button) < order.index(preview) < order.index(first_choice)


def test_a_file_begins_a_new_piece(data):
    """Its name is the file's, or a free one beside that; what was on the desk stays as it is."""
    desk = open_desk("harbour-cushion")
    form = load_form(desk)
    for name in ("Fish", "Fish 2"):
        choose_file(form, "fish.csv", b"N,N,T,2\nN,T,T,1\n")
        press(form, "Begin a new piece with it")
        assert (desk.project.name, desk.project.folder.parent) == (name, data)
        assert desk.project.chart == Chart.from_rows(["NNT", "NTT"])
        assert chosen_piece(data) == desk.project.folder.name
        assert f"{name} is a piece of its own now" in said(form)
        assert "stitches ×" not in said(form)  # what was read has found its place
    demo = open_project(data / "harbour-cushion")
    assert demo.chart.columns == 72


def test_a_file_read_for_one_piece_is_not_put_into_another(data):
    desk = open_desk("harbour-cushion")
    form = load_form(desk)
    choose_file(form, "fish.csv", b"N,N,T,2\nN,T,T,1\n")
    go_to_piece(desk, start_new_piece(name="scarf", stitches=9, rows=9, letter="A", colour="#111"))
    press(form, PUT_IT)
    assert "Nothing is read yet" in said(form)
    assert desk.project.chart.columns == 9


# ---- the functions behind the form


@pytest.mark.parametrize(("stays", "letters"), [(False, "QN"), (True, "QNB")])
def test_yarns_with_those_of_a_file(stays, letters):
    """N is kept; B, of an earlier file, stays only with the chart that needs it; X goes."""
    known = {letter: Yarn(letter) for letter in "NBX"}
    project = small(rows=["BB"], yarns=known).project
    loaded = Loaded(Chart.from_rows(["QN"]), "a sheet", {"Q": "#123456"})
    after = yarns_with(project, {"N": known["N"]}, loaded, stays=stays)
    assert set(after) == set(letters)
    assert after["Q"].colour == "#123456"


def test_a_preview_rings_what_is_doubtful():
    chart, yarns = Chart.from_rows(["AB", "BA"]), {"A": Yarn("A", "<b>"), "B": Yarn("B")}
    plain = preview_html(chart, yarns, 1.0)
    assert "&lt;b&gt;, 2 st" in plain
    assert preview_html(chart, yarns, 1.0, np.zeros((2, 2), bool)) == plain
    assert preview_html(chart, yarns, 1.0, np.eye(2, dtype=bool)) != plain


def test_nothing_is_put_on_the_desk_before_it_is_read(desk):
    form, before = load_form(desk), contents(desk.project.folder)
    press(form, PUT_IT)
    assert "Nothing is read yet" in said(form)
    assert contents(desk.project.folder) == before


# ---- a new piece first, and the names of its yarns

KEYED = b"A,A,B,2,,A,Oat\nA,B,B,1,,B,Leaf green\n"
NEW, PUT_NEW = "Begin a new piece with it", "primary"


def test_the_main_button_does_no_harm(data):
    """A piece with a chart of its own is left alone; one in one yarn is there to be filled."""
    desk = open_desk("harbour-cushion")
    form = load_form(desk)
    choose_file(form, "motif.csv", KEYED)
    by_name = by_label(form)
    assert (by_name[NEW].button_style, by_name[PUT_IT].button_style) == (PUT_NEW, "")
    assert "replaces the chart of Harbour cushion, 72 stitches × 96 rows" in said(form)
    assert "kept under Earlier versions" in said(form)
    by_name["it goes"].value = ONTO
    assert (by_name[NEW].button_style, by_name[PUT_IT].button_style) == ("", PUT_NEW)
    bare = start_new_piece(name="bare", stitches=3, rows=2, letter="A", colour="#ffffff")
    go_to_piece(desk, bare)
    only_choose_file(form, "motif.csv", KEYED)
    assert by_label(form)[PUT_IT].button_style == PUT_NEW


def test_names_of_a_key_are_suggested_and_kept(data):
    desk = open_desk("harbour-cushion")
    form = load_form(desk)
    choose_file(form, "motif.csv", KEYED)
    assert "Names of its yarns: A Oat, B Leaf green" in headings(form)
    by_label(form)["name of yarn B"].value = "Moss"
    assert "A Oat, 3 st" in said(form)
    assert "B Moss, 3 st" in said(form)
    press(form, NEW)
    new = open_project(desk.project.folder)
    assert new.name == "Motif"
    assert {letter: yarn.name for letter, yarn in new.yarns.items()} == {"A": "Oat", "B": "Moss"}


def test_what_is_no_name_is_none(desk):
    """A formula in a key would be one in yarns.csv."""
    form = load_form(desk)
    choose_file(form, "motif.csv", b'A,A,B,2,,A,"=HYPERLINK(1)"\nA,B,B,1,,B,<b>Moss</b>\n')
    assert "Names of its yarns: B <b>Moss</b>; A without a name" in headings(form)
    assert "<b>Moss" not in said_html(form)


def test_letters_are_given_in_order_and_others_only_for_a_reason(data):
    """For a new piece A, B, C, D; in the open one C is another yarn's, which is said."""
    desk = open_desk("harbour-cushion")
    shades = ["#d00000", "#00a000", "#0000d0", "#f0f000"]
    colours = [[int(shade[at : at + 2], 16) for at in (1, 3, 5)] for shade in shades]
    picture = png([[colour] * 3 for colour in colours], scale=40)
    wine = Yarn("C", "Wine", "#5a1028")
    desk.change(yarns={**desk.project.yarns, "C": wine})
    form = load_form(desk)
    choose_file(form, "bands.png", picture)
    by_label(form)["or stitches across"].value = 3
    assert "No new yarn is called" not in said(form)
    assert " A, " in said(form)
    press(form, PUT_IT)
    assert sorted(desk.project.chart.letters) == ["A", "B", "D", "E"]
    assert desk.project.yarns["C"] == wine
    assert "No new yarn is called C: C is a yarn of this piece." in said(form)


def test_a_new_piece_is_shown_by_its_own_shape(data):
    """A sheet by the gauge that a new piece has, a drawn grid by its cells."""
    desk = open_desk("harbour-cushion")
    form = load_form(desk)
    only_choose_file(form, "motif.csv", KEYED)
    assert "shown by 22 stitches and 30 rows over 10 cm" in said(form)
    assert height_by_width(form, 3, 2) == pytest.approx(22 / 30, abs=0.03)
    cells = np.array([NAVY, SAND], np.uint8)[np.random.default_rng(4).integers(0, 2, (12, 15))]
    picture = cells.repeat(10, 0).repeat(20, 1)
    picture[::10] = picture[:, ::20] = 90
    only_choose_file(form, "grid.png", png(picture, scale=1))
    assert "as they are drawn" in said(form)
    assert height_by_width(form, 15, 12) == pytest.approx(1 / 2, abs=0.03)


def height_by_width(form, stitches, rows):
    """How high a stitch of the chart is that is shown, by how wide it is."""
    code = re.search(r'src="data:image/png;base64,([^"]+)" alt="The chart as', said_html(form))
    image = Image.open(io.BytesIO(base64.b64decode(code[1])))
    return image.height / rows / (image.width / stitches)
