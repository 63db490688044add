"""The colours of a workbook's fills: plain, from its theme, or from its list, and their tints."""

from __future__ import annotations

import colorsys
import re
from typing import Any
from xml.etree import ElementTree

from openpyxl.writer.theme import theme_xml

from planner.charts.sifting import THEME_COLOURS

HEX = re.compile(r"(?:[0-9A-Fa-f]{2})?([0-9A-Fa-f]{6})")  # with or without a leading alpha
# What a theme calls the colours of the system it is shown on, where it keeps no copy of them.
SYSTEM_COLOURS = {"window": "ffffff", "windowText": "000000"}
# How much of a cell the lines of a hatch cover. There are as many as there are names for them.
COVERED = {
    "darkGray": 0.75,
    "mediumGray": 0.5,
    "lightGray": 0.25,
    "gray125": 0.125,
    "gray0625": 0.06,
    "darkHorizontal": 0.46,
    "darkVertical": 0.54,
    "darkDown": 0.42,
    "darkUp": 0.58,
    "darkGrid": 0.66,
    "darkTrellis": 0.8,
    "lightHorizontal": 0.2,
    "lightVertical": 0.29,
    "lightDown": 0.16,
    "lightUp": 0.33,
    "lightGrid": 0.37,
    "lightTrellis": 0.7,
}
WHITE = "#ffffff"
BLACK = "#000000"
# The last two of a workbook's list are the system's: text and ground.
SYSTEM_INDEXED = {64: "000000", 65: "ffffff"}


class Fills:
    """Tells the colours of the fills of one workbook, which openpyxl has read."""

    def __init__(self, book: Any):
        theme = _theme_colours(book.loaded_theme or theme_xml)
        # Cells count light before dark, the theme dark before light (from memory).
        dark_1, light_1, dark_2, light_2, *accents = theme
        in_order = [light_1, dark_1, light_2, dark_2, *accents]
        self._theme = dict(enumerate(in_order))
        # openpyxl has no public name for a workbook's own list of colours.
        self._indexed = dict(enumerate(book._colors))
        self._indexed |= SYSTEM_INDEXED

    def colour(self, fill: Any) -> str | None:
        """The colour (#rrggbb) of a fill; "" for no fill or a gradient.

        A hatch has that of its lines and its ground together. None where the workbook names a
        colour that is none.
        """
        if not self.is_hatch(fill):
            is_plain = getattr(fill, "fill_type", None) == "solid"
            return self._named(fill.fgColor, usual="") if is_plain else ""
        lines = self._named(fill.fgColor, usual=BLACK)
        ground = self._named(fill.bgColor, usual=WHITE)
        if not lines or not ground:
            return None
        return _mixed(lines, ground, COVERED[fill.fill_type])

    def is_hatch(self, fill: Any) -> bool:
        """Whether a fill is lines or dots on a ground."""
        return getattr(fill, "fill_type", None) in COVERED

    def ink(self, font: Any) -> str:
        """The colour (#rrggbb) of a font; "" for the usual one."""
        colour = font.color if font else None
        named = self._named(colour, usual="") if colour else ""
        return "" if named in (None, BLACK) else named

    def _named(self, colour: Any, *, usual: str) -> str | None:
        """The colour that a fill names, `usual` for one left to the program that shows it."""
        if colour is None or colour.type == "auto":
            return usual
        # openpyxl has a transparent black for a colour that is not written.
        if usual and colour.type == "rgb" and colour.rgb == "00000000":
            return usual
        if colour.type == "theme":
            plain = self._theme.get(colour.theme, "")
        elif colour.type == "indexed":
            plain = self._indexed.get(colour.indexed, "")
        else:
            plain = colour.rgb
        digits = HEX.fullmatch(plain)
        return tinted(f"#{digits[1].lower()}", colour.tint) if digits else None


def _mixed(lines: str, ground: str, covered: float) -> str:
    """The colour of lines and their ground, seen from afar."""
    pairs = zip(bytes.fromhex(lines[1:]), bytes.fromhex(ground[1:]), strict=True)
    whole = bytes(round(covered * line + (1 - covered) * under) for line, under in pairs)
    return f"#{whole.hex()}"


def _theme_colours(xml: bytes | str) -> list[str]:
    """The colours of a theme as it writes them, in its own order; "" for one that it has not."""
    colours = dict.fromkeys(THEME_COLOURS, "")
    theme = ElementTree.fromstring(xml)
    for name in THEME_COLOURS:
        written = theme.find(f".//{{*}}clrScheme/{{*}}{name}/*")
        if written is not None:
            colour = written.get("lastClr") or written.get("val") or ""
            colours[name] = SYSTEM_COLOURS.get(colour, colour)
    return list(colours.values())


def tinted(colour: str, tint: float) -> str:
    """A colour made darker (tint −1 to 0) or lighter (0 to 1) in its lightness L of HLS.

    L (1 + tint), or L (1 − tint) + tint (ECMA-376 part 1, 18.8.3 and 18.8.19, from memory).
    """
    if not tint:
        return colour
    channels = [channel / 255 for channel in bytes.fromhex(colour[1:])]
    hue, lightness, saturation = colorsys.rgb_to_hls(*channels)
    lightness *= 1 - abs(tint)
    if tint > 0:
        lightness += tint
    new = colorsys.hls_to_rgb(hue, lightness, saturation)
    whole = bytes(round(255 * channel) for channel in new)
    return f"#{whole.hex()}"
