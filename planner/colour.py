"""Colour: how far two colours look apart, how light they are, which ink reads on a ground.

Colours are CSS colours as text, such as "#1f3a5f" or "navy".
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from planner.guards import LONGEST_COLOUR

if TYPE_CHECKING:
    from coloraide import Color

NO_STITCH_GREY = "#e4e4e4"
ALIKE = 10  # CIEDE2000; two yarns nearer than this are hard to tell apart for any eye
# Ground whose relative luminance is above this takes black ink; white reads better below.
# There both have the same contrast, 4.6 (WCAG 2 asks for 4.5), so that no ground has less.
BLACK_ABOVE = 0.179
# The eyes and prints for which yarns are compared, in the words that follow "alike", each with the
# name of its dichromacy. Those of Machado, Oliveira and Fernandes (2009), at their full strength.
ANY_EYE, IN_GREY = "to any eye", "on a grey print"
EYES = {
    ANY_EYE: "",
    "to red-blind eyes": "protan",
    "to green-blind eyes": "deutan",
    "to blue-blind eyes": "tritan",
    IN_GREY: "",
}
# As most files write it; such a colour is known without the library.
AS_HEX = re.compile("#[0-9a-fA-F]{6}")
# Channels of a colour that a screen can show lie between 0 and 1; some lie a little beyond.
FARTHEST = 100


def _read(colour: str) -> Color:
    """The colour. Raises ValueError where the text is no CSS colour, or one that nobody can see."""
    # The library is large, and a plan alone asks for no colour: it is loaded when one is read.
    from coloraide import Color

    if len(colour) > LONGEST_COLOUR:
        raise ValueError(f"a colour of {len(colour)} letters")
    read = Color(colour)
    # Numbers without bounds overflow in one way of reckoning or another.
    try:
        channels = read.convert("srgb").coords(nans=False)
    except ArithmeticError:
        channels = [math.inf]
    if not all(abs(channel) < FARTHEST for channel in channels):
        raise ValueError(f"no screen can show the colour {colour}")
    return read


def hex_of(colour: str) -> str:
    """The colour as #rrggbb. Raises ValueError where the text is no CSS colour."""
    if AS_HEX.fullmatch(colour):
        return colour.lower()
    return _read(colour).convert("srgb").to_string(hex=True, alpha=False)


def named_in(words: str) -> str:
    """The colour (#rrggbb) that words end with, such as cherry red; "" where they end with none.

    The most words that are a name of CSS count: "light sea green" before "sea green" and "green".
    """
    parts = words.lower().split()
    for first in range(len(parts)):
        name = "".join(parts[first:])
        if not name.isalpha():
            continue
        try:
            return hex_of(name)
        except ValueError:
            continue
    return ""


def apart(first: str, second: str, *, eye: str = ANY_EYE) -> float:
    """How far two colours look apart to one of `EYES`: CIEDE2000.

    NaN where a colour has no such distance.
    """
    return _as_seen(first, eye).delta_e(_as_seen(second, eye), method="2000")


def _as_seen(colour: str, eye: str) -> Color:
    """A colour as it looks to one of `EYES`."""
    read = _read(colour)
    if eye == IN_GREY:
        # A grey as light as the colour: a print has nothing else of it.
        lab = read.convert("lab-d65").coords(nans=False)
        return read.new("lab-d65", [lab[0], 0, 0])
    if EYES[eye]:
        return read.filter(EYES[eye], method="machado")
    return read


def contrast(ink: str, ground: str) -> float:
    """The contrast of a text on its ground, from 1 to 21 (WCAG 2, success criterion 1.4.3)."""
    lighter, darker = sorted((luminance(rgb_of(ink)), luminance(rgb_of(ground))), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def lightness(colour: str) -> float:
    """How light a colour looks, from 0 for black to 100 for white: L* of CIELAB."""
    return float(_read(colour).convert("lab").coords(nans=False)[0])


@lru_cache(maxsize=256)
def lightness_chroma_hue(colour: str) -> tuple[float, float, float]:
    """L* of CIELAB, from 0 to 100, C*, and the angle of the hue in degrees."""
    lightness, chroma, hue = _read(colour).convert("lch-d65").coords(nans=False)
    return float(lightness), float(chroma), float(hue) % 360


@lru_cache(maxsize=256)
def shades_of(colour: str, step: float) -> tuple[str, ...]:
    """The colour and its shades as #rrggbb, so many steps of L* of CIELAB lighter or darker.

    The nearest come first, and before all the colour itself. Their hue stays, and as much of its
    chroma as a screen can show at their lightness.
    """
    lch = _read(colour).convert("lch-d65")
    light = lch["lightness"]
    # First to the side on which there is more room.
    side = 1 if light < 50 else -1
    found = [hex_of(colour)]
    for steps in range(1, int(100 / step) + 1):
        for away in (side * steps * step, -side * steps * step):
            if 0 <= light + away <= 100:
                lch["lightness"] = light + away
                found.append(_as_screens_show(lch))
    return tuple(found)


def _as_screens_show(lch: Color) -> str:
    """A colour as #rrggbb, with as much of its chroma as a screen can show."""
    shown, low, high = lch.clone(), 0.0, lch["chroma"]
    # Halved again and again: what is left in the end is far less than a step of a screen.
    for _ in range(12):
        if shown.convert("srgb").in_gamut():
            if shown["chroma"] == lch["chroma"]:
                break
            low = shown["chroma"]
        else:
            high = shown["chroma"]
        shown["chroma"] = (low + high) / 2
    return shown.convert("srgb").clip().to_string(hex=True, alpha=False)


def rgb_of(colour: str) -> tuple[float, ...]:
    """Red, green and blue, between 0 and 1."""
    return tuple(_read(colour).convert("srgb").coords(nans=False))


def ink_on(colour: str | Sequence[float]) -> str:
    """Black or white, whichever reads better on the colour (relative luminance, WCAG 2).

    The colour is a CSS colour, or red, green and blue between 0 and 1.
    """
    channels = rgb_of(colour) if isinstance(colour, str) else colour[:3]
    return "black" if luminance(channels) > BLACK_ABOVE else "white"


def luminance(channels: Sequence[float]) -> float:
    """How much light a colour gives, from 0 to 1: relative luminance as WCAG 2 defines it."""
    red, green, blue = (_linear(float(channel)) for channel in channels)
    # The eye takes most of its light from green.
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(channel: float) -> float:
    """Linear light of one sRGB channel between 0 and 1 (IEC 61966-2-1, as WCAG 2 writes it)."""
    if channel <= 0.04045:
        return channel / 12.92
    return ((channel + 0.055) / 1.055) ** 2.4
