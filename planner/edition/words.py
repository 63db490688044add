"""Words: the standard abbreviations that a text uses, explained; names of yarn weights."""

from __future__ import annotations

import re
from collections.abc import Iterable

# As the Craft Yarn Council's list of knit abbreviations has them (published; from memory).
STANDARD = {
    "RS": "right side",
    "WS": "wrong side",
    "k2tog": "knit 2 stitches together",
    "p2tog": "purl 2 stitches together",
    "ssk": "slip, slip, knit: slip 2 stitches knitwise one by one, knit them together",
    "cm": "centimetre(s)",
    "mm": "millimetre(s)",
    "m": "metre(s)",
    "g": "gram(s)",
    "in": "inch(es)",
    "yd": "yard(s)",
}
UNITS = ("cm", "mm", "m", "g", "in", "yd")
# The Craft Yarn Council's Standard Yarn Weight System: stitches in 4 in of stockinette
# (second-hand, three agreeing copies).
WEIGHTS = {
    "lace (0)": (33, 40),
    "super fine (1)": (27, 32),
    "fine (2)": (23, 26),
    "light (3)": (21, 24),
    "medium (4)": (16, 20),
    "bulky (5)": (12, 15),
    "super bulky (6)": (7, 11),
}
FOUR_INCHES_PER_10_CM = 1.016


def abbreviations_in(texts: Iterable[str]) -> dict[str, str]:
    """The standard abbreviations that stand in these texts, with what they mean; no others."""
    text = "\n".join(texts)
    return {short: long for short, long in STANDARD.items() if _is_in(short, text)}


def _is_in(short: str, text: str) -> bool:
    if short in UNITS:
        # "in" is a word too, and M a yarn: after a number, or a blank to write one on.
        return re.search(rf"[\d_] ?{short}\b", text) is not None
    return re.search(rf"\b{short}\b", text) is not None


def weight_in_words(stitches_in_10_cm: float | None) -> str:
    """The weight of a yarn by the gauge on its band: "medium (4)"; "" where no band says it."""
    if stitches_in_10_cm is None:
        return ""
    in_4_inches = round(stitches_in_10_cm * FOUR_INCHES_PER_10_CM)
    fitting = []
    for name, (fewest, most) in WEIGHTS.items():
        if fewest <= in_4_inches <= most:
            fitting.append(name)
    # Two of the classes overlap.
    return " or ".join(fitting)
