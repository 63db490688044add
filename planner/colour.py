"""Colour: how far two colours look apart, and which ink reads on a ground."""

from __future__ import annotations

from coloraide import Color

NO_STITCH_GREY = "#e4e4e4"
ALIKE = 10  # CIEDE2000; two yarns nearer than this are hard to tell apart for any eye
# Ground whose relative luminance is above this takes black ink; white reads better below.
BLACK_ABOVE = 0.19


def apart(colour: str, other: str) -> float:
    """How far two colours look apart: CIEDE2000, NaN where a colour has no such distance."""
    return Color(colour).delta_e(other, method="2000")


def rgb_of(colour: str) -> tuple[float, ...]:
    """Red, green and blue, between 0 and 1, of a CSS colour such as "#1f3a5f"."""
    return tuple(Color(colour).convert("srgb")[:3])


def ink_on(colour) -> str:
    """Black or white, whichever reads better on the colour (relative luminance, WCAG 2).

    The colour is a CSS colour such as "#1f3a5f", or red, green and blue between 0 and 1.
    """
    channels = rgb_of(colour) if isinstance(colour, str) else colour[:3]
    red, green, blue = (_linear(float(channel)) for channel in channels)
    luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    return "black" if luminance > BLACK_ABOVE else "white"


def _linear(channel: float) -> float:
    """Linear light of one sRGB channel between 0 and 1 (IEC 61966-2-1, as WCAG 2 writes it)."""
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4
