"""Where a chart stands on a page, among paint, keys, frames and the parts of a motif."""

from planner.charts.sheets import read_sheet
from tests.helpers.workbooks import (
    HEART,
    fills,
    rows_of,
    workbook,
    write_letters,
)


def test_a_sheet_painted_white_is_cut_to_its_rulers():
    rows = ["WWWWWW", "WWRRWW", "WWRRWW", "WWWWRW", "WWWWWW"]

    def draw(book, sheet):
        f = fills(book, {"R": "#b5452c", "W": "#ffffff"})
        for i in range(20):
            for j in range(20):
                inside = 4 <= i < 9 and 5 <= j < 11
                sheet.write_blank(i, j, None, f[rows[i - 4][j - 5] if inside else "W"])
        for i in range(5):
            sheet.write(4 + i, 11, 5 - i, f["W"])
        for j in range(6):
            sheet.write(9, 5 + j, 6 - j, f["W"])

    read = read_sheet(workbook(draw), "white.xlsx", yarns={"R": "#b5452c", "W": "#ffffff"})
    assert rows_of(read) == rows
    assert not any("Other cells" in note for note in read.notes)


def test_a_key_that_touches_the_chart_is_left_out():
    rows = ["ABCA", "BCAB", "CABC", "ABCA", "BCAB", "CCAA", "AABB"]

    def draw(book, sheet):
        f = fills(book, {"A": "#243b63", "B": "#f1e9d2", "C": "#b5452c"})
        for i, row in enumerate(rows):
            for j, cell in enumerate(row):
                sheet.write_blank(i, j, None, f[cell])
        for i, (letter, name) in enumerate({"A": "Midnight", "B": "Cream", "C": "Rust"}.items()):
            sheet.write_blank(i, 4, None, f[letter])
            sheet.write(i, 5, name)

    colours = {"A": "#243b63", "B": "#f1e9d2", "C": "#b5452c"}
    assert rows_of(read_sheet(workbook(draw), "key.xlsx", yarns=colours)) == rows


def test_ruled_cells_show_how_far_a_blank_ground_reaches():
    def draw(book, sheet):
        ruled = book.add_format({"border": 1})
        for i in range(10):
            for j in range(13):
                sheet.write(
                    i + 3,
                    j + 2,
                    "x" if 2 <= i < 8 and 2 <= j < 11 and HEART[i - 2][j - 2] == "x" else "",
                    ruled,
                )
        sheet.write("A1", "Heart, worked in two colours")

    blank = "A" * 13
    inner = ["AA" + row.replace(".", "A") + "AA" for row in HEART]
    assert rows_of(read_sheet(workbook(draw), "ruled.xlsx")) == [blank, blank, *inner, blank, blank]


def test_parts_of_a_motif_on_a_blank_ground_are_one_chart():
    dots = ["BB....BB", "BB....BB", "........", "...CC...", "........", "BB....BB", "BB....BB"]

    def draw(book, sheet):
        f = fills(book, {"B": "#b5452c", "C": "#243b63"})
        for i, row in enumerate(dots):
            for j, cell in enumerate(row):
                if cell != ".":
                    sheet.write_blank(i + 1, j + 1, None, f[cell])
        sheet.write_blank(3, 14, None, f["B"])
        sheet.write(3, 15, "Rust yarn")

    read = read_sheet(workbook(draw), "dots.xlsx")
    assert rows_of(read) == [row.replace(".", "A") for row in dots]


def test_a_numbered_key_on_a_white_sheet_does_not_cut_it_all_away():
    """The key's numbers count up at the edge of the white: one side of them holds nothing."""

    def draw(book, sheet):
        white = book.add_format({"bg_color": "#ffffff"})
        for row in range(6):
            for column in range(6):
                sheet.write_blank(row, column, None, white)
        for row in range(1, 5):
            sheet.write(row, 5, row, white)
            sheet.write(row, 6, f"Yarn {'abcd'[row - 1]}")
        write_letters(sheet, [[1, 3], [4, 2], [3, 1], [2, 4]], top=1, left=1)

    assert read_sheet(workbook(draw), "m.xlsx").area == "A2:F5"
