"""The forms of notebook 1 that get a chart in and out, driven as a browser drives them."""

import io
from datetime import UTC, datetime

import numpy as np
import pytest
from openpyxl import load_workbook
from PIL import Image

from planner import Chart
from planner.folder import log_progress, open_project, read_yarns
from planner.strands.knitted import note_row
from planner.workbook.chart_forms import (
    MIRRORED,
    REPEATED,
    WHOLE,
    load_form,
    new_piece_form,
    out_form,
    place_form,
    yarns_form,
)
from planner.workbook.desk import Desk, Form, Pane
from planner.workbook.load_forms import GRID, IN_HAND, ONTO

OLE = bytes.fromhex("d0cf11e0a1b11ae1")  # how an encrypted or an old workbook begins (from memory)


def boxes(widget):
    """Every widget of a form by its label."""
    found, waiting = {}, [widget]
    while waiting:
        child = waiting.pop()
        waiting += getattr(child, "children", ())
        if getattr(child, "description", ""):
            found[child.description] = child
    return found


def said(form) -> str:
    found, waiting = [], [form]
    while waiting:
        child = waiting.pop()
        waiting += getattr(child, "children", ())
        if isinstance(child, Pane):
            found.append(child.value)
    return "\n".join(found)


def press(form, label):
    boxes(form)[label].click()


def choose_file(form, name: str, content: bytes):
    upload = boxes(form)["Choose a file"]
    upload.value = (
        {
            "name": name,
            "type": "",
            "size": len(content),
            "content": memoryview(content),
            "last_modified": datetime(2026, 1, 1, tzinfo=UTC),
        },
    )


@pytest.fixture
def desk(demo_copy):
    return Desk(open_project(demo_copy))


def png(pixels, scale=10) -> bytes:
    out = io.BytesIO()
    Image.fromarray(np.array(pixels, np.uint8).repeat(scale, 0).repeat(scale, 1)).save(out, "PNG")
    return out.getvalue()


NAVY, SAND, RED = (31, 58, 95), (217, 210, 195), (255, 32, 32)


# ---- a new piece, and its yarns


def test_a_new_piece_has_a_folder_that_opens(tmp_path):
    form = new_piece_form(tmp_path)
    box = boxes(form)
    box["name of the piece"].value = "Hill scarf, 2nd!"
    box["stitches"].value, box["rows (garter: ridges)"].value = 7, 5
    box["letter of its ground"].value, box["colour of it"].value = "G", "#335577"
    press(form, "Make the piece")
    assert "hill-scarf-2nd is made" in said(form)
    piece = open_project(tmp_path / "hill-scarf-2nd")
    assert piece.name == "Hill scarf, 2nd!"
    assert piece.chart == Chart.from_rows(["GGGGGGG"] * 5)
    assert piece.yarns["G"].colour == "#335577"
    press(form, "Make the piece")
    assert "There is a piece hill-scarf-2nd already" in said(form)


@pytest.mark.parametrize(
    ("name", "stitches", "letter", "words"),
    [("", 7, "G", "has no name yet"), ("..", 7, "G", "has no name yet"), ("a", 0, "G", "give 1 to 1,000 stitches"),
     ("a", 7, "7", "not a yarn letter"), ("../up", 7, "G", "up is made")],
)  # fmt: skip
def test_a_new_piece_that_cannot_be(tmp_path, name, stitches, letter, words):
    data = tmp_path / "data"
    data.mkdir()
    form = new_piece_form(data)
    box = boxes(form)
    box["name of the piece"].value, box["stitches"].value, box["letter of its ground"].value = (
        name,
        stitches,
        letter,
    )
    press(form, "Make the piece")
    assert words in said(form)
    assert [path.name for path in tmp_path.iterdir()] == ["data"]  # nothing outside the data folder


def test_a_yarn_is_changed_and_another_added(desk, demo_copy):
    before = (demo_copy / "yarns.csv").read_text().splitlines()
    form = yarns_form(desk)
    box = boxes(form)
    box["yarn"].value = "N"
    assert box["name"].value == desk.project.yarns["N"].name
    box["metres in a ball (0: not known)"].value = 123.5
    press(form, "Put this yarn down")
    box["yarn"].value = "another yarn"
    box["its letter on the chart"].value, box["name"].value, box["colour"].value = (
        "Q",
        "Quince, =1+1",
        "#ddcc22",
    )
    press(form, "Put this yarn down")
    assert desk.unsaved
    desk.keep()
    yarns = read_yarns(demo_copy / "yarns.csv")
    assert yarns["N"].metres_per_ball == 123.5
    assert (yarns["Q"].name, yarns["Q"].colour, yarns["Q"].metres_per_ball) == (
        "Quince, =1+1",
        "#ddcc22",
        None,
    )
    after = (demo_copy / "yarns.csv").read_text().splitlines()
    assert [line for line in before if not line.startswith("N,")] == [
        line for line in after if not line.startswith(("N,", "Q,"))
    ]


def test_a_yarn_that_cannot_be(desk):
    form = yarns_form(desk)
    box = boxes(form)
    box["yarn"].value = "another yarn"
    for letter, name, words in (("N", "", "There is a yarn N already"), ("N1", "", "not a yarn letter"),
                                ("Q", "=HYPERLINK(1)", "a spreadsheet would take for a formula")):  # fmt: skip
        box["its letter on the chart"].value, box["name"].value = letter, name
        press(form, "Put this yarn down")
        assert words in said(form)
    assert not desk.unsaved


# ---- files


def test_flat_art_in_two_colours(desk):
    form = load_form(desk)
    pixels = [[RED, RED, SAND], [SAND, RED, SAND]]
    choose_file(form, "two.png", png(pixels, scale=30))
    box = boxes(form)
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
    box = boxes(form)
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
    box = boxes(form)
    box["width (cm)"].value = 20
    assert box["or stitches across"].value == round(20 / desk.project.gauge.stitch_cm)
    box["or stitches across"].value = 10
    assert box["width (cm)"].value == pytest.approx(10 * desk.project.gauge.stitch_cm, abs=0.05)


def test_tidying_is_chosen_by_its_price(desk):
    form = load_form(desk)
    pixels = np.full((20, 20, 3), NAVY, np.uint8)
    pixels[5, 5] = pixels[9, 14] = SAND
    pixels[12:18, 4:12] = SAND
    choose_file(form, "specks.png", png(pixels))
    box = boxes(form)
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
    box = boxes(form)
    assert "This looks like a chart drawn on a grid, 15 stitches × 12 rows: say so above" in said(
        form
    )
    box["it is"].value = GRID
    assert "This looks like" not in said(form)
    assert box["width (cm)"].layout.display == "none"
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
    boxes(form)["row 1 is at the"].value = "top"
    assert "No numbers say" not in said(form)
    press(form, "Put it on the desk")
    assert desk.project.chart == Chart.from_rows(["YYY", "NTT", "NNT"])


def test_written_rows_from_a_file_and_pasted(desk):
    form = load_form(desk)
    choose_file(form, "rows.txt", b"Row 1 (RS): 2 N, 1 T\nRow 2 (WS): 3 N\n")
    press(form, "Put it on the desk")
    assert desk.project.chart == Chart.from_rows(["NNN", "TNN"])
    boxes(form)["or paste written rows"].value = "Row 1: 1 N, 2 T"
    press(form, "Read these rows")
    press(form, "Put it on the desk")
    assert desk.project.chart == Chart.from_rows(["TTN"])
    boxes(form)["or paste written rows"].value = "knit two"
    press(form, "Read these rows")
    assert "is no written row" in said(form)


def test_a_motif_onto_the_chart(desk):
    before = desk.project.chart.to_rows()
    form = load_form(desk)
    choose_file(form, "motif.csv", b"Y,.\nY,Y\n")
    box = boxes(form)
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
        ("words.png", b"just some words", "not a PNG or JPEG"),
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
    assert "<script>" not in said(form)
    assert "<img src=x" not in said(form)


# ---- into a piece, and out


def test_into_a_piece(desk):
    desk.change(chart=Chart.from_rows(["TN", "NN"]))
    form = place_form(desk)
    box = boxes(form)
    box["stitches of the piece"].value, box["rows of the piece"].value, box["ground"].value = (
        5,
        4,
        "N",
    )
    press(form, "Do it")
    assert "cannot be halved" in said(form)
    box["an odd stitch more"].value = "left"
    press(form, "Do it")
    assert desk.project.chart == Chart.from_rows(["NNNNN", "NNTNN", "NNNNN", "NNNNN"])
    box["the chart is to be"].value = MIRRORED
    press(form, "Do it")
    assert desk.project.chart == Chart.from_rows(["NNNNN", "NNTNN", "NNNNN", "NNNNN"])
    desk.change(chart=Chart.from_rows(["TN"]))
    box["the chart is to be"].value = REPEATED
    boxes(form)["times one above the other"].value = 2
    press(form, "Do it")
    assert desk.project.chart == Chart.from_rows(["TNTN", "TNTN"])
    box["the chart is to be"].value = WHOLE
    boxes(form)["its centre is at the"].value = "right"
    press(form, "Do it")
    assert desk.project.chart == Chart.from_rows(["TNTNTNT"] * 2)


def test_out_and_in_again_is_the_same_chart(desk, demo_copy):
    chart = desk.project.chart
    form = out_form(desk)
    for ending in ("Spreadsheet (.xlsx)", "Table (.csv)", "Picture (.png)", "Written rows (.txt)"):
        press(form, ending)
        assert "written to harbour-cushion/out/" in said(form)
    assert load_workbook(demo_copy / "out" / "harbour-cushion-chart.xlsx").sheetnames == [
        "Chart",
        "Yarns",
    ]
    for ending in ("xlsx", "csv", "txt", "png"):
        desk.change(chart=Chart.from_rows(["N"]))
        back = load_form(desk)
        choose_file(
            back,
            f"chart.{ending}",
            (demo_copy / "out" / f"harbour-cushion-chart.{ending}").read_bytes(),
        )
        if ending == "png":
            (
                boxes(back)["or stitches across"].value,
                boxes(back)["rows (0: as its shape asks)"].value,
            ) = chart.columns, chart.rows
        press(back, "Put it on the desk")
        assert desk.project.chart == chart, ending


def test_worked_rows_stay_whatever_is_loaded(desk):
    log_progress(desk.project, "row worked", 1, runs=note_row(desk.plan.traced, 1))
    desk.read_progress_again()
    chart = desk.project.chart
    form = load_form(desk)
    choose_file(form, "motif.csv", b"N,T\nT,N\n")
    press(form, "Put it on the desk")
    assert "are worked and stay as they are" in said(form)
    assert desk.project.chart == chart


def test_a_saved_notebook_keeps_the_forms_in_words(desk, tmp_path):
    for form in (
        load_form(desk),
        place_form(desk),
        out_form(desk),
        yarns_form(desk),
        new_piece_form(tmp_path),
    ):
        assert isinstance(form, Form)
        assert "Run this cell to change it here" in form._repr_mimebundle_()["text/html"]
