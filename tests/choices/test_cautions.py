"""Cautions about embroideries. Grade: common practice, no source; figures by hand."""

from __future__ import annotations

import pytest

from planner import Construction, Gauge, Yarn, make_plan
from planner.choices import find_offers
from planner.colour import lightness
from planner.piece import MultiplierChoice, Weighing
from tests.helpers.choices import embroider, piece

WHITE_AND_NAVY = {"W": Yarn("W", colour="#ffffff"), "N": Yarn("N", colour="#000080")}


def dot(yarn, ground):
    """A single stitch of a yarn on a ground."""
    return [ground * 5, ground * 2 + yarn + ground * 2, ground * 5]


def cautions(rows, *choices, **asked):
    """The notes of the plan on what is embroidered."""
    plan = make_plan(piece(rows, *choices, **asked))
    return [note for note in plan.notes if "common practice, no source" in note]


def test_lightness():
    """White is 100, black 0. For #777777 by CIE's formula: Y is ((119/255 + 0.055) / 1.055)^2.4,
    L* is 116 times its cube root less 16 (published, IEC 61966-2-1 and CIE 15)."""
    luminance = ((119 / 255 + 0.055) / 1.055) ** 2.4
    by_formula = 116 * luminance ** (1 / 3) - 16
    assert lightness("#ffffff") == pytest.approx(100, abs=0.01)
    assert lightness("#000000") == pytest.approx(0, abs=0.01)
    assert lightness("#777777") == pytest.approx(by_formula, abs=0.01)


def test_light_over_dark_both_ways_round():
    choice = embroider("W", 2, 3)
    [note] = cautions(dot("W", "N"), choice, yarns=WHITE_AND_NAVY)
    assert note == (
        "W is embroidered over the much darker N, from row 2 (WS), stitch 3: N may show through. "
        "Try it on your swatch; else choose another ground or knit it "
        "(common practice, no source)."
    )
    assert cautions(dot("N", "W"), embroider("N", 2, 3), yarns=WHITE_AND_NAVY) == []
    # A yarn that is not listed has no colour of its own.
    assert cautions(dot("W", "N"), choice, yarns={"N": WHITE_AND_NAVY["N"]}) == []


def test_of_two_grounds_the_dark_one_is_named():
    """By eye: W lies on N in its lower stitch, on the nearly white T in its upper one."""
    yarns = WHITE_AND_NAVY | {"T": Yarn("T", colour="#f0f0f0")}
    [note] = cautions(["TTWTT", "NNWNN"], embroider("W", 1, 3), yarns=yarns)
    assert "over the much darker N," in note
    # On a ground of the knitter's own there is nothing to mind.
    assert cautions(["TTWTT", "NNWNN"], embroider("W", 1, 3, "on T"), yarns=yarns) == []


def test_several_areas_are_said_once():
    rows = ["N" * 9, "NNWNNNWNN", "N" * 9, "NNNNWNNNN", "N" * 9]
    choices = [embroider("W", row, stitch) for row, stitch in ((2, 5), (4, 3), (4, 7))]
    [note] = cautions(rows, *choices, yarns=WHITE_AND_NAVY)
    assert "from row 2 (WS), stitch 5, and 2 areas more:" in note


@pytest.mark.parametrize(
    ("rows", "place", "warned"),
    [
        (["NNNNN", "NYYYN", "NNNNN"], (2, 2), True),  # a single row
        (["NNN", "NYN", "NYN", "NYN", "NNN"], (2, 2), False),  # a line upwards
        (["NNNNN", "NYYNN", "NNNNN"], (2, 3), False),  # two stitches are a dot
        (["NNNNN", "NYNNN", "NNYNN", "NNNYN", "NNNNN"], (2, 2), False),  # a diagonal line
        (["NNNNN", "NYYYN", "NYNNN", "NNNNN"], (2, 4), False),  # two rows hold each other
    ],
)
def test_a_single_row_lies_badly(rows, place, warned):
    notes = cautions(rows, embroider("Y", *place))
    assert [": such a row lies badly" in note for note in notes] == [True] * warned


def test_a_ridge_is_a_single_row():
    """Two worked rows, but one row of the chart: 2 × 3 stitches. Two stitches wide it is a dot."""
    garter = Construction(fabric="garter")
    [note] = cautions(["NNNNN", "NYYYN", "NNNNN"], embroider("Y", 3, 2), how=garter)
    assert "in a single row, from row 3 (RS, ridge 2), stitch 2:" in note
    assert cautions(["NNNNN", "NYYNN", "NNNNN"], embroider("Y", 3, 3), how=garter) == []


@pytest.mark.parametrize(("stitches", "warned"), [(54, False), (55, True)])
def test_more_than_one_needleful(stitches, warned):
    """Stitches of 0.5 cm, 4 times their width, 1.1 times as much: 2.2 cm each, and 30 cm of tails.

    54 take 148.8 cm, 55 take 151 cm (155 as measured off); a needleful has 150 cm at the most.
    """
    asked = {"gauge": Gauge(20, 28), "multiplier": MultiplierChoice("own", 4.0, 0.0)}
    notes = cautions(["WWWWWKWWWWW"] * stitches, embroider("K", 1, 6), **asked)
    words = "K takes 1.55 m to embroider, from row 1 (RS), stitch 6: more than one needleful."
    assert [note.startswith(words) for note in notes] == [True] * warned


def test_offers_say_what_to_mind():
    """A row of three white stitches and a line of two, both on navy."""
    rows = ["N" * 9, "NWWWNNNWN", "NNNNNNNWN", "N" * 9]
    thin = Weighing(embroider_wide=1)
    found = find_offers(piece(rows, yarns=WHITE_AND_NAVY, weighing=thin))
    mind = {offer.what: offer.mind for offer in found if offer.about == "embroider"}
    light, single = "light over dark: N may show through", "a single row lies badly"
    assert mind == {
        "embroider a line of 2 stitches in W, from row 2 (WS), stitch 2": light,
        "embroider a line of 3 stitches in W, from row 3 (RS), stitch 6": f"{light}; {single}",
        "embroider both small or thin areas in W (5 stitches)": f"{light}; {single}",
    }
