"""Charts in and out: written rows, placing, sheets, artwork, palettes, tidying, handouts."""

from __future__ import annotations

import io
from collections.abc import Callable
from itertools import product

import numpy as np
import openpyxl
from openpyxl.styles import Border, PatternFill, Side
from openpyxl.styles.colors import Color
from PIL import Image, ImageCms, ImageDraw

from tests.net.names import chart_lines, house
from tests.net.pieces import patches, piece, yarns
from tests.net.sections import section
from tests.net.text import Titled, answer

HEART = ["..xx.xx..", ".xxxxxxx.", ".xxxxxxx.", "..xxxxx..", "...xxx...", "....x...."]
WAYS = (
    house.Construction(),
    house.Construction("flat", "WS", "left"),
    house.Construction("rounds"),
    house.Construction(fabric="garter"),
)
WRITTEN = (
    "Row 1 (RS): 3 A, 2 B\nRow 2: 2 B, 3 A",
    "row 1: (1 A, 1 B) 2 times, 1 A. (5 sts)\nrows 2-4: A5 - 5 sts",
    "Round 1: *1 A, 1 B; repeat from * once, 2 C\nRounds 2 to 3: 6 D",
    "Ridge 1: *2 A, 1 B; rep from * to end\nRidge 2: 9 A",
    "Row 1: *2 A, 1 B; rep from * to end of row\nRow 2: 8 A",
    "Row 1: 1 C, *2 A, 1 B; rep from * to end, 2 C\nRow 2: 12 A",
    "Row 1: 2 no stitch, [1 A, 2 B] twice, 1 no-st\nRow 2: 9 C",
    "Row 1: 4 A\nRow 3: 4 A",
    "Row 1: 4 A\nRow 1: 4 A",
    "Row 1 (WS): 4 A",
    "Row 2 to 1: 4 A",
    "Row 1: 4 A, 2 B (7 sts)",
    "Row 1: 4 A\nRow 2: 5 A",
    "Row 1: 4 A, (2 B",
    "Row 1: 4 A, 2 B) 3 times",
    "Row 1: 4 A, repeat from * once",
    "Row 1: four A",
    "Knit 4 A",
    "Row 1: *4 A; rep from * to end",
    "Row 1: 4 ABCD",
    "",
)


@section
def written_rows() -> Titled:
    """Charts in written rows, out and in, and what cannot be read."""
    for number, how in enumerate(WAYS):
        chart = patches(130 + number, shaped=True)
        text = house.write_rows(chart, how)
        yield f"written {how}", text
        yield "the same", str(house.read_rows(text, how) == chart)
        for words in WRITTEN:
            yield words, answer(house.read_rows, words, how)
    for words in WRITTEN[:3]:
        yield f"{words}, in A and B", answer(house.read_rows, words, WAYS[0], yarns=("A", "B"))


@section
def placing() -> Titled:
    """Charts set into a piece, laid on one another, repeated, mirrored, made whole from half."""
    motif = house.Chart.from_rows(["B.B", ".B.", "BBB"])
    for across, up in product(("left", "centre", "right", 2), ("bottom", "centre", "top", 1)):
        for stitches, rows, spare in ((9, 7, ()), (10, 8, ("right", "top")), (10, 8, ())):
            given = {"stitches": stitches, "rows": rows, "across": across, "up": up}
            placed = answer(house.set_into, motif, ground="A", spare_at=spare, **given)
            yield f"{given} {spare}", placed
    for given in ({"stitches": 2}, {"stitches": 9, "across": 7}, {"stitches": 9, "across": "up"}):
        yield f"{given}", answer(house.set_into, motif, ground="A", **given)
    yield "on shaped", answer(house.set_on, patches(140, shaped=True), motif, stitch=1, row=1)
    for stitch, row in ((4, 5), (0, 1), (19, 1), (1, 13)):
        yield (
            f"on {stitch} {row}",
            answer(house.set_on, patches(141), motif, stitch=stitch, row=row),
        )
    yield "repeated", house.repeat(motif, across=3, up=2)
    yield "none", answer(house.repeat, motif, across=0)
    yield "mirrored", house.mirror(patches(142, shaped=True))
    for edge, centre in product(("left", "right", "top"), ("once", "twice", "never")):
        yield f"{edge} {centre}", answer(motif.whole, centre_at=edge, centre=centre)
    chart = patches(143)
    yield (
        "counts",
        [repr(chart), chart.stitches(), chart.rows, chart.columns, house.chart_csv(chart)],
    )
    yield (
        "free letters",
        [house.free_letter("ABD"), house.free_letter(list(map(chr, range(65, 91))))],
    )


CHARTS = (
    [],
    ["AB", "A"],
    ["AB", "A1"],
    ["AB", ["A", ""]],
    ["AB", ".."],
    ["A", "ABCD"],
    [["Abc", "é"], ["A", "B"]],
)


@section
def charts_refused() -> Titled:
    """Rows that are no chart."""
    for rows in CHARTS:
        yield f"{rows}", answer(house.Chart.from_rows, rows)
        yield "from a file", answer(house.Chart.from_rows, rows, source="x.csv", lines=[4, 9])


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
    put(sheet, ["AB", "BA"], top=4, left=18)


def misnumbered(_, sheet):
    """Every second row numbered, one number wrong, one number lost among the stitches."""
    rows = ["".join(row) for row in patches(152, stitches=12, rows=20).to_rows()]
    put(sheet, rows, left=2)
    for i in range(0, 20, 2):
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


def encoded(picture, kind: str = "PNG", **how) -> bytes:
    """The bytes of a picture file, of a picture or of an array of its pixels."""
    data = io.BytesIO()
    if isinstance(picture, np.ndarray):
        picture = Image.fromarray(picture)
    picture.save(data, kind, **how)
    return data.getvalue()


def flat_art() -> Image.Image:
    """A disc, a bar and a triangle in flat colours."""
    picture = Image.new("RGB", (120, 90), "#f0e6d2")
    draw = ImageDraw.Draw(picture)
    draw.ellipse((10, 10, 60, 60), fill="#b5452c")
    draw.rectangle((50, 50, 115, 70), fill="#243b63")
    draw.polygon(((70, 8), (110, 8), (90, 45)), fill="#3f8f8b")
    return picture


def photograph() -> Image.Image:
    """Soft colours with grain."""
    y, x = np.mgrid[0:160, 0:200]
    grain = np.random.default_rng(8).integers(-6, 7, (160, 200, 3))
    soft = np.stack((x, y * 3 // 2, 255 - (x + y) // 2), axis=-1) + grain
    return Image.fromarray(np.clip(soft, 0, 255).astype(np.uint8))


def see_through() -> Image.Image:
    """Flat art with a transparent corner."""
    picture = flat_art().convert("RGBA")
    picture.paste((0, 0, 0, 0), (0, 0, 40, 30))
    return picture


def profiles():
    """A colour profile of the usual kind, one by another name, and one that is none."""
    usual = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    yield "usual", usual
    yield "other", usual.replace("sRGB".encode("utf-16-be"), "wide".encode("utf-16-be"))
    yield "odd", b"no profile at all"


def turned() -> bytes:
    """Flat art as a camera held upright notes it."""
    exif = Image.Exif()
    exif[0x0112] = 6
    return encoded(flat_art(), exif=exif)


def picture_files():
    """Picture files of every kind, by name."""
    yield "flat", encoded(flat_art())
    yield "photograph", encoded(photograph())
    yield "jpeg", encoded(photograph(), "JPEG", quality=90)
    yield "see-through", encoded(see_through())
    yield "palette", encoded(flat_art().quantize(8))
    yield "grey", encoded(flat_art().convert("L"))
    yield "deep grey", encoded((np.arange(5400).reshape(60, 90) * 12).astype(np.uint16))
    yield "black and white", encoded(flat_art().convert("1"))
    yield "print", encoded(flat_art().convert("CMYK"), "JPEG")
    yield "turned", turned()
    yield "see-through grey", encoded(see_through().convert("LA"))
    for name, profile in profiles():
        yield f"{name} profile", encoded(flat_art(), icc_profile=profile)
    yield "large", encoded(flat_art().resize((3000, 2400), Image.Resampling.NEAREST))
    yield "cut short", encoded(flat_art())[:300]
    yield "empty", b""
    yield "gif", encoded(flat_art(), "GIF")


@section
def artwork() -> Titled:
    """Picture files opened and made into charts, flat or as photographs, placed and in yarns."""
    for name, data in picture_files():
        art = answer(house.open_artwork, data, f"{name}.png")
        if isinstance(art, str):
            yield name, art
            continue
        shape = [*art.pixels.shape, int(art.pixels.sum())]
        yield name, [shape, list(art.notes), art.looks_flat, art.suggested_yarns]
        yield "rows", [art.rows_for(40, 0.73), art.rows_for(7, 1.3)]
        given = {"count": 4} if name == "photograph" else {}
        yield "chart", charted(art, 24, 22, 0.75, **given)
    art = house.open_artwork(encoded(flat_art()), "flat.png")
    for given in (
        {"flat": False, "count": 3},
        {"yarns": ("#f0e6d2", "#b5452c", "navy")},
        {"across": 0, "up": 1, "zoom": 2},
        {"across": 1, "up": 0.2, "zoom": 3.3},
        {"count": 0},
        {"count": 27},
        {"yarns": ("#12",)},
        {"across": 2},
        {"zoom": 0.5},
    ):
        yield f"{given}", charted(art, 30, 20, 0.8, **given)
    for stitches, rows, aspect in ((0, 4, 1), (3000, 4, 1), (4, 4, 0), (1.5, 2, 1)):
        yield f"{stitches} {rows} {aspect}", charted(art, stitches, rows, aspect)
    yield "too few letters", answer(house.chart_picture(art, 9, 9, 1).chart, "A")


def charted(art, *size, **given) -> list:
    """A picture as a chart."""
    picture = answer(house.chart_picture, art, *size, **given)
    if isinstance(picture, str):
        return [picture]
    far = picture.difference
    parts = [picture.palette, picture.cells, list(picture.notes)]
    return [
        *parts,
        [float(far.mean()), float(far.max())],
        int(picture.shown.sum()),
        picture.chart(),
    ]


@section
def palettes() -> Titled:
    """Colours as the eye sees them, and those picked from pictures."""
    colours = house.from_hex(("#000000", "#ffffff", "#b5452c", "teal", "#808080", "#010203"))
    lab = house.lab_of(colours)
    yield "lab", [lab, house.rgb_of(lab), house.rgb_of(lab * 1.4), house.to_hex(colours)]
    yield "no colour", answer(house.from_hex, ("nothing",))
    for picture in (flat_art(), photograph()):
        pixels = np.asarray(picture).reshape(-1, 3)
        for count, flat in product((2, 5, 9), (True, False)):
            picked = house.pick_colours(pixels, count, flat=flat)
            yield f"{count} {flat}", house.to_hex(picked)
        yield (
            "flat colours",
            [house.to_hex(house.flat_colours(pixels, apart=a)) for a in (3, 10, 30)],
        )


@section
def tidying() -> Titled:
    """Pictures' charts tidied level by level, flat and in a tube, and what each level costs."""
    arts = [
        house.open_artwork(encoded(p), "x.png") for p in (flat_art(), photograph(), see_through())
    ]
    for number, art in enumerate(arts):
        picture = house.chart_picture(art, 40, 30, 0.75, count=5)
        for tube in (False, True):
            levels = house.tidied(picture, tube=tube)
            yield f"picture {number} {tube}", [level.cells for level in levels]
            how = house.Construction("rounds" if tube else "flat")
            limits = {"A": house.CarryLimits(2, 3, 1)}
            yield "levels", house.compare_levels(levels, how, by_yarn=limits)


def on_squares(cells, wide: int, high: int, *, line: int = 1, margin: int = 0, marks=False):
    """A chart on squared paper: flat cells, grid lines, a margin with strokes like numbers."""
    colours = ("#ebe1cd", "#284678", "#c83c32", "#5a8c50")
    rows, stitches = cells.shape
    size = (stitches * wide + 2 * margin + line, rows * high + 2 * margin + line)
    picture = Image.new("RGB", size, "white")
    draw = ImageDraw.Draw(picture)
    for i, j in np.ndindex(*cells.shape):
        x, y = margin + j * wide, margin + i * high
        draw.rectangle((x, y, x + wide - 1, y + high - 1), fill=colours[cells[i, j]])
        if marks and cells[i, j]:
            draw.line((x + 3, y + 3, x + wide - 4, y + high - 4), fill="black", width=3)
    for at in range(stitches + 1) if line else ():
        x = margin + at * wide
        draw.line(
            (x, margin, x, margin + rows * high), fill="#5a5a5a", width=line + 2 * (at % 10 == 0)
        )
    for at in range(rows + 1) if line else ():
        y = margin + at * high
        draw.line(
            (margin, y, margin + stitches * wide, y),
            fill="#5a5a5a",
            width=line + 2 * (at % 10 == 0),
        )
    for at in range(rows) if margin else ():
        y = margin + at * high + high // 2
        draw.line((size[0] - margin + 5, y, size[0] - margin + 9, y), fill="black")
    return picture


@section
def grid_pictures() -> Titled:
    """Pictures of charts on squared paper read back."""
    cells = np.asarray(patches(160, stitches=24, rows=18, yarns=4, strays=9).cells)[::-1]
    for wide, high, line, margin, marks in (
        (12, 12, 1, 0, False),
        (14, 10, 1, 40, True),
        (9, 12, 0, 0, False),
        (16, 12, 2, 25, False),
        (10, 10, 0, 30, False),
    ):
        made = on_squares(cells, wide, high, line=line, margin=margin, marks=marks)
        kind = "JPEG" if margin == 25 else "PNG"
        art = house.open_artwork(encoded(made, kind), "grid.png")
        yield f"{wide} {high} {line} {margin} {marks}", reading(art)
    yield "in yarns", reading(art, yarns=("#ebe1cd", "#284678", "#c83c32"))
    yield "three colours", reading(art, count=3)
    yield "said", reading(art, stitches=20, rows=12)
    for picture in (flat_art(), photograph()):
        art = house.open_artwork(encoded(picture), "picture.png")
        yield "no grid", reading(art)
        yield "no grid, said", reading(art, stitches=12, rows=9)


def reading(art, **given) -> list:
    """What a picture of a chart was read as."""
    read = answer(house.read_grid_picture, art, **given)
    if isinstance(read, str):
        return [read]
    doubts = [int(read.doubtful.sum()), *sorted(set(read.why.ravel().tolist()))]
    return [read.chart(), read.palette, list(read.notes), doubts, list(map(float, read.box))]


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
