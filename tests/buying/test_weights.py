"""Yarn by weight: metres from grams by hand sums, and how sure they are."""

import pytest

from planner import PlanError
from planner.buying import weighed

NAN = float("nan")


def test_a_part_ball_by_hand():
    """35 g of 100 m in 50 g: 70 m, 0.7 of a ball.

    A band's ±10 % is ordinary (published, tracykm.blogspot.com/2008/01); evenly within it that is
    ±5.77 %, or 404.1 cm; the scale's step 1 ÷ √12 g, or 57.7 cm; both 408.2, × 1.96 = 800.2 cm.
    """
    yarn = weighed(35, 2, grams_per_ball=50)
    assert yarn.likely_cm == 7000
    assert (yarn.low_cm, yarn.high_cm) == pytest.approx((7000 - 800.2, 7000 + 800.2), abs=0.1)
    assert yarn.balls == pytest.approx(0.7)
    assert yarn.lines == (
        "35 g × 2 m/g = 70 m",
        "With the error of the band: 62 m to 78 m",
        "That is 0.70 of a ball of 50 g",
    )


def test_a_weighed_length_is_surer():
    """By hand: 1 % of 7000 cm is 70; a step of 0.1 g 5.8 cm; both 70.2, × 1.96 = 137.7 cm."""
    by_band = weighed(35, 2, source="label", step=0.1)
    by_length = weighed(35, 2, source="weighed length", step=0.1)
    assert by_band.likely_cm == by_length.likely_cm
    assert by_length.high_cm - by_length.likely_cm == pytest.approx(137.7, abs=0.05)
    assert by_length.high_cm - by_length.low_cm < 0.3 * (by_band.high_cm - by_band.low_cm)
    assert "error of weighing" in by_length.lines[1]
    assert by_band.balls is None
    assert len(by_band.lines) == 2


def test_yarn_by_weight_in_yards():
    assert weighed(35, 2, units="in").lines[0] == "35 g × 2.187 yd/g = 77 yd"


def test_light_and_heavy_balls_are_within_the_limits():
    """Balls labelled 100 g weigh 119 and 91 g (published, tracykm.blogspot.com/2008/01).

    Weighing them tells one from the other.
    """
    light, heavy = (weighed(grams, 2, source="weighed length") for grams in (91, 119))
    assert heavy.low_cm > light.high_cm


def test_wool_dries():
    """Wool: trade regain 18.25 %, heated room 8–10 %: a length from the band reads 7–9 % short
    (published + computed)."""
    short = [100 * (1 - (1 + room) / 1.1825) for room in (0.10, 0.08)]
    assert [round(share) for share in short] == [7, 9]
    text = " ".join(weighed(50, 2, wool=True).lines)
    assert "7–9 % short" in text
    assert "Weigh a measured length on the same day" in text
    for dry in (weighed(50, 2), weighed(50, 2, wool=True, source="weighed length")):
        assert "short" not in " ".join(dry.lines)


@pytest.mark.parametrize("grams", [0.1, 0.3, 1])
def test_a_crumb_of_yarn_is_not_shorter_than_nothing(grams):
    """A coarse scale leaves all open below, but no length is negative."""
    yarn = weighed(grams, 2, step=1)
    assert 0 <= yarn.low_cm < yarn.likely_cm < yarn.high_cm
    assert "-" not in yarn.lines[1]
    assert weighed(0.1, 2, step=1).low_cm == 0


def test_a_sample_smaller_than_a_gram():
    """By eye: half a gram at half a metre in a gram is 25 cm, and half of a ball of one gram."""
    yarn = weighed(0.5, 0.5, step=0.01, grams_per_ball=1)
    assert (yarn.likely_cm, yarn.balls) == (25, 0.5)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: weighed(0, 2), ["weight", "0", "more than 0"]),
        (lambda: weighed(-5, 2), ["weight", "-5"]),
        (lambda: weighed(NAN, 2), ["weight", "nan"]),
        (lambda: weighed("50", 2), ["weight", "'50'", "number"]),
        (lambda: weighed(50, 0), ["length in a gram", "more than 0"]),
        (lambda: weighed(50, None), ["length in a gram", "None"]),
        (lambda: weighed(50, 2, step=0), ["step", "more than 0"]),
        (lambda: weighed(50, 2, step=-1), ["step", "-1"]),
        (lambda: weighed(50, 2, source="guess"), ['"guess"', "label", "weighed length"]),
        (lambda: weighed(50, 2, grams_per_ball=-50), ["ball", "-50"]),
        (lambda: weighed(50, 2, grams_per_ball=NAN), ["ball", "nan"]),
    ],
)
def test_wrong_arguments(make, words):
    with pytest.raises(PlanError) as caught:
        make()
    message = str(caught.value)
    assert [word for word in words if word not in message] == [], message
