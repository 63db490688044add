"""Spreadsheets read as charts: letters, fills, blanks and rulers; what is asked and what refused.

Charts are compared with the rows they were drawn from.
"""

import pytest

from planner import PlanError
from planner.charts.sheets import read_sheet
from tests.helpers.workbooks import (
    HEART,
    asked,
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
        "Other cells hold no stitches of the chart, but titles, a key or notes: "
        "AE1, AF1, AE2, AF2." in read.notes
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


def test_a_misspelt_setting_is_a_mistake_of_the_caller():
    with pytest.raises(TypeError, match="row1"):
        read_sheet(CHART, "m.xlsx", row1="top")
