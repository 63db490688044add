"""The form that reads a file, driven as a browser drives it."""

import io

import numpy as np
import pytest
from PIL import Image

from planner import Chart, Yarn
from planner.workbook import Loaded, load_form, preview_html
from planner.workbook.loading import GRID, IN_HAND, ONTO, letters_for, yarns_with
from tests.helpers.folders import contents
from tests.helpers.forms import by_label, choose_file, press, said, said_html, small, work_rows

# How an encrypted or an old workbook begins (from memory).
OLE = bytes.fromhex("d0cf11e0a1b11ae1")


def png(pixels, scale=10) -> bytes:
    out = io.BytesIO()
    Image.fromarray(np.array(pixels, np.uint8).repeat(scale, 0).repeat(scale, 1)).save(out, "PNG")
    return out.getvalue()


NAVY, SAND, RED = (31, 58, 95), (217, 210, 195), (255, 32, 32)


def test_flat_art_in_two_colours(desk):
    form = load_form(desk)
    pixels = [[RED, RED, SAND], [SAND, RED, SAND]]
    choose_file(form, "two.png", png(pixels, scale=30))
    box = by_label(form)
    box["or stitches across"].value, box["rows (0: as its shape asks)"].value = 3, 2
    assert "3 stitches × 2 rows" in said(form)
    assert "most at once" in said(form)
    assert box["Choose a file"].value == ()  # it does not travel to the browser again
    press(form, "Put it on the desk")
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
    press(form, "Put it on the desk")
    assert set(desk.project.chart.letters) <= set("NTKWRY")
    assert desk.project.chart.columns == 20


def test_yarns_of_a_picture_put_aside_do_not_pile_up(desk):
    for _ in range(3):
        form = load_form(desk)
        choose_file(form, "two.png", png([[RED, SAND]], scale=50))
        press(form, "Put it on the desk")
    assert desk.project.yarns.keys() == set("NTKWRY") | {"A", "B"}


def test_width_and_stitches_go_together(desk):
    form = load_form(desk)
    choose_file(form, "two.png", png([[NAVY, SAND]], scale=50))
    box = by_label(form)
    box["width"].value = 20
    assert box["or stitches across"].value == round(20 / desk.project.gauge.stitch_cm)
    box["or stitches across"].value = 10
    assert box["width"].value == pytest.approx(10 * desk.project.gauge.stitch_cm, abs=0.05)


def test_the_width_of_a_picture_in_inches(desk):
    """20 cm are 7.874 in, and as many stitches; 8 in are 41 of half a centimetre."""
    form = load_form(desk)
    choose_file(form, "two.png", png([[NAVY, SAND]], scale=50))
    box = by_label(form)
    box["width"].value = 20
    box["lengths in"].value = "in"
    assert (box["width"].value, box["or stitches across"].value) == (7.874, 40)
    box["width"].value = 8
    assert box["or stitches across"].value == 41
    box["or stitches across"].value = 20
    assert box["width"].value == 3.9
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
    press(form, "Put it on the desk")
    assert (desk.project.chart.rows, len(desk.plan.areas)) == (
        28,
        4,
    )  # 20 stitches high at 1.4 rows a stitch
    before = desk.plan.traced.count
    box["tidied"].value = 2
    press(form, "Put it on the desk")
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
    assert "This looks like a chart drawn on a grid, 15 stitches × 12 rows: say so above" in said(
        form
    )
    box["it is"].value = GRID
    assert "This looks like" not in said(form)
    assert box["width"].layout.display == "none"
    assert "15 stitches × 12 rows" in said(form)
    press(form, "Put it on the desk")
    rows = np.array(desk.project.chart.to_rows())
    assert np.array_equal(rows == rows[0, 0], (cells == cells[0, 0]).all(-1))


def test_a_spreadsheet_and_its_questions(desk):
    form = load_form(desk)
    choose_file(form, "motif.csv", b"N,N,T\nN,T,T\nY,Y,Y\n")
    assert "3 stitches × 3 rows" in said(form)
    assert "No numbers say where row 1 is" in said(form)
    press(form, "Put it on the desk")
    assert desk.project.chart == Chart.from_rows(["NNT", "NTT", "YYY"])
    by_label(form)["row 1 is at the"].value = "top"
    assert "No numbers say" not in said(form)
    press(form, "Put it on the desk")
    assert desk.project.chart == Chart.from_rows(["YYY", "NTT", "NNT"])


def test_written_rows_from_a_file_and_pasted(desk):
    form = load_form(desk)
    choose_file(form, "rows.txt", b"Row 1 (RS): 2 N, 1 T\nRow 2 (WS): 3 N\n")
    press(form, "Put it on the desk")
    assert desk.project.chart == Chart.from_rows(["NNN", "TNN"])
    by_label(form)["or paste written rows"].value = "Row 1: 1 N, 2 T"
    press(form, "Read these rows")
    press(form, "Put it on the desk")
    assert desk.project.chart == Chart.from_rows(["TTN"])
    by_label(form)["or paste written rows"].value = "knit two"
    press(form, "Read these rows")
    assert "is no written row" in said(form)


def test_a_motif_onto_the_chart(desk):
    before = desk.project.chart.to_rows()
    form = load_form(desk)
    choose_file(form, "motif.csv", b"Y,.\nY,Y\n")
    box = by_label(form)
    box["blank cells are"].value = "no stitch"
    box["it goes"].value = ONTO
    box["its lower right corner at stitch"].value, box["and row"].value = 3, 2
    press(form, "Put it on the desk")
    after = desk.project.chart.to_rows()
    assert (after[-2][-4:-2], after[-3][-4:-2]) == (["Y", "Y"], ["Y", before[-3][-3]])
    box["and row"].value = 500
    press(form, "Put it on the desk")
    assert "Move the motif" in said(form)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("words.png", b"just some words", "not a PNG, JPEG, WebP or GIF"),
        ("empty.csv", b"", "no chart"),
        ("locked.xlsx", OLE + "EncryptedPackage".encode("utf-16-le") + bytes(600), "password"),
        ("old.xls", OLE + bytes(600), "save it as .xlsx"),
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
    press(form, "Put it on the desk")
    assert "are worked and stay as they are" in said(form)
    assert desk.project.chart == chart


# ---- the functions behind the form


def test_letters_for_colours():
    """A yarn that looks the same gives its letter, once; what is new gets a free one."""
    yarns = {"N": Yarn("N", colour="#1f3a5f"), "A": Yarn("A", colour="#d9d2c3")}
    assert letters_for(["#1f3a5f", "#1f3a60", "#ff0000"], yarns) == ["N", "B", "C"]


@pytest.mark.parametrize(("stays", "letters"), [(False, "QN"), (True, "QNB")])
def test_yarns_with_those_of_a_file(stays, letters):
    """N is kept; B, of an earlier file, stays only with the chart that needs it; X goes."""
    known = {letter: Yarn(letter) for letter in "NBX"}
    project = small(rows=["BB"], yarns=known).project
    loaded = Loaded(Chart.from_rows(["QN"]), {"Q": "#123456"})
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
    press(form, "Put it on the desk")
    assert "Nothing is read yet" in said(form)
    assert contents(desk.project.folder) == before
