"""Colours of fills: themes and tints, lists and plain colours; and what names no colour.

Tinted colours are compared with the formula of ECMA-376 18.8.19, worked here anew.
"""

import colorsys
import io
from itertools import product

import openpyxl
import pytest
import xlsxwriter

from planner import PlanError
from planner.charts.fills import tinted
from planner.charts.sheets import read_sheet
from tests.helpers.workbooks import replaced, with_part, workbook

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
    """XlsxWriter's shades 0 to 5 of a theme colour are the tints Excel offers.

    They are read back from its own styles.
    """

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
    """Accent 1, #4f81bd, lighter by 80, 60, 40 % and darker by 25, 50 % (from memory).

    Excel rounds on its way: one step off.
    """
    ours = tinted("#4f81bd", tint)
    assert (
        max(abs(int(ours[i + 1 : i + 3], 16) - int(excel[i : i + 2], 16)) for i in (0, 2, 4)) <= 1
    )


def test_other_kinds_of_colour():
    """Indexed colours, ARGB with no alpha, a hatch of red on white.

    10 is red, 12 blue, 65 the window's white (ECMA-376 18.8.27, from memory).
    """
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
    assert read.colours == {"V": "#ff0000", "W": "#0000ff", "X": "#ffffff", "Y": "#123456"} | {
        "Z": "#ff6b6b"  # 0.58 of the cell, as it is taken, red
    }


def red_chart(colour: dict) -> bytes:
    """Two by two cells filled plainly in a colour as XlsxWriter takes it."""

    def draw(book, sheet):
        red = book.add_format(colour)
        for row, column in product(range(2), repeat=2):
            sheet.write_blank(row, column, None, red)

    return workbook(draw)


DARK_1 = {"bg_color": xlsxwriter.color.Color.theme(1, 0)}
ACCENT_1 = {"bg_color": xlsxwriter.color.Color.theme(4, 0)}
THEME_PART = "xl/theme/theme1.xml"


def test_a_theme_that_keeps_no_copy_of_the_systems_colours():
    """Some programs leave out `lastClr`, what the system's colour was when the file was saved."""
    data = replaced(red_chart(DARK_1), THEME_PART, b' lastClr="000000"', b"")
    assert read_sheet(data, "m.xlsx").colours == {"A": "#000000"}


NONSENSE = [
    (ACCENT_1, THEME_PART, b'val="4F81BD"', b'val="oklch(0.6 9e999 none)"'),
    (ACCENT_1, THEME_PART, b'val="4F81BD"', b'val=""'),
    (ACCENT_1, "xl/styles.xml", b'theme="4"', b'theme="99"'),
    (ACCENT_1, "xl/styles.xml", b'theme="4"', b'indexed="-7"'),
    (DARK_1, THEME_PART, b'val="windowText" lastClr="000000"', b'val="grayText"'),
]


@pytest.mark.parametrize(("colour", "part", "old", "new"), NONSENSE)
def test_a_colour_that_is_none_is_named_with_its_cell(colour, part, old, new):
    data = replaced(red_chart(colour), part, old, new)
    with pytest.raises(PlanError, match=r"cell A1 has a fill of no known colour\. Fill it anew"):
        read_sheet(data, "m.xlsx")


def test_a_theme_without_colours_harms_only_what_it_colours():
    plain = red_chart({"bg_color": "#b5452c"})
    data = with_part(plain, THEME_PART, lambda _: b"<theme><themeElements/></theme>")
    assert read_sheet(data, "m.xlsx").colours == {"A": "#b5452c"}


def test_a_plain_colour_that_is_none_is_refused_in_words():
    data = red_chart({"bg_color": "#b5452c"})
    data = replaced(data, "xl/styles.xml", b"FFB5452C", b"oklch(0.6 0.2 30)")
    with pytest.raises(PlanError, match=r"m\.xlsx cannot be read as a workbook .* Save it anew"):
        read_sheet(data, "m.xlsx")
