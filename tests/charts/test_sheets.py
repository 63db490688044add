"""Spreadsheets read as charts: letters, fills, blanks and rulers; what is asked and what refused.

Charts are compared with the rows they were drawn from.
"""

import re

import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from planner import PlanError
from planner.charts.sheets import read_sheet
from tests.helpers.workbooks import (
    HEART,
    asked,
    fills,
    lettered,
    rows_of,
    workbook,
    write_letters,
)


def test_fills_on_an_unfilled_ground_among_title_numbers_and_key():
    def draw(book, sheet):
        red = book.add_format({"bg_color": "#b5452c"})
        sheet.merge_range(
            "B1:J1", "Heart for a cushion", book.add_format({"bold": True, "bg_color": "#dddddd"})
        )
        for i, row in enumerate(HEART):
            sheet.write(i + 2, 0, 6 - i)
            for j in range(9):
                if row[j] == "x":
                    sheet.write_blank(i + 2, j + 1, None, red)
        for j in range(9):
            sheet.write(8, j + 1, 9 - j)
        sheet.write("M3", "Key")
        sheet.write_blank("M4", None, red)
        sheet.write("N4", "Rust, 2 balls")

    read = read_sheet(workbook(draw), "heart.xlsx", yarns={"C": "#fffdf8", "R": "#b8452d"})
    assert rows_of(read) == [row.replace(".", "C").replace("x", "R") for row in HEART]
    assert read.colours == {"C": "#ffffff", "R": "#b5452c"}
    assert (read.sheet, read.area, read.sheets) == ("Motif", "B3:J8", ("Motif",))
    assert (
        read.notes[0]
        == "Taken from sheet 'Motif', cells B3 to J8 (9 stitches × 6 rows), by their fills."
    )
    assert "Column A and row 9 hold numbers and were left out." in read.notes
    assert read.notes[-1] == "Row 1 is at the bottom, as the numbers say."
    assert asked(read) == {"blanks": "ground"}
    shaped = read_sheet(workbook(draw), "heart.xlsx", blanks="no stitch")
    assert rows_of(shaped) == [row.replace("x", "A") for row in HEART]
    assert shaped.asks == ()


@pytest.mark.parametrize(
    ("text", "rows", "asks"),
    [
        ("A,A,B\nA,B,B\n", ["AAB", "ABB"], {"row_1": "bottom"}),
        ("A\tA\tB\nA\tB\t.\n", ["AAB", "AB."], {"row_1": "bottom"}),
        (
            "Hat; with a star, small;;\n;;;\n3;A;B;A\n2;B;A;B\n1;A;A;A\n;3;2;1\n",
            ["ABA", "BAB", "AAA"],
            {},
        ),
        (
            ",A,B,A\n2,B,A,B\n,A,A,A\n4,B,B,B\n,A,B,B\n6,A,A,B\n",
            ["AAB", "ABB", "BBB", "AAA", "BAB", "ABA"],
            {},
        ),
        ("Row 3 (RS),A,B\nRow 2 (WS),B,B\nRow 1 (RS),A,A\n", ["AB", "BB", "AA"], {}),
        ("AAB\nABB\n", ["AAB", "ABB"], {"row_1": "bottom"}),
        ("A A B\nA B B\n", ["AAB", "ABB"], {"row_1": "bottom"}),
        ("x,/,/\n●,x,x\n", ["xAA", "Bxx"], {"row_1": "bottom"}),
        ("red,blue\n" * 4, ["redB"] * 4, {"row_1": "bottom"}),
        (
            "1,1,2\n1,2,2\n3,2,2\n1,1,1\n",
            ["AAB", "ABB", "CBB", "AAA"],
            {"row_1": "bottom"},
        ),  # digits are yarns
        (
            "4,,1,1,2\n,,1,2,2\n2,,3,2,2\n,,1,1,1\n,,3,2,1\n",
            ["AAB", "ABB", "CBB", "AAA"],
            {},
        ),  # and rulers are not
        ("x,,x\n,x,\nx,,x\n", ["xAx", "AxA", "xAx"], {"row_1": "bottom", "blanks": "ground"}),
        (
            ",A,A,\nA,B,B,A\n,B,B,\n,B,A,\n",
            [".AA.", "ABBA", ".BB.", ".BA."],
            {"row_1": "bottom", "blanks": "no stitch"},
        ),
        (",1,2,3,4\n1,A,B,B,A\n2,A,A,B,B\n3,B,B,B,B\n", ["BBBB", "AABB", "ABBA"], {}),
    ],
)
def test_text_files(text, rows, asks):
    """Rows by eye: as they stand in the text, turned over where numbers put row 1 at the top."""
    read = read_sheet(text.encode(), "chart.csv")
    assert rows_of(read) == rows
    assert asked(read) == asks


def test_colour_words_and_marks_get_letters():
    read = read_sheet(b"red,light blue,/\n" * 4, "chart.csv")
    assert read.colours == {"red": "#ff0000", "L": "#add8e6"}
    assert 'Letters given: "light blue" is L, "/" is A.' in read.notes


def test_digits_with_rulers_at_both_sides_and_every_fifth_stitch():
    digits = [
        "1112111",
        "1122211",
        "1222221",
        "3322233",
        "3332333",
        "1111111",
        "2222222",
        "1313131",
    ]

    def draw(book, sheet):
        for i, row in enumerate(digits):
            number = len(digits) - i
            sheet.write(i, 0 if number % 2 == 0 else 8, number)
            for j, digit in enumerate(row):
                sheet.write(i, j + 1, int(digit))
        for stitch in (2, 4, 6):
            sheet.write(len(digits), 8 - stitch, stitch)

    read = read_sheet(workbook(draw), "digits.xlsx")
    assert rows_of(read) == [
        "".join({"1": "A", "2": "B", "3": "C"}[digit] for digit in row) for row in digits
    ]
    assert "Column A and column I and row 9 hold numbers and were left out." in read.notes


def test_fills_that_hardly_differ_are_one_and_yarns_are_found_by_colour():
    """Distances by scikit-image: the first two fills lie below 3, the third beyond."""
    colours = ["#b5452c", "#b6462c", "#b5552c", "#243b63"]
    lab = [rgb2lab([[[int(c[i : i + 2], 16) / 255 for i in (1, 3, 5)]]])[0, 0] for c in colours]
    assert deltaE_ciede2000(lab[0], lab[1]) < 3 < deltaE_ciede2000(lab[0], lab[2]) < 10

    def draw(book, sheet):
        for j, colour in enumerate([colours[0], *colours]):
            for i in range(3):
                sheet.write_blank(i, j, None, book.add_format({"bg_color": colour}))

    read = read_sheet(
        workbook(draw), "alike.xlsx", yarns={"N": "#243b63", "R": "#b5452c", "A": "#00ff00"}
    )
    assert rows_of(read) == ["RRRBN"] * 3
    assert (
        "Fills that hardly differ from another were taken as that one: #b6462c (#b5452c)."
        in read.notes
    )
    assert "Letters given: #b5452c is R, #b5552c is B, #243b63 is N." in read.notes


def test_letters_and_fills_that_agree_and_that_do_not():
    rows = ["ABAB", "BABA", "AABB"]
    good = workbook(
        lambda book, sheet: write_letters(
            sheet, rows, formats=fills(book, {"A": "#f1e9d2", "B": "#f2e9d2"})
        )
    )
    read = read_sheet(good, "good.xlsx")
    assert rows_of(read) == rows
    assert read.colours == {"A": "#f1e9d2", "B": "#f2e9d2"}
    assert asked(read) == {"row_1": "bottom"}

    def draw(book, sheet):
        f = fills(book, {"A": "#f1e9d2", "B": "#243b63"})
        write_letters(sheet, rows, formats=f)
        sheet.write(0, 0, "A", f["B"])

    read = read_sheet(workbook(draw), "odd.xlsx")
    assert rows_of(read) == rows
    assert asked(read) == {"by": "letters", "row_1": "bottom"}
    assert rows_of(read_sheet(workbook(draw), "odd.xlsx", by="fills")) == ["AABA", "ABAB", "BBAA"]


def test_counts_written_into_filled_cells_are_no_yarns():
    def draw(book, sheet):
        f = fills(book, {"R": "#b5452c", "W": "#f1e9d2"})
        for i in range(6):
            for j in range(12):
                sheet.write(
                    i,
                    j,
                    i + 1 if j == 0 else 5 - i if j == 5 else "",
                    f["R" if j > 5 + i // 2 else "W"],
                )

    read = read_sheet(workbook(draw), "counts.xlsx", yarns={"R": "#b5452c", "W": "#f1e9d2"})
    assert rows_of(read) == ["W" * (6 + i // 2) + "R" * (6 - i // 2) for i in range(6)]


def test_merged_runs_with_their_counts_are_read_by_their_fills():
    rows = ["WWWWWRRR", "WWWWRRRR", "WWWRRWWW"]

    def draw(book, sheet):
        f = fills(book, {"R": "#b5452c", "W": "#f1e9d2"})
        for i, row in enumerate(rows):
            sheet.write(i, 0, "RS" if i % 2 == 0 else "WS")
            sheet.write(i, 1, 3 - i)
            for run in re.finditer(r"W+|R+", row):
                sheet.merge_range(i, 2 + run.start(), i, 1 + run.end(), len(run[0]), f[run[0][0]])

    read = read_sheet(workbook(draw), "runs.xlsx", yarns={"R": "#b5452c", "W": "#f1e9d2"})
    assert rows_of(read) == rows
    assert asked(read) == {"by": "fills"}


def test_row_1_at_the_top_as_asked_and_questions_settled():
    read = read_sheet(b"A,A\nA,B\n", "chart.csv", row_1="top")
    assert rows_of(read) == ["AB", "AA"]
    assert read.asks == ()
    assert (
        read.notes[-1]
        == "Row 1 is at the top, as you say; the rows were turned over, each reads as it stands."
    )


def test_the_sheet_with_the_chart_and_an_area():
    def draw(book, notes, chart, small, secret):
        notes.write_column(
            0,
            0,
            ["A cardigan in three sizes", "Cast on 120 stitches", "Work 4 rows", "Gauge 22 by 30"],
        )
        write_letters(chart, ["AB" * 10, "BA" * 10] * 5, left=2)
        write_letters(chart, ["CC", "CC"], left=30)
        write_letters(small, ["AB", "BB"])
        write_letters(secret, ["AB" * 40] * 40)
        secret.hide()

    data = workbook(draw, ("Notes", "Front", "Pocket", "Scratch"))
    read = read_sheet(data, "cardigan.xlsx")
    assert (read.sheet, read.area) == ("Front", "C1:V10")
    assert read.sheets == ("Notes", "Front", "Pocket", "Scratch")
    assert (
        "Other cells hold titles, a key or notes and were left out: AE1, AF1, AE2, AF2."
        in read.notes
    )
    assert rows_of(read_sheet(data, "cardigan.xlsx", sheet="Pocket")) == ["AB", "BB"]
    assert rows_of(read_sheet(data, "cardigan.xlsx", sheet="Front", area="ae1:AF2")) == ["CC", "CC"]
    twin = workbook(
        lambda book, *sheets: [write_letters(sheet, ["AB", "BA"]) for sheet in sheets],
        ("Left", "Right"),
    )
    assert asked(read_sheet(twin, "twin.xlsx"))["sheet"] == "Left"


def many_fills(book, sheet):
    for i in range(2000):
        sheet.write_blank(
            i // 50,
            i % 50,
            None,
            book.add_format({"bg_color": f"#{i % 16:x}0{i // 16 % 16:x}0{i // 256:x}0"}),
        )


CHART = lettered(["AB", "BA"])
WORDS_ONLY = workbook(lambda book, sheet: sheet.write("A1", "only words here"))
BORDER_ONLY = workbook(
    lambda book, sheet: sheet.write_blank("B2", None, book.add_format({"border": 1}))
)


@pytest.mark.parametrize(
    ("data", "name", "settings", "words"),
    [
        (b"", "m.csv", {}, ["no chart in m.csv"]),
        (workbook(lambda book, sheet: None), "m.xlsx", {}, ["no chart in m.xlsx"]),
        (WORDS_ONLY, "m.xlsx", {}, ["no chart"]),
        (BORDER_ONLY, "m.xlsx", {}, ["no chart"]),
        (workbook(many_fills), "m.xlsx", {}, ["2,000 different fills", "load it as a picture"]),
        (lettered(["A"] * 2001), "m.xlsx", {}, ["1 stitch × 2,001 rows", "1,000 × 2,000"]),
        (("A," * 1001 + "B\n").encode(), "m.csv", {}, ["1,002 stitches"]),
        (CHART, "m.xlsx", {"sheet": "Back"}, ["no sheet 'Back'", "Motif"]),
        (CHART, "m.xlsx", {"by": "fills"}, ["no fills", "letters"]),
        (CHART, "m.xlsx", {"by": "colours"}, ['"colours"', "letters or fills"]),
        (CHART, "m.xlsx", {"area": "the lot"}, ['"the lot"', "C4:AF33"]),
        (CHART, "m.xlsx", {"area": "D1:F9"}, ["no chart", "D1:F9"]),
    ],
)
def test_refused_in_words(data, name, settings, words):
    with pytest.raises(PlanError) as caught:
        read_sheet(data, name, **settings)
    assert [word for word in words if word not in str(caught.value)] == [], str(caught.value)


def test_capitals_count_and_say_so():
    assert "Capitals count: A and a are two yarns." in read_sheet(b"A,a\nB,A\n", "chart.csv").notes


@pytest.mark.parametrize("word", ["rgb(0,0,1e308)", "oklch(50%1e308%1e308)", "lab(50% 1)", "#12"])
def test_words_that_only_look_like_colours_are_signs(word):
    """Four of each, so that they are no notes."""
    read = read_sheet(lettered([["A", word]] * 4), "m.xlsx")
    assert read.colours == {}
    assert len(read.chart.letters) == 2


def test_a_misspelt_setting_is_a_mistake_of_the_caller():
    with pytest.raises(TypeError, match="row1"):
        read_sheet(CHART, "m.xlsx", row1="top")
