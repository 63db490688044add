"""Guards: what is built to harm is refused in words, what is sound is read, no formula goes out.

Nothing is timed. Without its guard each of these inputs takes minutes or more memory than there is.
"""

import csv
import io
import math
import os
import re
from dataclasses import replace
from fractions import Fraction

import openpyxl
import pytest
from PIL.PngImagePlugin import PngImageFile

from planner import Chart, Construction, Gauge, PlanError, Project, make_plan
from planner.charts import chart_xlsx, open_artwork, read_rows, repeat, set_into, write_rows
from planner.colour import apart, hex_of, lightness, rgb_of
from planner.errors import LONGEST
from planner.folder import chart_csv, read_chart, read_settings
from planner.folder.files import number_in, read_text
from planner.guards import (
    LONGEST_COLOUR,
    MOST_IN_ALL,
    MOST_POINTS_OF_A_LINE,
    MOST_ROWS,
    MOST_SIGNS,
    MOST_STITCHES,
    MOST_YARNS,
    MOST_ZEROS,
    check_chart,
    check_yarns,
    guarded,
)
from planner.report import table_files
from planner.units import check_number, exact
from tests.helpers.hostile import HOSTILE, png
from tests.helpers.inputs import CHART, READERS, YARNS, seeds

# What a message names, and what it says to do, reader by reader.
NAMES = {
    "chart.csv": "chart.csv ",
    "yarns.csv": "yarns.csv, yarn A: |Yarn A: ",
    "piece.toml": "piece.toml|carry limit|gauge",
    "measurements.csv": "measurements.csv line 2, number 1: ",
    "progress.csv": "progress.csv[, ]",
    "choices.csv": "choices.csv, A: ",
    "written rows": "Line 1 |The text of written rows ",
    "workbook": "chart.xlsx ",
    "text sheet": "chart.txt",
    "picture": "picture.png ",
    "number": "The number ",
    "colour": "A yarn has the colour ",
}
WHAT_TO_DO = re.compile(
    r"\b([Ww]rite|Look for|Plan|[Tt]ake|Copy|Name|Save|Make|It should be|rows count|a letter or a "
    r"fill|it must be|which is not a number|which cannot be meant|load it as a picture)\b"
)


@pytest.mark.parametrize("what", HOSTILE)
def test_what_is_built_to_harm_is_refused_in_words(what, tmp_path):
    reader, make = HOSTILE[what]
    with pytest.raises(PlanError) as caught:
        READERS[reader](make(), tmp_path)
    message = str(caught.value)
    assert re.search(NAMES[reader], message), message
    assert WHAT_TO_DO.search(message), message
    assert len(message) <= LONGEST


@pytest.mark.parametrize("reader", READERS)
def test_what_is_sound_is_read(reader, tmp_path):
    for data in seeds()[reader]:
        assert READERS[reader](data, tmp_path) is not None


def test_a_long_message_keeps_what_it_is_about_and_what_to_do():
    error = PlanError(f'yarns.csv line 3 has "{"x" * 100_000}". Take it out.')
    assert len(str(error)) <= LONGEST
    assert str(error).startswith('yarns.csv line 3 has "xxx')
    assert str(error).endswith('xxx". Take it out.')
    assert str(PlanError(str(error))) == str(error)
    assert str(PlanError("Short.")) == "Short."


# Numbers


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1" * MOST_SIGNS, int("1" * MOST_SIGNS)),
        (f"1e{MOST_ZEROS}", 10**MOST_ZEROS),
        (f"1E-{MOST_ZEROS}", Fraction(1, 10**MOST_ZEROS)),
        ("1e00000000000000000000000000002", 100),
        (" 2.5 ", Fraction(5, 2)),
        (10**9, 10**9),
    ],
)
def test_the_largest_numbers_are_read(text, number):
    assert exact(text, "It") == number


@pytest.mark.parametrize(
    "number",
    [
        *("1" * (MOST_SIGNS + 1), f"1e{MOST_ZEROS + 1}", f"-1e-{MOST_ZEROS + 1}"),
        *(10**400, -(10**5000), 1e300, 1e-300),
    ],
    ids=range(7),
)
def test_larger_ones_are_refused_before_they_are_written_out(number):
    with pytest.raises(PlanError, match=r"^The tail is "):
        exact(number, "The tail")


@pytest.mark.parametrize(
    "number",
    [10**400, -(10**400), 10**5000, Fraction(10**400), math.inf, -math.inf, math.nan],
    ids=range(7),
)
def test_numbers_that_no_float_holds_are_refused_in_words(number):
    with pytest.raises(PlanError, match=r"^The tail is .*(0 or more|must be)"):
        check_number(number, "The tail")


def test_a_cell_may_hold_a_thousand_million():
    assert number_in("1e9", "It") == 1e9
    for text in ("1000000001", "-1e10"):
        with pytest.raises(PlanError, match="too large to be meant"):
            number_in(text, "It")


def test_a_gauge_of_a_huge_power_is_refused():
    with pytest.raises(PlanError, match=r"stitches in the gauge .* too large or too small"):
        Gauge(stitches="1e999999999")


# Charts


@pytest.mark.parametrize(
    ("stitches", "rows", "fits"),
    [
        (MOST_STITCHES, MOST_IN_ALL // MOST_STITCHES, True),
        (MOST_IN_ALL // MOST_ROWS, MOST_ROWS, True),
        (MOST_STITCHES + 1, 1, False),
        (1, MOST_ROWS + 1, False),
        (MOST_STITCHES, MOST_IN_ALL // MOST_STITCHES + 1, False),
    ],
)
def test_how_large_a_chart_may_be(stitches, rows, fits):
    if fits:
        check_chart(stitches, rows, "It")
        return
    with pytest.raises(PlanError, match=f"^It is of {stitches:,} × {rows:,} .*Plan a larger piece"):
        check_chart(stitches, rows, "It")


def test_how_many_yarns_a_chart_may_have():
    check_yarns(MOST_YARNS, "It")
    with pytest.raises(PlanError, match=r"^It has 61 different letters"):
        check_yarns(MOST_YARNS + 1, "It")


@pytest.mark.parametrize(
    "make",
    [
        lambda: set_into(CHART, stitches=10**9, ground="A"),
        lambda: set_into(CHART, rows=10**9, ground="A"),
        lambda: repeat(CHART, across=10**9),
        lambda: repeat(CHART, up=10**9, across=10**9),
        lambda: Chart.from_rows(["A" * 600]).whole(centre_at="left", centre="twice"),
        lambda: Chart.from_rows(["A" * 1_001]),
    ],
)
def test_a_chart_is_not_made_larger_than_it_may_be(make):
    with pytest.raises(PlanError, match="at most 1,000 × 2,000"):
        make()


def test_empty_columns_at_the_end_are_left_out(tmp_path):
    path = tmp_path / "chart.csv"
    path.write_text("A,B,,\nB,A,,,\nA,A,,\n")
    with pytest.raises(PlanError, match=r"row 2 \(line 2\) has 3 stitches, the others 2"):
        read_chart(path)
    path.write_text("A,B,,\nB,A,,,\n,,,,,\nB,,,\n" + "A,A" + "," * 900_000)
    with pytest.raises(PlanError, match=r"900,000 × 4 "):
        read_chart(path)
    path.write_text("A,B" + "," * 900 + "\nB,A" + "," * 900)
    assert read_chart(path) == Chart.from_rows(["AB", "BA"])


# Files


@pytest.mark.skipif(not os.path.exists("/dev/zero"), reason="this system has no endless file")
def test_a_file_without_end_is_read_to_the_limit_only(tmp_path):
    (tmp_path / "chart.csv").symlink_to("/dev/zero")
    assert len(read_text(tmp_path / "chart.csv", most=1_000)) == 1_000
    with pytest.raises(PlanError, match="is not a text file"):
        read_chart(tmp_path / "chart.csv")


def test_points_are_counted_outside_of_comments(tmp_path):
    path = tmp_path / "piece.toml"
    path.write_text(f"# {'.' * 500}\nname = '{'.' * MOST_POINTS_OF_A_LINE}'\n")
    assert read_settings(path)["name"] == "." * MOST_POINTS_OF_A_LINE
    path.write_text(f"name = '{'.' * (MOST_POINTS_OF_A_LINE + 1)}'\n")
    with pytest.raises(PlanError, match=r"piece\.toml line 1 has 51 points; at most 50"):
        read_settings(path)


# Written rows


def test_the_longest_row_is_read():
    how = Construction()
    words = "Row 1 (RS): " + ", ".join(["(1 A, 1 B) 2 times"] * 250)
    assert read_rows(words, how).columns == MOST_STITCHES
    with pytest.raises(PlanError, match="Line 1 has 1,001 stitches"):
        read_rows(f"{words}, 1 A", how)
    assert read_rows(f"Rows 1 to {MOST_ROWS}: {MOST_IN_ALL // MOST_ROWS} A", how).rows == MOST_ROWS
    with pytest.raises(PlanError, match="Line 1 says row 2001; it can be 2,000 at most"):
        read_rows("Row 2001: 1 A", how)


# Pictures


@pytest.mark.parametrize(
    ("width", "height", "opened"),
    [(30_000, 2_333, True), (30_001, 1, False), (8_367, 8_367, False), (1, 40_000, False)],
)
def test_a_picture_is_looked_at_only_if_it_says_that_it_is_small(
    width, height, opened, monkeypatch
):
    """It is decoded, or it is not: what decodes is taken away."""
    decoded = []

    def load(file):
        decoded.append(file.size)
        raise OSError("nothing is decoded here")

    monkeypatch.setattr(PngImageFile, "load", load)
    words = "damaged" if opened else "It was not opened"
    with pytest.raises(PlanError, match=words):
        open_artwork(png(width, height), "picture.png")
    assert decoded == ([(width, height)] if opened else [])


# Colours


@pytest.mark.parametrize(
    "colour",
    [
        *("oklch(1e308 1e308 1e308)", "oklch(1e308 0.1 20)", "oklab(1e200 1e200 1e200)"),
        *("rgb(1e400 0 0)", "color(xyz 1e300 1 1)", "color(srgb 1e308 0 0)"),
        f"rgb({' ' * LONGEST_COLOUR}1 1 1)",
    ],
)
def test_colours_that_nobody_can_see_are_none(colour):
    for read in (hex_of, rgb_of, lightness, lambda text: apart(text, "red")):
        with pytest.raises(ValueError, match=r"screen|letters|not a valid color"):
            read(colour)


def test_a_colour_with_a_part_left_open_has_none_of_it():
    assert rgb_of("color(srgb none 0.5 0)") == (0, 0.5, 0)
    assert lightness("lab(none none none)") == 0
    assert hex_of("lab(50% 40 59.5 / none)") == "#bf5700"


# What goes out


@pytest.mark.parametrize(
    ("text", "safe"),
    [
        ("=1+1", "'=1+1"),
        ("+1", "'+1"),
        ("-1", "'-1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        (" =1", " '=1"),
        ("\t=1", "\t'=1"),
        ("＝1", "'＝1"),
        ("a;=1", "a;'=1"),
        ("a, =1\n+2", "a, '=1\n'+2"),
        ("Rust", "Rust"),
        ("2 + 1 = 3", "2 + 1 = 3"),
        ("rows 3-5", "rows 3-5"),
        ("", ""),
    ],
)
def test_what_a_spreadsheet_would_take_for_a_formula(text, safe):
    assert guarded(text) == safe
    assert guarded(safe) == safe


FORMULAS = ("=HYPERLINK(1)", "+1", "-1", "@x")


@pytest.fixture
def with_formulas():
    """A piece in four yarns that are called like formulas."""
    chart = Chart.from_rows(["AABB", "CCDD"] * 4)
    named = zip(chart.letters, FORMULAS, strict=True)
    yarns = {letter: replace(YARNS["A"], letter=letter, name=name) for letter, name in named}
    return Project("=1+1", chart, yarns)


def test_no_table_of_a_plan_holds_a_formula(with_formulas):
    """A number may be below zero; a text that begins like a formula begins with an apostrophe."""
    texts = []
    files = table_files(make_plan(with_formulas))
    for table in (data for name, data in files.items() if name.endswith(".csv")):
        for row in csv.reader(io.StringIO(table.decode())):
            texts += row
    assert any(formula in text for text in texts for formula in FORMULAS)
    number = re.compile(r"-?\d+(\.\d+)?(e-?\d+)?")
    harmful = [text for text in texts if guarded(text) != text and not number.fullmatch(text)]
    assert harmful == []


def test_a_workbook_of_a_chart_holds_no_formula(with_formulas):
    chart, yarns = with_formulas.chart, dict(with_formulas.yarns)
    book = openpyxl.load_workbook(io.BytesIO(chart_xlsx(chart, yarns, 0.75, Construction())))
    names = [book["Yarns"].cell(row, 2) for row in range(2, 6)]
    assert tuple(cell.value for cell in names) == FORMULAS
    # Text to a spreadsheet, also after the cell has been edited.
    assert {(cell.data_type, cell.quotePrefix) for cell in names} == {("s", True)}
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert [cell.coordinate for cell in cells if cell.data_type == "f"] == []


def test_written_rows_and_the_chart_as_text_hold_no_formula(with_formulas):
    chart = with_formulas.chart
    for how in (Construction(), Construction(worked="rounds"), Construction(fabric="garter")):
        lines = write_rows(chart, how).splitlines()
        assert all(re.match(r"(Row|Round|Ridge) \d+", line) for line in lines)
        assert [line for line in lines if guarded(line) != line] == []
    cells = [cell for row in csv.reader(io.StringIO(chart_csv(chart))) for cell in row]
    assert [cell for cell in cells if guarded(cell) != cell] == []
