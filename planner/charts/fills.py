"""The colours of a workbook's fills: plain, from its theme, or from its list, and their tints."""

from __future__ import annotations

import colorsys
import re
from typing import Any
from xml.etree import ElementTree

from openpyxl.writer.theme import theme_xml

HEX = re.compile(r"(?:[0-9A-Fa-f]{2})?([0-9A-Fa-f]{6})")  # with or without a leading alpha
# What a theme calls the colours of the system it is shown on, where it keeps no copy of them.
SYSTEM_COLOURS = {"window": "ffffff", "windowText": "000000"}
# The last two of a workbook's list are the system's: text and ground.
SYSTEM_INDEXED = {64: "000000", 65: "ffffff"}


class Fills:
    """Tells the colours of the fills of one workbook, which openpyxl has read."""

    def __init__(self, book: Any):
        theme = _theme_colours(book.loaded_theme or theme_xml)
        # Cells count light before dark, the theme dark before light (from memory).
        for dark, light in ((0, 1), (2, 3)):
            if light < len(theme):
                theme[dark], theme[light] = theme[light], theme[dark]
        self._theme = dict(enumerate(theme))
        # openpyxl has no public name for a workbook's own list of colours.
        self._indexed = dict(enumerate(book._colors)) | SYSTEM_INDEXED

    def colour(self, fill: Any) -> str | None:
        """The colour (#rrggbb) of a plain fill; "" for no fill, a pattern or a gradient.

        None where the workbook names a colour that is none.
        """
        colour = getattr(fill, "fgColor", None)
        if colour is None or fill.fill_type != "solid" or colour.type == "auto":
            return ""
        if colour.type == "theme":
            plain = self._theme.get(colour.theme, "")
        elif colour.type == "indexed":
            plain = self._indexed.get(colour.indexed, "")
        else:
            plain = colour.rgb
        digits = HEX.fullmatch(plain)
        return tinted(f"#{digits[1].lower()}", colour.tint) if digits else None


def _theme_colours(xml: bytes | str) -> list[str]:
    """The colours of a theme as it writes them, in its own order."""
    scheme = ElementTree.fromstring(xml).find(".//{*}clrScheme")
    colours = []
    for entry in [] if scheme is None else scheme:
        colour = ""
        for written in entry:
            colour = written.get("lastClr") or written.get("val") or ""
        colours.append(SYSTEM_COLOURS.get(colour, colour))
    return colours


def tinted(colour: str, tint: float) -> str:
    """A colour made darker (tint −1 to 0) or lighter (0 to 1) in its lightness L of HLS.

    L (1 + tint), or L (1 − tint) + tint (ECMA-376 part 1, 18.8.3 and 18.8.19, from memory).
    """
    if not tint:
        return colour
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    hue, lightness, saturation = colorsys.rgb_to_hls(red, green, blue)
    lightness *= 1 - abs(tint)
    if tint > 0:
        lightness += tint
    channels = colorsys.hls_to_rgb(hue, lightness, saturation)
    return "#" + "".join(f"{round(255 * channel):02x}" for channel in channels)
