"""What tells the yarns of a sheet apart: letters and fills, alike, together and at odds."""

import re

from skimage.color import deltaE_ciede2000, rgb2lab

from planner.charts.sheets import read_sheet
from tests.helpers.workbooks import asked, fills, rows_of, workbook, write_letters


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
    assert asked(read) == {}
    assert "The numbers in its cells count stitches; the fills were taken." in read.notes
