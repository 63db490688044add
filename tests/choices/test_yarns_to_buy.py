"""Before buying: dye that may run, unlike thickness, joins in superwash, dye lots."""

from dataclasses import replace

import numpy as np
import pytest
from skimage.color import lab2lch, rgb2lab

from planner import Yarn
from planner.choices.yarns_to_buy import BLEEDING, FELTING, LOTS, THICKNESS, is_pale, may_bleed
from planner.colour import hex_of, lightness_chroma_hue, rgb_of
from planner.piece import Habits
from tests.helpers.plans import demo, plan_of, stripes

TWO = ["AAAAABBBBB"] * 6


def found(about, *yarns, rows=TWO, **asked):
    table = plan_of(rows, {yarn.letter: yarn for yarn in yarns}, **asked).findings
    lines = table[table.about == about]
    return list(zip(lines["where"], lines.finding, lines.what_to_do, strict=True))


@pytest.mark.parametrize(
    "name", ["crimson", "darkred", "firebrick", "navy", "purple", "indigo", "black", "maroon"]
)
def test_reds_and_deep_colours_may_lose_dye(name):
    """By the names of the trade (common practice, no source)."""
    assert may_bleed(hex_of(name))
    assert not is_pale(hex_of(name))


@pytest.mark.parametrize("name", ["white", "ivory", "beige", "pink", "lightblue", "gold"])
def test_what_is_pale_takes_dye_up_and_loses_none(name):
    assert is_pale(hex_of(name))
    assert not may_bleed(hex_of(name))


@pytest.mark.parametrize("name", ["dimgray", "seagreen", "peru", "steelblue", "goldenrod"])
def test_middling_colours_neither_lose_dye_nor_show_it(name):
    assert not may_bleed(hex_of(name))
    assert not is_pale(hex_of(name))


@pytest.mark.parametrize("colour", ["#b5452c", "#243b63", "#f1e9d2", "#101010", "#e9bb3f"])
def test_lightness_chroma_and_hue_as_another_library_has_them(colour):
    """scikit-image, which has a formula of its own, in the light of D65."""
    lab = rgb2lab(np.array([[rgb_of(colour)]]), illuminant="D65")
    lightness, chroma, hue = lab2lch(lab)[0, 0]
    ours = lightness_chroma_hue(colour)
    assert ours[0] == pytest.approx(lightness, abs=0.1)
    assert ours[1] == pytest.approx(chroma, abs=0.1)
    if chroma > 10:
        assert ours[2] == pytest.approx(np.degrees(hue), abs=0.5)


def test_the_pair_is_named():
    red, cream = Yarn("A", colour="#a01020"), Yarn("B", colour="#f4ecd8")
    ((where, finding, to_do),) = found(BLEEDING, red, cream)
    assert where == "A beside B"
    assert finding.endswith("it shows on B")
    assert "swatch them together and wash that as the label says" in to_do
    assert found(BLEEDING, red, replace(cream, colour="#60607a")) == []
    assert found(BLEEDING, red) == []  # of B nothing is known


def test_one_weight_throughout():
    """200 m and 125 m in 100 g are 1.6 times apart; 160 m in 100 g no more than a quarter."""
    fine = Yarn("A", metres_per_ball=100, grams_per_ball=50)
    thick = Yarn("B", metres_per_ball=125, grams_per_ball=100)
    ((where, finding, _),) = found(THICKNESS, fine, thick)
    assert (where, finding) == ("yarns B and A", "B is thicker: 125 m in 100 g, A has 200 m")
    assert found(THICKNESS, fine, replace(thick, metres_per_ball=160)) == []
    assert found(THICKNESS, fine, replace(thick, grams_per_ball=None)) == []
    # A yard is 0.9144 m: 136.7 and 218.7.
    ((_, in_yards, _),) = found(THICKNESS, fine, thick, units="in")
    assert in_yards == "B is thicker: 137 yd in 100 g, A has 219 yd"


def test_two_yarns_far_from_each_other_though_both_are_near_the_usual_one():
    bands = {"A": 200, "B": 170, "C": 240}
    yarns = [Yarn(each, metres_per_ball=m, grams_per_ball=100) for each, m in bands.items()]
    ((where, _, _),) = found(THICKNESS, *yarns, rows=["AAAAAABBCC"] * 6)
    assert where == "yarns B and C"


def test_superwash_is_told_of_only_where_joins_are_planned():
    bobbins = Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train")
    rows = stripes(40, 40, rows=22)
    wool = Yarn("A", feltable=True, superwash=True)
    ((where, finding, _),) = found(FELTING, wool, rows=rows, habits=bobbins)
    assert where == "yarn A"
    assert finding.endswith("planned, and superwash does not felt")
    assert found(FELTING, wool) == []
    assert found(FELTING, replace(wool, superwash=False), rows=rows, habits=bobbins) == []


def test_enough_of_one_lot():
    """A takes 30 stitches of 2 cm and two tails, 0.9 m, beside a swatch: of a ball of 1 m with
    its band a tenth too long that is one and more."""
    yarn = Yarn("A", metres_per_ball=1, balls_in_hand=1, dye_lot="041")
    needed = plan_of(TWO, {"A": yarn}).needed[0]
    assert needed.to_buy
    ((where, finding, to_do),) = found(LOTS, yarn)
    assert where == "yarn A"
    assert finding == f"{needed.balls:.2f} balls are needed, 1 in hand"
    assert to_do.startswith(f"Buy {needed.to_buy} ball")
    assert "of lot 041;" in to_do
    # Enough of one lot, enough only of two, none in hand yet.
    assert found(LOTS, replace(yarn, balls_in_hand=9)) == []
    both = replace(yarn, balls_in_hand=2, dye_lot="1 of 041, 1 of 042")
    ((_, finding, to_do),) = found(LOTS, both)
    assert finding.endswith("the largest lot has 1")
    assert to_do.startswith("Share the lots out")
    assert found(LOTS, replace(yarn, balls_in_hand=0)) == []


def test_the_demo_is_told_of_its_reds_and_of_its_one_ball_of_midnight():
    kinds = demo().findings.about.tolist()
    assert kinds[-2:] == [BLEEDING, LOTS]
