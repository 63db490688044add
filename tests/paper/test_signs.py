"""Which signs can be printed, and how names are cut and broken so that they fit."""

import pytest
from fontTools.ttLib import TTFont
from hypothesis import example, given
from hypothesis import strategies as st

from planner import Chart, PlanError, Project, Yarn
from planner.paper import signs
from planner.paper.signs import (
    BREAK,
    LONGEST_WORD,
    Signs,
    breakable,
    can_be_printed,
    cleaned,
    fitting,
    font_folder,
    shortened,
    width_of,
)


@given(st.text(max_size=60))
@example("x" * 300)
@example("\N{RIGHT-TO-LEFT OVERRIDE}A\N{NULL}\nB")
def test_any_text_becomes_one_that_can_be_printed(text):
    piece = Project(text, Chart.from_rows(["AB"]), {"A": Yarn("A", text)})
    printed = Signs(piece)
    title = printed.text(printed.title)
    for words in (printed.text(text), printed.name("A"), printed.lot(text), title):
        assert can_be_printed(words)
        assert all(len(word) <= LONGEST_WORD for word in words.replace(BREAK, " ").split(" "))


@given(st.text(st.characters(codec="latin-1"), max_size=60), st.floats(1, 200))
def test_what_is_cut_to_a_width_fits_and_says_so(text, width):
    cut = fitting(text, width, 7)
    assert cut in ("", text) or cut.endswith("…")
    assert width_of(cut) * 7 <= width
    # Nothing is cut that has room.
    assert cut == text or width_of(text) * 7 > width


def test_widths_are_those_of_the_font():
    with TTFont(font_folder() / signs.REGULAR) as font:
        hyphen_and_w = [font["hmtx"][name][0] for name in ("hyphen", "W")]
        assert width_of("-W") == pytest.approx(sum(hyphen_and_w) / font["head"].unitsPerEm)


def test_breaking_changes_no_sign():
    assert breakable("x" * 200).replace(BREAK, "") == "x" * 200
    assert breakable("Lamp yellow") == "Lamp yellow"


def test_shortening_says_so():
    assert shortened("Lamp yellow", 11) == "Lamp yellow"
    assert shortened("Lamp yellow", 6) == "Lamp…"


def test_white_space_is_made_plain():
    assert cleaned(" a\t\u2028b\n\nc ") == "a b c"


def test_missing_fonts_are_said(monkeypatch):
    """Without fonts the setter would leave out all text, and say nothing."""
    monkeypatch.setattr(signs, "find_spec", lambda name: None)
    with pytest.raises(PlanError, match=r"DejaVuSans.ttf is missing, so no sheet can be set"):
        font_folder()
