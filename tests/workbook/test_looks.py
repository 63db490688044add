"""The stylesheet: its own colours are told from what they stand on, on light and on dark pages.

By the contrast ratio of WCAG 2.2: 4.5 for words (success criterion 1.4.3), 3 for what is only to be
seen, such as the edge of a box (1.4.11).
"""

import re

import pytest

from planner.colour import contrast
from planner.workbook.panes import LOOKS

OWN = re.compile(r"--plan-([a-z]+): (#[0-9a-f]{6});")
LIGHT, DARK = (dict(OWN.findall(part)) for part in LOOKS.split('[data-jp-theme-light="false"]')[:2])
# What JupyterLab 4.6 has behind its notebooks, boxes and pressed buttons, from its own themes.
GROUNDS = [
    *((LIGHT, ground) for ground in ("#ffffff", "#eeeeee")),
    *((DARK, ground) for ground in ("#111111", "#212121")),
]
WORDS, SEEN = ("accent", "quiet"), ("good", "trouble", "edge")


def test_the_ratio_is_that_of_wcag():
    # Black on white, and the lightest grey that passes on white, as W3C's own technique G18 has it.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") < 4.5 < contrast("#767676", "#ffffff")


@pytest.mark.parametrize(("colours", "ground"), GROUNDS)
def test_own_colours_are_told_from_their_ground(colours, ground):
    assert set(WORDS) | set(SEEN) <= set(colours)
    for name in WORDS:
        assert contrast(colours[name], ground) >= 4.5, name
    for name in SEEN:
        assert contrast(colours[name], ground) >= 3, name


def test_words_on_the_accent_can_be_read():
    # A button that stands out has JupyterLab's own ground as its ink.
    assert contrast("#ffffff", LIGHT["accent"]) >= 4.5
    assert contrast("#111111", DARK["accent"]) >= 4.5


def test_no_colour_is_written_but_at_the_top():
    """Elsewhere they go by their names, so that a dark page stays dark."""
    rules = LOOKS.split("/* ----", 1)[1]
    fallbacks = re.sub(r"var\(--jp-[^()]*\)|%23808080", "", rules)
    assert re.findall(r"#[0-9a-fA-F]{3,8}\b|rgba?\(", fallbacks) == []
