"""One multiplier: margins, lengths and chances from a table of the normal distribution."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from planner import Multiplier, PlanError
from planner.piece.settings import MultiplierChoice


def test_margin_and_length_by_hand():
    """30 cm at 4 ± 0.1: likely 120 cm, and 30 × 0.1 × 1.645 = 4.935 cm so that 5 % are longer
    (any table of the normal)."""
    multiplier = Multiplier(4, 0.1)
    assert multiplier.margin() == pytest.approx(0.1 * 1.645, abs=1e-4)
    assert float(multiplier.margin_cm(30)) == pytest.approx(4.935, abs=0.001)
    assert multiplier.margin_cm([30, 60]).tolist() == pytest.approx([4.935, 9.869], abs=0.001)
    assert multiplier.length_at(30, 0.95).tolist() == pytest.approx([124.935], abs=0.001)
    short = multiplier.length_at([30, 60], 0.05)
    assert short.tolist() == pytest.approx([115.065, 230.131], abs=0.001)


def test_chances_by_hand():
    """30 cm at 4 ± 0.1 are 120 ± 3 cm; one spread above lie 15.87 % (from any table)."""
    multiplier = Multiplier(4, 0.1)
    chances = multiplier.chance_over([30, 30, 30], [117, 120, 123])
    assert chances.tolist() == pytest.approx([0.8413, 0.5, 0.1587], abs=1e-4)


def test_the_error_of_the_length_counts_too():
    """120 ± 3 cm, read to ± 4 cm: ± 5 cm together."""
    chances = Multiplier(4, 0.1).chance_over(30, 125, error_cm=4)
    assert chances.tolist() == pytest.approx([0.1587], abs=1e-4)


def test_without_a_spread_just_enough_is_enough():
    """120 cm do for 30 cm at exactly 4, to the hundredth of a millimetre; less never does."""
    exact = Multiplier(4, 0)
    assert exact.chance_over(30, [119.999, 120, 120.001]).tolist() == [1, 0, 0]
    # 0.1 × 3 is a little more than 0.3 to a computer, and 0.3 cm are enough all the same.
    assert Multiplier(3, 0).chance_over(0.1, 0.3).tolist() == [0]
    assert exact.margin() == 0
    assert exact.length_at(30, 0.95).tolist() == [120]


def test_of_chances_where_one_or_the_other_is_many():
    multiplier = Multiplier(4, 0.1)
    assert multiplier.chance_over(np.array([30, 60]), 120).tolist() == pytest.approx([0.5, 1])
    assert multiplier.chance_over(30, np.array([120, 200])).tolist() == pytest.approx([0.5, 0])


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (2.5, ""),
        (5.5, ""),
        (
            2.49,
            "A multiplier of 2.49 is outside 2.5 to 5.5: was the swatch stretched? Measure once "
            "more.",
        ),
        (
            5.51,
            "A multiplier of 5.51 is outside 2.5 to 5.5: is a crochet figure or was the cast-on "
            "left out? Measure once more.",
        ),
    ],
)
def test_a_question_about_an_unlikely_figure(value, words):
    assert Multiplier(value, 0).query == words


@pytest.mark.parametrize(
    ("choice", "expected"),
    [
        (MultiplierChoice("estimate"), (3.7, 0.45, "an estimate before any swatch")),
        (
            MultiplierChoice("rule of three"),
            (3, 0, "the plain rule of three, without a margin"),
        ),
        (MultiplierChoice("own", 4), (4, 0.2, "your own figure")),  # 5 % of 4
        (MultiplierChoice("own", 4, 0), (4, 0, "your own figure")),
        # A figure kept from before is not looked at.
        (MultiplierChoice("estimate", 4), (3.7, 0.45, "an estimate before any swatch")),
    ],
)
def test_as_its_knitter_chose(choice, expected):
    chosen = Multiplier.chosen(choice)
    assert (chosen.value, chosen.spread, chosen.basis) == expected


def test_in_words():
    """1.645 spreads each way: 0.123 × 1.645 = 0.202, and 0.45 × 1.645 = 0.74, told to a tenth."""
    assert str(Multiplier(3.456, 0.123)) == "3.46, between 3.25 and 3.66"
    assert str(Multiplier()) == "3.70, between 3.0 and 4.4"
    assert str(Multiplier(3, 0)) == "3.00"


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Multiplier(1), ["multiplier is 1", "cannot be as short as the row is wide"]),
        (lambda: Multiplier(float("nan")), ["The multiplier is nan"]),
        (lambda: Multiplier(3.7, -0.1), ["The multiplier's spread", "-0.1", "0 or more"]),
        (lambda: Multiplier.own("4"), ["Your own multiplier is '4'", "a number"]),
        (lambda: Multiplier().margin(1.9), ["Short once in how many", "1.9", "2 or more"]),
    ],
)
def test_wrong_arguments(make, words):
    with pytest.raises(PlanError) as caught:
        make()
    message = str(caught.value)
    assert [word for word in words if word not in message] == [], message


# What the estimate is worth


def loop_length():
    """The yarn in one stitch of width 2π whose centreline is (t + 1.5 sin 2t, 4 cos t, cos 2t), t
    from 0 to 2π."""
    return quad(
        lambda t: math.hypot(1 + 3 * math.cos(2 * t), 4 * math.sin(t), 2 * math.sin(2 * t)),
        0,
        2 * math.pi,
    )[0]


def compact_loop(diameter=1.0):
    """Length and width of a stitch in which the yarn touches itself on all sides: l = 2/c + 1/w +
    5.94 d."""
    width, row = 4 * diameter, 3.364 * diameter
    return 2 * row + width + 5.94 * diameter, width


def test_loop_centreline():
    """24.673204 long, 3.92686 times its width (computed from a published formula: Crane 2023,
    "plain-knit-yarn" note)."""
    assert loop_length() == pytest.approx(24.673204, abs=5e-7)
    assert loop_length() / (2 * math.pi) == pytest.approx(3.92686, abs=5e-6)


def test_compact_loop():
    """16.668 diameters, 4.167 times its width (Peirce 1947, from memory; 16.6688 second-hand)."""
    length, width = compact_loop()
    assert length == pytest.approx(16.668)
    assert length == pytest.approx(16.6688, abs=0.001)
    assert length / width == pytest.approx(4.167)


# Millimetres, length in a stitch ÷ rest width: published data + computed, doi
# 10.1038/s41467-024-46498-z.
ACRYLIC = 11.28 / 2.82
# Garter ÷ stockinette, length in a stitch, same source; of one width, else their ratio counts too.
GARTER = 10.55 / 11.28


def test_acrylic():
    """4.00, and in garter 0.935 of the length in a stitch (published data + computed, doi
    10.1038/s41467-024-46498-z)."""
    assert pytest.approx(4.00, abs=0.005) == ACRYLIC
    assert pytest.approx(0.935, abs=0.0005) == GARTER


@pytest.mark.parametrize(
    ("value", "evidence"),
    [
        (3.0, "trade rule of thumb: common practice, no source; also published"),
        (3.1, "real needles: published, practitioner page, gauge assumed"),
        (3.4, "real needles: published, practitioner page, gauge assumed"),
        (3.8, "plain knit, dry relaxed: from memory (Munden 1959)"),
        (4.1, "plain knit, wet relaxed: from memory (Munden 1959)"),
        (4.2, "plain knit, fully relaxed: from memory (Knapton et al. 1968), also second-hand"),
        (loop_length() / (2 * math.pi), "loop centreline: computed from a published formula"),
        (compact_loop()[0] / compact_loop()[1], "compact loop: from memory (Peirce 1947)"),
        (ACRYLIC, "worsted acrylic: published data + computed"),
        (
            ACRYLIC * GARTER,
            "the same in garter of the same stitch width: published data + computed",
        ),
    ],
)
def test_the_estimate_holds_the_evidence(value, evidence):
    estimate = Multiplier()
    assert abs(value - estimate.value) <= 2 * estimate.spread, evidence
    assert Multiplier(value, 0).query == "", evidence
