"""A chart to hand out: as a workbook with fills, as a picture at its true aspect. The same chart gives the same bytes."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Mapping
from io import BytesIO

import numpy as np
from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.utils import get_column_letter
from PIL import Image

from planner.colour import NO_STITCH_GREY, ink_on, rgb_of
from planner.piece import NO_STITCH, Chart, Construction, Yarn

MOST_PIXELS = 8000  # a side of the picture
LINE = Border(*[Side("thin", "A6A6A6")] * 4)


def _cell_pixels(aspect: float, sizes: range) -> tuple[int, int]:
    """Width and height of a cell in whole pixels: of these widths the one that comes nearest to the aspect."""
    width = min(sizes, key=lambda w: abs(max(1, round(w * aspect)) / w - aspect))
    return width, max(1, round(width * aspect))


def chart_png(chart: Chart, yarns: Mapping[str, Yarn], aspect: float) -> bytes:
    """The chart as a PNG in plain blocks of the yarns' colours, no-stitch cells transparent. `aspect` is the height of a row of the
    chart ÷ the width of a stitch (in garter a row of the chart is two worked rows)."""
    most = MOST_PIXELS // max(chart.columns, round(chart.rows * aspect), 1)
    width, height = _cell_pixels(aspect, range(max(1, min(12, most)), max(1, min(24, most)) + 1))
    colours = [
        (*(round(255 * part) for part in rgb_of(yarns[letter].colour)), 255)
        for letter in chart.letters
    ]
    cells = np.array([*colours, (0, 0, 0, 0)], np.uint8)[chart.cells[::-1]]  # index −1 is the last
    out = BytesIO()
    Image.fromarray(cells.repeat(height, axis=0).repeat(width, axis=1)).save(out, "PNG")
    return out.getvalue()


def chart_xlsx(chart: Chart, yarns: Mapping[str, Yarn], aspect: float, how: Construction) -> bytes:
    """The chart as a workbook: letters on fills at the true aspect (as for `chart_png`), rows numbered where they begin, stitches
    below from the right; a second sheet lists the yarns."""
    book = Workbook()
    sheet, middle = book.active, Alignment("center", "center")
    sheet.title = "Chart"
    colours = {letter: yarns[letter].colour for letter in chart.letters} | {
        NO_STITCH: NO_STITCH_GREY
    }
    looks = {}  # as named styles, which are far quicker to give to a cell than its parts
    for i, (letter, colour) in enumerate(colours.items(), 1):
        ink = Font(size=8, color="FFFFFF" if ink_on(colour) == "white" else "000000")
        looks[letter] = NamedStyle(
            f"Yarn {i}", ink, PatternFill("solid", fgColor=colour[1:]), LINE, middle
        )
    small = NamedStyle("Ruler", Font(size=7, color="595959"), alignment=middle)
    for look in (*looks.values(), small):
        book.add_named_style(look)
    for r, row in enumerate(chart.to_rows(), 1):
        for c, letter in enumerate(row, 2):
            sheet.cell(r, c, letter).style = looks[letter].name
        number = chart.rows - r
        side = chart.columns + 2 if how.runs_leftwards(number * how.rows_per_chart_row) else 1
        sheet.cell(r, side, number + 1).style = small.name
    for c in range(chart.columns):
        sheet.cell(chart.rows + 1, c + 2, chart.columns - c).style = small.name
    width, height = _cell_pixels(aspect, range(20, 33))
    for c in range(2, chart.columns + 2):
        sheet.column_dimensions[get_column_letter(c)].width = (
            width / 7
        )  # characters of 7 pixels (ECMA-376 18.3.1.13)
    for r in range(1, chart.rows + 1):
        sheet.row_dimensions[r].height = height * 0.75  # points of a 96th of an inch
    listed = book.create_sheet("Yarns")
    table = [
        (letter, yarns[letter].name, yarns[letter].colour, number)
        for letter, number in chart.stitches().items()
    ]
    for r, row in enumerate([("Letter", "Name", "Colour", "Stitches"), *table], 1):
        for c, value in enumerate(row, 1):
            cell = listed.cell(r, c)
            cell.value = ILLEGAL_CHARACTERS_RE.sub("", value) if isinstance(value, str) else value
            if isinstance(value, str):
                cell.data_type, cell.quotePrefix = "s", True  # a name such as "=1+1" stays a name
        if r > 1:
            listed.cell(r, 1).style = looks[row[0]].name
    out = BytesIO()
    book.save(out)
    return _undated(out.getvalue())


def _undated(book: bytes) -> bytes:
    """A workbook without the time at which it was saved."""
    out = BytesIO()
    with (
        zipfile.ZipFile(BytesIO(book)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.namelist():
            data = old.read(part)
            if part == "docProps/core.xml":
                data = re.sub(rb"\d{4}-\d\d-\d\dT[\d:]+Z", b"2000-01-01T00:00:00Z", data)
            new.writestr(zipfile.ZipInfo(part), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()
