"""Sheets read as charts, and charts to hand out, which are read back."""

from __future__ import annotations

import io
from collections.abc import Callable
from itertools import product

import numpy as np
import openpyxl
from openpyxl.styles import Border, PatternFill, Side
from openpyxl.styles.colors import Color
from PIL import Image

from tests.net.charts import WAYS
from tests.net.names import chart_lines, house
from tests.net.pieces import patches, piece, yarns
from tests.net.sections import section
from tests.net.text import Titled, answer

HEART = ["..xx.xx..", ".xxxxxxx.", ".xxxxxxx.", "..xxxxx..", "...xxx...", "....x...."]


def book(draw: Callable, *titles: str) -> bytes:
    """A workbook that `draw` fills, given the book and its sheets."""
    made = openpyxl.Workbook()
    made.active.title = (titles or ("Motif",))[0]
    sheets = [made.active, *(made.create_sheet(title) for title in titles[1:])]
    draw(made, *sheets)
    data = io.BytesIO()
    made.save(data)
    return data.getvalue()


def solid(colour) -> PatternFill:
    """A plain fill in a colour, rrggbb or one of openpyxl's."""
    return PatternFill("solid", fgColor=colour)


def put(sheet, rows, *, top=1, left=1, fills=None):
    """Cells from a corner on; blanks stay, letters get their fills."""
    for i, row in enumerate(rows):
        for j, cell in enumerate(row):
            at = sheet.cell(top + i, left + j)
            if cell != " ":
                at.value = cell
            if fills and cell in fills:
                at.fill = solid(fills[cell])


def heart(_, sheet):
    """Fills on a bare ground, with a title, numbers at the left and below, and a key."""
    sheet.merge_cells("B1:J1")
    sheet["B1"] = "Heart for a cushion"
    for i, row in enumerate(HEART):
        sheet.cell(i + 3, 1, 6 - i)
        for j, cell in enumerate(row):
            if cell == "x":
                sheet.cell(i + 3, j + 2).fill = solid("B5452C")
    for j in range(9):
        sheet.cell(9, j + 2, 9 - j)
    sheet["M3"] = "Key"
    sheet["M4"].fill = solid("B5452C")
    sheet["N4"] = "Rust, 2 balls"


def lettered(_, sheet):
    """Letters and fills that go together, no numbers."""
    rows = ["".join(row) for row in patches(150, stitches=12, rows=9).to_rows()]
    put(sheet, rows, top=3, left=2, fills={"A": "8A8F98", "B": "6A2C5A", "C": "D9A321"})


def disagreeing(_, sheet):
    """Letters and fills that do not go together."""
    lettered(_, sheet)
    sheet["C5"].fill = solid("00FF00")
    sheet["D6"].fill = solid("00FF00")


def downwards(_, sheet):
    """Rows numbered from the top, every fifth stitch numbered, merged and hidden cells."""
    put(sheet, ["AAAABBBBCC", "AABBBBBCCC", "ABBBBBBCCC", "BBBBBBBBBC"], left=2)
    for i in range(4):
        sheet.cell(i + 1, 1, f"R{i + 1} ({'WS' if i % 2 else 'RS'})")
    for stitch in (5, 10):
        sheet.cell(5, 12 - stitch, stitch)
    sheet.merge_cells("B1:E1")
    sheet.row_dimensions[2].hidden = True
    sheet.column_dimensions["D"].hidden = True


def ruled(_, sheet):
    """A ruled chart with blanks, among letters."""
    thin = Border(*[Side("thin")] * 4)
    put(sheet, ["AA  BB", "A  B B", "AAABBB"], top=2, left=2)
    for row, column in product(range(2, 5), range(2, 8)):
        sheet.cell(row, column).border = thin
    sheet["A9"] = "worked in two colours"


def signed(_, sheet):
    """Fills, with signs on some of the blanks, and merged stitches."""
    lettered(_, sheet)
    for row in range(3, 12):
        sheet.cell(row, 5).value = sheet.cell(row, 6).value = None
        sheet.cell(row, 5).fill = sheet.cell(row, 6).fill = PatternFill()
    sheet["E4"] = "o"
    sheet["E7"] = "o"
    sheet.merge_cells("G3:I4")


def digits(_, sheet):
    """Colours written as numbers, numbered at alternate sides."""
    for i in range(8):
        sheet.cell(i + 1, 1 if i % 2 else 14, 8 - i)
        for j in range(12):
            sheet.cell(i + 1, j + 2, 1 + (i // 2 + j // 3) % 3)
    for j in range(12):
        sheet.cell(9, j + 2, 12 - j)
    for j in range(6):
        sheet.cell(4, j + 5).value = None
        sheet.cell(4, j + 5).fill = solid("D9A321")


def shades(_, sheet):
    """Fills that hardly differ, a tinted theme colour, an indexed one, a hatch."""
    colours = [
        Color(rgb="FFB5452C"),
        Color(rgb="FFB6462C"),
        Color(theme=4),
        Color(theme=4, tint=0.4),
    ]
    colours += [Color(theme=1, tint=-0.25), Color(indexed=12), Color(rgb="FFD9A321")]
    for i, j in product(range(6), range(14)):
        sheet.cell(i + 1, j + 1).fill = solid(colours[(i + j) // 2 % len(colours)])
    sheet["A1"].fill = PatternFill("lightUp", fgColor="FF0000")


def keyed(_, sheet):
    """One yarn on bare ground in parts, with numbers beside it, a key below, words and a stray."""
    motif = ["x..x....xx", ".xx.....x.", "..........", "x.x.x.x...", ".......xxx"]
    for i, row in enumerate(motif):
        sheet.cell(i + 4, 13, 5 - i)
        for j, cell in enumerate(row):
            if cell == "x":
                sheet.cell(i + 4, j + 3).fill = solid("243B63")
    for j in range(10):
        sheet.cell(10, j + 3, 10 - j)
    sheet["C13"].fill = solid("243B63")
    sheet["D13"] = "Midnight"
    sheet["C14"] = "WS"
    sheet["P4"].fill = solid("FFFFFF")


def keyed_beside(_, sheet):
    """Letters with a key that touches them, a title above, and numbers between."""
    rows = ["".join(row) for row in patches(151, stitches=11, rows=8).to_rows()]
    put(sheet, rows, top=2, left=3)
    sheet["C1"] = "Motif for a bag"
    for i in range(8):
        sheet.cell(i + 2, 2, 8 - i)
    for i, letter in enumerate("ABC"):
        sheet.cell(11 + i, 3, letter)
        sheet.cell(11 + i, 4, f"yarn {letter} of mine")
    for row in (14, 17, 19):
        sheet.cell(row, 7, "knit")
    put(sheet, ["AB", "BA"], top=4, left=18)


def misnumbered(_, sheet):
    """Every row numbered, one number wrong; one number lost among the stitches."""
    rows = ["".join(row) for row in patches(152, stitches=12, rows=20).to_rows()]
    put(sheet, rows, left=2)
    for i in range(20):
        sheet.cell(i + 1, 14, 20 - i if i != 6 else 99)
    sheet["F5"] = 3
    for stitch in (4, 8, 12):
        sheet.cell(21, 14 - stitch, stitch)


def several(made, first, second, third):
    """Charts on three sheets, one hidden, one small."""
    put(first, ["ABAB", "BABA", "ABAB"])
    put(second, [["light blue", "red", "red"]] * 5)
    put(third, ["AB" * 20] * 20)
    third.sheet_state = "hidden"


def troubled(_, sheet):
    """A formula without its result."""
    put(sheet, ["ABAB", "BABA", "ABAB"])
    sheet["B2"] = "=A1"


def broken(_, sheet):
    """An error in a cell."""
    put(sheet, ["ABAB", "BABA", "ABAB"])
    sheet["C3"] = "#N/A"


def crowded(_, sheet):
    """More signs than anybody has yarns."""
    put(sheet, [[chr(0x3400 + i * 9 + j) for j in range(9)] for i in range(9)])


def endless(_, sheet):
    """A chart with a format that runs on below what is read."""
    put(sheet, ["ABAB", "BABA", "ABAB"])
    for row in range(4, 3050):
        sheet.cell(row, 1).fill = solid("FFFFFF")


BOOKS = (
    heart,
    lettered,
    signed,
    keyed,
    keyed_beside,
    misnumbered,
    disagreeing,
    downwards,
    ruled,
    digits,
    shades,
    troubled,
    broken,
)
READ_BY = (
    {},
    {"by": "letters"},
    {"by": "fills"},
    {"row_1": "top"},
    {"row_1": "bottom", "blanks": "no stitch"},
    {"blanks": "ground", "hidden": "kept"},
    {"area": "C3:E5"},
    {"area": "nowhere"},
    {"area": "X90:Z99"},
    {"yarns": {"R": "#b8452d", "W": "#ffffff", "Q": "#8a8f98"}},
    {"by": "numbers"},
    {"sheet": "Other"},
)
TEXTS = (
    b"A,B,A\nB,A,B\n",
    "\ufeffA;é;A\nB;A;B\n".encode(),
    b"A\tB\tA\nB\tA\t\n",
    b"A B A\nB A B\n",
    b"AABB\nABAB\nA..B\n",
    b"3,A,B,a\n2,B,A,a\n1,A,A,A\n,3,2,1\n",
    b"red,light blue,/\nred,/,red\n",
    "A,B\n".encode("utf-16"),
    b"A,\xff\xfeB\n",
    b"",
    b"\n\n",
    b"<html><table></table>",
    b"\0\1\2\3\4\5",
    b'"A,B\n',
    b"PK\3\4 no workbook",
    bytes.fromhex("d0cf11e0a1b11ae1") + b"old",
    bytes.fromhex("d0cf11e0a1b11ae1") + "EncryptedPackage".encode("utf-16-le"),
)


def seen(read) -> list:
    """All that a sheet was read as."""
    if isinstance(read, str):
        return [read]
    asks = [(ask.setting, ask.words, ask.choices, ask.taken) for ask in read.asks]
    return [read.chart, read.colours, list(read.notes), asks, read.sheet, read.area, read.sheets]


@section
def sheets() -> Titled:
    """Workbooks and text files read as charts, with what is asked and said."""
    for draw, given in product(BOOKS, READ_BY):
        read = answer(house.read_sheet, book(draw), "chart.xlsx", **given)
        yield f"{draw.__name__} {given}", seen(read)
    titles = ("One", "Two", "Three")
    for given in ({}, {"sheet": "Two"}, {"sheet": "Three"}):
        read = answer(house.read_sheet, book(several, *titles), "chart.xlsx", **given)
        yield f"several {given}", seen(read)
    for draw in (crowded, endless):
        yield draw.__name__, seen(answer(house.read_sheet, book(draw), "chart.xlsx"))
    wide = ",".join("AB" * 600).encode()
    for number, text in enumerate((*TEXTS, wide)):
        for name in ("chart.csv", "chart.xlsx"):
            yield f"text {number} {name}", seen(answer(house.read_sheet, text, name))


def look_of(cell) -> list[str]:
    """A cell's place and value, its fill, and the colour and size of its letters."""
    ink = cell.font.color
    looks = (cell.fill.fgColor.rgb, ink.rgb if ink else "", cell.font.sz, cell.alignment.horizontal)
    return [cell.coordinate, *map(str, (cell.value, *looks))]


def workbook_cells(data: bytes) -> Titled:
    """A workbook's cells with their looks, its widths and heights."""
    for sheet in openpyxl.load_workbook(io.BytesIO(data)):
        cells = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
        yield sheet.title, [" ".join(look_of(cell)) for cell in cells]
        widths = [(key, round(at.width, 3)) for key, at in sheet.column_dimensions.items()]
        heights = [(key, at.height) for key, at in sheet.row_dimensions.items()]
        yield "sizes", [widths, heights]


@section
def handouts() -> Titled:
    """A chart to hand out as a picture and as a workbook, which is read back as the same chart."""
    known = dict(yarns()) | {"A": house.Yarn("A", "=1+1\x07", "#8a8f98")}
    for how, aspect in zip(WAYS, (0.73, 1.4, 1.0, 0.3), strict=True):
        chart = patches(170, stitches=9, rows=8, yarns=4, shaped=True)
        pixels = np.asarray(Image.open(io.BytesIO(house.chart_png(chart, known, aspect))))
        yield f"picture {aspect}", [*pixels.shape, pixels.tobytes()]
        data = house.chart_xlsx(chart, known, aspect, how)
        yield "the same bytes", str(data == house.chart_xlsx(chart, known, aspect, how))
        yield from workbook_cells(data)
        yield "read back", seen(answer(house.read_sheet, data, "handout.xlsx"))
    argyle = piece("argyle")
    large = Image.open(io.BytesIO(house.chart_png(argyle.chart, argyle.all_yarns, 0.7)))
    yield "large", [*large.size, len(chart_lines(argyle.chart))]
