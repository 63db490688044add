"""Signs that are colours: coloured squares, and squares or letters told apart by their ink."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.charts.pages import Page
from planner.charts.questions import Remarks

# Squares, circles and hearts by their Unicode names: red, orange, yellow, green, blue, purple,
# brown, black, white; the shades are those of a common set of drawings (from memory).
SHADES = (
    *("#dd2e44", "#f4900c", "#fdcb58", "#78b159", "#55acee"),
    *("#aa8ed6", "#c1694f", "#31373d", "#e6e7e8"),
)
SIGNS = ("🟥🟧🟨🟩🟦🟪🟫⬛⬜", "🔴🟠🟡🟢🔵🟣🟤⚫⚪", "❤🧡💛💚💙💜🤎🖤🤍")
COLOUR_OF = {sign: shade for signs in SIGNS for sign, shade in zip(signs, SHADES, strict=True)}
BLOCKS = set("■█▇▉◼◾▪●⬤•▮")  # that show nothing but their ink
AS_DRAWN = "\ufe0f"  # asks for the coloured drawing of a sign, and is seen as nothing
BLACK = "#000000"


def with_coloured_signs(page: Page) -> Page:
    """The page with coloured squares, and blocks in coloured ink, taken as fills of their cells."""
    text = page.text
    held = set(text.ravel().tolist())
    if any(AS_DRAWN in each for each in held):
        plain = {each: each.replace(AS_DRAWN, "") for each in held}
        text = np.vectorize(plain.get, otypes=[object])(text)
        held = set(plain.values())
    fill = page.fill
    for sign in held & COLOUR_OF.keys():
        bare = (text == sign) & (fill == "")
        fill = np.where(bare, COLOUR_OF[sign], fill)
    text = text.copy()
    for sign in held & BLOCKS:
        bare = (text == sign) & (fill == "")
        inks = set(page.ink[bare].tolist())
        if not inks - {""}:
            continue
        fill = np.where(bare, np.where(page.ink == "", BLACK, page.ink), fill)
        # One sign in several inks says nothing; in one ink it is a sign like others.
        if len(inks) > 1:
            text[bare] = ""
    return replace(page, text=text, fill=fill.astype(object))


def with_inks(part: Page, remarks: Remarks) -> Page:
    """The chart with the inks of its letters as fills, where one letter stands in several inks."""
    held = part.text != ""
    signs = set(part.text[held].tolist())
    inks = set(part.ink[held].tolist())
    if len(inks) < 2:
        return part
    if len(signs) == 1 and not (part.fill != "").any():
        remarks.note("One sign stands in letters of several colours; the colours were taken.")
        black = np.where(part.ink == "", BLACK, part.ink)
        fill = np.where(held, black, "")
        return replace(part, text=np.full_like(part.text, ""), fill=fill.astype(object))
    if not _go_together(part, held):
        remarks.note("Letters are written in several colours, of which no notice was taken.")
    return part


def _go_together(part: Page, held: np.ndarray) -> bool:
    """Whether each sign has one ink of its own."""
    pairs = set(zip(part.text[held].tolist(), part.ink[held].tolist(), strict=True))
    return len(pairs) == len({sign for sign, _ in pairs})
