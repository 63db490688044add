"""A chart to hand out: as a workbook with fills, in plain blocks, and as one pixel a stitch.

The same chart gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO

import numpy as np
from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.worksheet import Worksheet
from PIL import Image
from PIL.PngImagePlugin import MAX_TEXT_CHUNK, PngInfo

from planner.charts.books import AREA_NAME, put_texts, undated
from planner.charts.carried import as_text
from planner.charts.picture import CARRIED
from planner.colour import NO_STITCH_GREY, ink_on, rgb_of
from planner.piece import NO_STITCH, Chart, Construction, Yarn

LONGEST_SIDE = 8000  # of the picture, in pixels
LONGEST_CARRIED = MAX_TEXT_CHUNK // 2  # letters
EDGE = Side("thin", "A6A6A6")
CELL_BORDER = Border(EDGE, EDGE, EDGE, EDGE)
MIDDLE = Alignment("center", "center")
INK = {"white": "FFFFFF", "black": "000000"}
RULER = "Ruler"  # how the numbers of rows and stitches look
TRANSPARENT = (0, 0, 0, 0)

Yarns = Mapping[str, Yarn]  # by letter
Looks = Mapping[str, str]  # by letter, the name of a style


def chart_png(chart: Chart, yarns: Yarns, aspect: float) -> bytes:
    """The chart as a PNG in plain blocks of the yarns' colours, no-stitch cells transparent.

    `aspect` is the height of a row of the chart ÷ the width of a stitch (in garter a row of the
    chart is two worked rows).
    """
    # As large as it may be, in cells of 12 to 24 pixels across.
    stitches_high = round(chart.rows * aspect)
    longer = max(chart.columns, stitches_high, 1)
    widest = LONGEST_SIDE // longer
    fewest = max(1, min(12, widest))
    most = max(1, min(24, widest))
    widths = range(fewest, most + 1)
    width, height = _cell_pixels(aspect, widths)
    lines = _pixels(chart, yarns).repeat(height, axis=0)
    return _png(lines.repeat(width, axis=1), _carried(chart, yarns))


def chart_pixels(chart: Chart, yarns: Yarns) -> bytes:
    """The chart as a PNG of one pixel a stitch, as other programs take it; no stitch is nothing.

    It knows no gauge: a viewer shows it flatter or taller than it is knitted.
    """
    return _png(_pixels(chart, yarns), _carried(chart, yarns))


def _pixels(chart: Chart, yarns: Yarns) -> np.ndarray:
    """Red, green, blue and how solid each stitch is, top row first."""
    colours = []
    for letter in chart.letters:
        red, green, blue = rgb_of(yarns[letter].colour)
        colours.append((red, green, blue, 1))
    colours.append(TRANSPARENT)  # last, where −1 finds it
    in_bytes = np.round(255 * np.array(colours))
    top_first = chart.cells[::-1]
    return in_bytes.astype(np.uint8)[top_first]


def _carried(chart: Chart, yarns: Yarns) -> PngInfo:
    """The chart itself, to travel in its picture."""
    info = PngInfo()
    colours = {letter: yarns[letter].colour for letter in chart.letters}
    text = as_text(chart, colours, {letter: yarns[letter].name for letter in chart.letters})
    # Longer texts in a picture are refused by whoever reads it.
    if len(text) < LONGEST_CARRIED:
        info.add_itxt(CARRIED, text, zip=True)
    return info


def _png(pixels: np.ndarray, info: PngInfo) -> bytes:
    saved = BytesIO()
    Image.fromarray(pixels).save(saved, "PNG", pnginfo=info)
    return saved.getvalue()


def _cell_pixels(aspect: float, widths: range) -> tuple[int, int]:
    """Width and height of a cell in whole pixels: of these the nearest to the aspect."""

    def height(width: int) -> int:
        return max(1, round(width * aspect))

    def off(width: int) -> float:
        return abs(height(width) / width - aspect)

    best = min(widths, key=off)
    return best, height(best)


def chart_xlsx(
    chart: Chart,
    yarns: Yarns,
    aspect: float,
    how: Construction,
) -> bytes:
    """The chart as a workbook: letters on fills at the true aspect (as for `chart_png`).

    Rows are numbered where they begin, stitches below from the right. A second sheet lists the
    yarns.
    """
    book = Workbook()
    looks = _add_looks(book, chart, yarns)
    sheet = book.active
    sheet.title = "Chart"
    _fill(sheet, chart, looks)
    # So that it is found again whatever its letters are, and whatever is written around it.
    last = f"${get_column_letter(chart.columns + 1)}${chart.rows}"
    book.defined_names[AREA_NAME] = DefinedName(AREA_NAME, attr_text=f"Chart!$B$1:{last}")
    _number(sheet, chart, how)
    _set_sizes(sheet, chart, aspect)
    listed = book.create_sheet("Yarns")
    _list_yarns(listed, chart, yarns, looks)
    saved = BytesIO()
    book.save(saved)
    return undated(saved.getvalue())


def _add_looks(book: Workbook, chart: Chart, yarns: Yarns) -> Looks:
    """How the cells of each letter look, and those of no stitch.

    As named styles of the workbook, which are far quicker to give to a cell than their parts.
    """
    looks: dict[str, str] = {}
    for number, letter in enumerate((*chart.letters, NO_STITCH), 1):
        colour = NO_STITCH_GREY
        if letter != NO_STITCH:
            colour = yarns[letter].colour
        style = NamedStyle(
            name=f"Yarn {number}",
            font=Font(size=8, color=INK[ink_on(colour)]),
            fill=PatternFill("solid", fgColor=colour[1:]),
            border=CELL_BORDER,
            alignment=MIDDLE,
        )
        book.add_named_style(style)
        looks[letter] = style.name
    small = Font(size=7, color="595959")
    ruler = NamedStyle(RULER, font=small, alignment=MIDDLE)
    book.add_named_style(ruler)
    return looks


def _fill(sheet: Worksheet, chart: Chart, looks: Looks) -> None:
    """The letters of the chart, with a column free at their left for numbers."""
    for line, row in enumerate(chart.to_rows(), 1):
        for column, letter in enumerate(row, 2):
            cell = sheet.cell(line, column, letter)
            cell.style = looks[letter]


def _number(sheet: Worksheet, chart: Chart, how: Construction) -> None:
    """The numbers of the rows at the side where each begins, those of the stitches below."""
    right_side = chart.columns + 2
    for row in range(chart.rows):
        worked_row = row * how.rows_per_chart_row
        leftwards = how.runs_leftwards(worked_row)
        side = right_side if leftwards else 1
        line = chart.rows - row
        cell = sheet.cell(line, side, row + 1)
        cell.style = RULER
    below = chart.rows + 1
    for stitch in range(1, chart.columns + 1):
        column = right_side - stitch
        cell = sheet.cell(below, column, stitch)
        cell.style = RULER


def _set_sizes(sheet: Worksheet, chart: Chart, aspect: float) -> None:
    """Columns and rows at the true aspect of the stitches."""
    width, height = _cell_pixels(aspect, range(20, 33))
    characters = width / 7  # a character is 7 pixels wide (ECMA-376 18.3.1.13)
    points = height * 0.75  # a pixel is a 96th of an inch, a point a 72nd
    # The column of numbers at the left keeps its width.
    for column in range(2, chart.columns + 2):
        letters = get_column_letter(column)
        sheet.column_dimensions[letters].width = characters
    for row in range(1, chart.rows + 1):
        sheet.row_dimensions[row].height = points


def _list_yarns(
    sheet: Worksheet,
    chart: Chart,
    yarns: Yarns,
    looks: Looks,
) -> None:
    """The yarns of the chart, one a row, with their stitches."""
    put_texts(sheet, 1, ("Letter", "Name", "Colour", "Stitches"))
    stitches = chart.stitches()
    for row, letter in enumerate(stitches, 2):
        yarn = yarns[letter]
        texts = (letter, yarn.name, yarn.colour)
        put_texts(sheet, row, texts)
        sheet.cell(row, 4, stitches[letter])
        sheet.cell(row, 1).style = looks[letter]
