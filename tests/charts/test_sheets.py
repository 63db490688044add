"""Spreadsheets read as charts: workbooks by XlsxWriter, odd habits, and what must be refused in words.

Charts are compared with the rows they were drawn from; tinted colours with the formula of ECMA-376 18.8.19 worked here anew.
"""

import colorsys
import io
import re
import tracemalloc
import zipfile

import openpyxl
import pytest
import xlsxwriter
from skimage.color import deltaE_ciede2000, rgb2lab

from planner import PlanError
from planner.charts.fills import tinted
from planner.charts.sheets import read_sheet

HEART = ["..xx.xx..", ".xxxxxxx.", ".xxxxxxx.", "..xxxxx..", "...xxx...", "....x...."]


def workbook(draw, sheets=("Motif",)) -> bytes:
    """A workbook by XlsxWriter; `draw(book, *sheets)` fills it."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    draw(book, *(book.add_worksheet(name) for name in sheets))
    book.close()
    return out.getvalue()


def write_rows(sheet, rows, *, top=0, left=0, formats=None):
    """Letters (and fills, where a letter has a format) from a cell on; a blank stays one."""
    for i, row in enumerate(rows):
        for j, cell in enumerate(row):
            if cell != " ":
                sheet.write(top + i, left + j, cell, (formats or {}).get(cell))


def fills(book, colours):
    return {letter: book.add_format({"bg_color": colour}) for letter, colour in colours.items()}


def rows_of(read):
    return ["".join(row) for row in read.chart.to_rows()]


def asked(read):
    return {question.setting: question.taken for question in read.asks}


def with_part(data: bytes, part: str, change) -> bytes:
    """The workbook with one part changed."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            new.writestr(name, change(old.read(name)) if name == part else old.read(name))
    return out.getvalue()


SHEET_1 = "xl/worksheets/sheet1.xml"


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
    """Rows by eye: as they stand in the text, turned over where the numbers put row 1 at the top."""
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


def test_merged_cells_are_as_many_stitches_and_rows():
    def draw(book, sheet):
        f = fills(book, {"A": "#ffffff", "B": "#112233"})
        sheet.merge_range("A1:C2", "A", f["A"])
        sheet.merge_range("D1:D2", "B", f["B"])
        sheet.merge_range("A3:B3", "B", f["B"])
        sheet.merge_range("C3:D3", "A", f["A"])

    read = read_sheet(workbook(draw), "merged.xlsx")
    assert rows_of(read) == ["AAAB", "AAAB", "BBAA"]
    assert "Merged cells count as the stitches they span." in read.notes
    assert read.colours == {"A": "#ffffff", "B": "#112233"}


def test_hidden_rows_and_columns():
    rows = ["ABAB", "BBBB", "AABB", "ABBB"]

    def draw(book, sheet):
        write_rows(sheet, rows, left=1)
        for i in range(4):
            sheet.write(i, 0, 4 - i)
        sheet.set_row(1, None, None, {"hidden": True})
        sheet.set_column("D:D", None, None, {"hidden": True})

    read = read_sheet(workbook(draw), "hidden.xlsx")
    assert rows_of(read) == ["ABB", "AAB", "ABB"]
    assert "1 hidden row and 1 hidden column were left out." in read.notes
    kept = read_sheet(workbook(draw), "hidden.xlsx", hidden="kept")
    assert rows_of(kept) == rows
    assert "1 hidden row and 1 hidden column were kept." in kept.notes


# Office's usual theme: light 1, dark 1, light 2, dark 2, six accents.
THEME = (
    "#ffffff",
    "#000000",
    "#eeece1",
    "#1f497d",
    "#4f81bd",
    "#c0504d",
    "#9bbb59",
    "#8064a2",
    "#4bacc6",
    "#f79646",
)


def in_hls(colour: str, tint: float) -> str:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    h, lightness, s = colorsys.rgb_to_hls(*parts)
    new = (
        lightness * (1.0 + tint)
        if tint < 0
        else lightness * (1.0 - tint) + (1.0 - 1.0 * (1.0 - tint))
    )
    return "#" + "".join(f"{round(part * 255):02x}" for part in colorsys.hls_to_rgb(h, new, s))


def test_theme_colours_and_their_tints():
    """XlsxWriter's shades 0 to 5 of a theme colour are the tints Excel offers, read back from its own styles."""

    def draw(book, sheet):
        for column in range(10):
            for row in range(6):
                colour = xlsxwriter.color.Color.theme(column, row)
                sheet.write_string(
                    row,
                    column,
                    chr(65 + column) * 2 + chr(65 + row),
                    book.add_format({"bg_color": colour}),
                )

    data = workbook(draw)
    sheet = openpyxl.load_workbook(io.BytesIO(data)).active
    read = read_sheet(data, "theme.xlsx", by="letters")
    for column, plain in enumerate(THEME):
        for row in range(6):
            tint = sheet.cell(row + 1, column + 1).fill.fgColor.tint
            assert read.colours[chr(65 + column) * 2 + chr(65 + row)] == (
                in_hls(plain, tint) if tint else plain
            )


@pytest.mark.parametrize(
    ("tint", "excel"),
    [
        (0.7999, "dce6f1"),
        (0.5999, "b8cce4"),
        (0.3999, "95b3d7"),
        (-0.2499, "366092"),
        (-0.4999, "244062"),
    ],
)
def test_tints_as_excel_shows_them(tint, excel):
    """Accent 1, #4f81bd, lighter by 80, 60, 40 % and darker by 25, 50 % (from memory); Excel rounds on its way: one step off."""
    ours = tinted("#4f81bd", tint)
    assert (
        max(abs(int(ours[i + 1 : i + 3], 16) - int(excel[i : i + 2], 16)) for i in (0, 2, 4)) <= 1
    )


def test_other_kinds_of_colour():
    """Indexed colours (10 red, 12 blue, 65 the window's white; ECMA-376 18.8.27, from memory), a pattern, ARGB with no alpha."""
    book = openpyxl.Workbook()
    fill, colour = openpyxl.styles.PatternFill, openpyxl.styles.Color
    kinds = [fill("solid", fgColor=colour(indexed=i)) for i in (10, 12, 65)] + [
        fill("solid", fgColor="00123456")
    ]
    for column, kind in enumerate([*kinds, fill("darkUp", fgColor="FF0000")], 1):
        for row in (1, 2, 3):
            book.active.cell(row, column, "VWXYZ"[column - 1]).fill = kind
    out = io.BytesIO()
    book.save(out)
    read = read_sheet(out.getvalue(), "kinds.xlsx")
    assert read.colours == {"V": "#ff0000", "W": "#0000ff", "X": "#ffffff", "Y": "#123456"}


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
        lambda book, sheet: write_rows(
            sheet, rows, formats=fills(book, {"A": "#f1e9d2", "B": "#f2e9d2"})
        )
    )
    read = read_sheet(good, "good.xlsx")
    assert rows_of(read) == rows
    assert read.colours == {"A": "#f1e9d2", "B": "#f2e9d2"}
    assert asked(read) == {"row_1": "bottom"}

    def draw(book, sheet):
        f = fills(book, {"A": "#f1e9d2", "B": "#243b63"})
        write_rows(sheet, rows, formats=f)
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
        write_rows(chart, ["AB" * 10, "BA" * 10] * 5, left=2)
        write_rows(chart, ["CC", "CC"], left=30)
        write_rows(small, ["AB", "BB"])
        write_rows(secret, ["AB" * 40] * 40)
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
        lambda book, *sheets: [write_rows(sheet, ["AB", "BA"]) for sheet in sheets],
        ("Left", "Right"),
    )
    assert asked(read_sheet(twin, "twin.xlsx"))["sheet"] == "Left"


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


@pytest.mark.parametrize(("cells", "sized"), [(0, True), (10, False)])
def test_a_million_formatted_rows(cells, sized):
    """Red rows and cells without a letter, below the chart and to the last row; with and without the sheet's own size."""
    rows = ["AB" * 20, "BA" * 20] * 30
    data = workbook(
        lambda book, sheet: write_rows(
            sheet, rows, formats=fills(book, {"A": "#ff0000", "B": "#00ff00"})
        )
    )

    def change(xml):
        row = '<row r="%d" s="1" customFormat="1">' + '<c s="1"/>' * cells + "</row>"
        xml = xml.replace(
            b"</sheetData>",
            "".join(row % n for n in range(61, 1_000_001)).encode() + b"</sheetData>",
        )
        return xml if sized else xml.replace(b'<dimension ref="A1:AN60"/>', b"")

    data = with_part(data, SHEET_1, change)
    tracemalloc.start()
    read = read_sheet(data, "endless.xlsx")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert rows_of(read) == rows
    assert peak < 100e6  # bytes


def test_a_whole_sheet_merged_and_a_cell_far_away_cost_little():
    data = workbook(
        lambda book, sheet: [write_rows(sheet, ["AB", "BA"]), sheet.write("XFD2", "far away")]
    )
    merge = b'</sheetData><mergeCells count="1"><mergeCell ref="D1:XFD1048576"/></mergeCells>'
    assert rows_of(
        read_sheet(
            with_part(data, SHEET_1, lambda xml: xml.replace(b"</sheetData>", merge)), "wide.xlsx"
        )
    ) == [
        "AB",
        "BA",
    ]


def test_formulas_give_their_results_and_nothing_runs():
    def draw(book, sheet):
        sheet.write_formula("A1", '=IF(1=1,"A","B")', None, "A")
        sheet.write("B1", "B")
        sheet.write("A2", "B")
        sheet.write_formula("B2", '=HYPERLINK("http://example.com","A")', None, "A")
        sheet.write("D1", "<script>alert(1)</script>")
        sheet.write_string("D2", '=cmd|" /C calc"!A0')

    assert rows_of(read_sheet(workbook(draw), "formulas.xlsx")) == ["AB", "BA"]


def bare_formula():
    book = openpyxl.Workbook()
    for row in ("A", "B", '=IF(TRUE,"A","B")'), ("B", "A", "B"):
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def many_fills(book, sheet):
    for i in range(2000):
        sheet.write_blank(
            i // 50,
            i % 50,
            None,
            book.add_format({"bg_color": f"#{i % 16:x}0{i // 16 % 16:x}0{i // 256:x}0"}),
        )


def bomb():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/styles.xml", bytes(2**26 + 1))
    return out.getvalue()


OLE = bytes.fromhex("d0cf11e0a1b11ae1") + bytes(504)
CHART = workbook(lambda book, sheet: write_rows(sheet, ["AB", "BA"]))


@pytest.mark.parametrize(
    ("data", "name", "settings", "words"),
    [
        (OLE + "EncryptedPackage".encode("utf-16-le"), "m.xlsx", {}, ["m.xlsx", "password"]),
        (OLE + "Workbook".encode("utf-16-le"), "m.xls", {}, ["m.xls", "old .xls", "save it as .xlsx"]),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "m.xlsx", {}, ["picture"]),
        (b"<html><table><tr><td>A</td></tr></table></html>", "m.xls", {}, ["web page"]),
        (b"PK\3\4 and no more", "m.xlsx", {}, ["cannot be read as a workbook"]),
        (CHART[:-200], "m.xlsx", {}, ["cannot be read as a workbook"]),
        (bomb(), "m.xlsx", {}, ["unpacks to more"]),
        (b"", "m.csv", {}, ["no chart in m.csv"]),
        (workbook(lambda book, sheet: None), "m.xlsx", {}, ["no chart in m.xlsx"]),
        (workbook(lambda book, sheet: sheet.write("A1", "only words here")), "m.xlsx", {}, ["no chart"]),
        (workbook(lambda book, sheet: sheet.write_blank("B2", None, book.add_format({"border": 1}))), "m.xlsx", {}, ["no chart"]),
        (bare_formula(), "m.xlsx", {}, ["cell C1", "formula without a result"]),
        (workbook(many_fills), "m.xlsx", {}, ["2,000 different fills", "load it as a picture"]),
        (workbook(lambda book, s: write_rows(s, ["A"] * 2001)), "m.xlsx", {}, ["1 stitch × 2,001 rows", "1,000 × 2,000"]),
        (("A," * 1001 + "B\n").encode(), "m.csv", {}, ["1,002 stitches"]),
        (CHART, "m.xlsx", {"sheet": "Back"}, ["no sheet 'Back'", "Motif"]),
        (CHART, "m.xlsx", {"by": "fills"}, ["no fills", "letters"]),
        (CHART, "m.xlsx", {"by": "colours"}, ['"colours"', "letters or fills"]),
        (CHART, "m.xlsx", {"area": "the lot"}, ['"the lot"', "C4:AF33"]),
        (CHART, "m.xlsx", {"area": "D1:F9"}, ["no chart", "D1:F9"]),
        ("A,B\nA,é\n".encode("latin-1"), "m.csv", {}, ["m.csv line 2", "UTF-8"]),
        (b'A,"B\nA,B\n', "m.csv", {}, ["quotation mark"]),
    ],
)  # fmt: skip
def test_refused_in_words(data, name, settings, words):
    with pytest.raises(PlanError) as caught:
        read_sheet(data, name, **settings)
    assert [word for word in words if word not in str(caught.value)] == [], str(caught.value)


def test_errors_in_cells_are_named():
    def change(xml):
        return xml.replace(
            b'<c r="B1" t="s"><v>1</v></c>', b'<c r="B1" t="e"><f>1/0</f><v>#DIV/0!</v></c>'
        )

    with pytest.raises(PlanError, match="cell B1 holds the error #DIV/0!"):
        read_sheet(with_part(CHART, SHEET_1, change), "m.xlsx")


def test_text_named_as_a_workbook_is_read_as_text():
    read = read_sheet(b"A,B\nB,A\n", "chart.xlsx")
    assert rows_of(read) == ["AB", "BA"]
    assert "chart.xlsx is plain text, not a workbook, and was read as text." in read.notes


def test_capitals_count_and_say_so():
    assert "Capitals count: A and a are two yarns." in read_sheet(b"A,a\nB,A\n", "chart.csv").notes
