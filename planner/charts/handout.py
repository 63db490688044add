"""A chart to hand out: as a workbook with fills, as a picture at its true aspect.

The same chart gives the same bytes.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Mapping
from io import BytesIO

import numpy as np
from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet
from PIL import Image

from planner.colour import NO_STITCH_GREY, ink_on, rgb_of
from planner.piece import NO_STITCH, Chart, Construction, Yarn

LONGEST_SIDE = 8000  # of the picture, in pixels
EDGE = Side("thin", "A6A6A6")
CELL_BORDER = Border(EDGE, EDGE, EDGE, EDGE)
MIDDLE = Alignment("center", "center")
INK = {"white": "FFFFFF", "black": "000000"}
TRANSPARENT = (0, 0, 0, 0)
SAVED = re.compile(rb"\d{4}-\d\d-\d\dT[\d:]+Z")  # a time in a workbook
NO_TIME = b"2000-01-01T00:00:00Z"


def chart_png(chart: Chart, yarns: Mapping[str, Yarn], aspect: float) -> bytes:
    """The chart as a PNG in plain blocks of the yarns' colours, no-stitch cells transparent.

    `aspect` is the height of a row of the chart ÷ the width of a stitch (in garter a row of the
    chart is two worked rows).
    """
    stitches_high = round(chart.rows * aspect)
    widest = LONGEST_SIDE // max(chart.columns, stitches_high, 1)
    fewest = max(1, min(12, widest))
    most = max(1, min(24, widest))
    width, height = _cell_pixels(aspect, range(fewest, most + 1))
    colours = []
    for letter in chart.letters:
        channels = rgb_of(yarns[letter].colour)
        red, green, blue = (round(255 * channel) for channel in channels)
        colours.append((red, green, blue, 255))
    colours.append(TRANSPARENT)  # last, where −1 finds it
    top_first = chart.cells[::-1]
    cells = np.array(colours, np.uint8)[top_first]
    pixels = cells.repeat(height, axis=0).repeat(width, axis=1)
    picture = BytesIO()
    Image.fromarray(pixels).save(picture, "PNG")
    return picture.getvalue()


def _cell_pixels(aspect: float, widths: range) -> tuple[int, int]:
    """Width and height of a cell in whole pixels: of these the nearest to the aspect."""

    def height(width: int) -> int:
        return max(1, round(width * aspect))

    best = min(widths, key=lambda width: abs(height(width) / width - aspect))
    return best, height(best)


def chart_xlsx(chart: Chart, yarns: Mapping[str, Yarn], aspect: float, how: Construction) -> bytes:
    """The chart as a workbook: letters on fills at the true aspect (as for `chart_png`).

    Rows are numbered where they begin, stitches below from the right. A second sheet lists the
    yarns.
    """
    book = Workbook()
    # Named styles, which are far quicker to give to a cell than their parts.
    looks = _looks(chart, yarns)
    ruler = NamedStyle("Ruler", Font(size=7, color="595959"), alignment=MIDDLE)
    for look in (*looks.values(), ruler):
        book.add_named_style(look)
    sheet = book.active
    sheet.title = "Chart"
    _fill(sheet, chart, looks)
    _number(sheet, chart, how, ruler)
    _set_sizes(sheet, chart, aspect)
    _list_yarns(book.create_sheet("Yarns"), chart, yarns, looks)
    saved = BytesIO()
    book.save(saved)
    return _undated(saved.getvalue())


def _looks(chart: Chart, yarns: Mapping[str, Yarn]) -> dict[str, NamedStyle]:
    """How the cells of each letter look, and those of no stitch."""
    colours = {letter: yarns[letter].colour for letter in chart.letters}
    colours[NO_STITCH] = NO_STITCH_GREY
    looks = {}
    for number, (letter, colour) in enumerate(colours.items(), 1):
        looks[letter] = NamedStyle(
            name=f"Yarn {number}",
            font=Font(size=8, color=INK[ink_on(colour)]),
            fill=PatternFill("solid", fgColor=colour[1:]),
            border=CELL_BORDER,
            alignment=MIDDLE,
        )
    return looks


def _fill(sheet: Worksheet, chart: Chart, looks: Mapping[str, NamedStyle]) -> None:
    """The letters of the chart, with a column free at their left for numbers."""
    for r, row in enumerate(chart.to_rows(), 1):
        for c, letter in enumerate(row, 2):
            sheet.cell(r, c, letter).style = looks[letter].name


def _number(sheet: Worksheet, chart: Chart, how: Construction, ruler: NamedStyle) -> None:
    """The numbers of the rows at the side where each begins, those of the stitches below."""
    at_left, at_right = 1, chart.columns + 2
    for index in range(chart.rows):
        leftwards = how.runs_leftwards(index * how.rows_per_chart_row)
        side = at_right if leftwards else at_left
        sheet.cell(chart.rows - index, side, index + 1).style = ruler.name
    for c in range(chart.columns):
        sheet.cell(chart.rows + 1, c + 2, chart.columns - c).style = ruler.name


def _set_sizes(sheet: Worksheet, chart: Chart, aspect: float) -> None:
    """Columns and rows at the true aspect of the stitches."""
    width, height = _cell_pixels(aspect, range(20, 33))
    characters = width / 7  # a character is 7 pixels wide (ECMA-376 18.3.1.13)
    points = height * 0.75  # a pixel is a 96th of an inch, a point a 72nd
    for c in range(chart.columns):
        sheet.column_dimensions[get_column_letter(c + 2)].width = characters
    for r in range(chart.rows):
        sheet.row_dimensions[r + 1].height = points


def _list_yarns(
    sheet: Worksheet, chart: Chart, yarns: Mapping[str, Yarn], looks: Mapping[str, NamedStyle]
) -> None:
    """The yarns of the chart, one a row, with their stitches."""
    for c, heading in enumerate(("Letter", "Name", "Colour", "Stitches"), 1):
        _put_text(sheet.cell(1, c), heading)
    for r, (letter, stitches) in enumerate(chart.stitches().items(), 2):
        yarn = yarns[letter]
        for c, text in enumerate((letter, yarn.name, yarn.colour), 1):
            _put_text(sheet.cell(r, c), text)
        sheet.cell(r, 4, stitches)
        sheet.cell(r, 1).style = looks[letter].name


def _put_text(cell: Cell, text: str) -> None:
    """A text that stays one, even where it looks like a formula, such as "=1+1"."""
    cell.value = ILLEGAL_CHARACTERS_RE.sub("", text)
    cell.data_type = "s"
    cell.quotePrefix = True


def _undated(book: bytes) -> bytes:
    """A workbook without the time at which it was saved."""
    undated = BytesIO()
    with (
        zipfile.ZipFile(BytesIO(book)) as old,
        zipfile.ZipFile(undated, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.namelist():
            data = old.read(part)
            if part == "docProps/core.xml":
                data = SAVED.sub(NO_TIME, data)
            # Of 1980, as every part is that is not told a time.
            new.writestr(zipfile.ZipInfo(part), data, zipfile.ZIP_DEFLATED)
    return undated.getvalue()
