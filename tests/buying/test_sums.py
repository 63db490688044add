"""The quick sum: by eye, in inches, and beside figures from outside."""

import pytest

from planner import Gauge, Multiplier, PlanError, Yarn, quick_sum

INCH, YARD = 2.54, 91.44


def test_a_sum_by_eye():
    """60 stitches at 20 in 10 cm are 30 cm; × 4 = 120 cm; two tails of 15 cm make 150 cm."""
    total = quick_sum(60, Gauge(20, 28), multiplier=Multiplier(4, 0, "from a swatch"))
    assert total.lines == (
        "Width laid in one row: 60 stitches × 10 cm ÷ 20 = 30 cm",
        "Yarn in the stitches: 30 cm × 4.00 (from a swatch) = 120 cm",
        "Two tails: 2 × 15 cm = 30 cm",
        "Likely length: 150 cm",
        "Wind: 150 cm, that is 1.50 m rounded up",
        "Rule of three beside it: 30 cm × 3 + 30 cm = 120 cm, that is 1.20 m",
    )
    assert str(total) == "\n".join(total.lines)
    assert (total.stitches, total.width_cm, total.tails_cm) == (60, 30, 30)
    assert (total.likely_cm, total.planned_cm, total.rule_cm) == (150, 150, 120)


def test_a_sum_with_a_margin_by_eye():
    """The margin of 4 ± 0.2, short once in 20, is 0.2 × 1.645 = 0.329 of 30 cm: 9.87 cm."""
    total = quick_sum(60, Gauge(20, 28), multiplier=Multiplier(4, 0.2), tail_cm=0)
    assert total.planned_cm - total.likely_cm == pytest.approx(9.87, abs=0.005)
    assert total.lines[4:6] == (
        "Margin, to fall short only once in 20: 30 cm × 0.33 = 9.9 cm",
        "Wind: 129.9 cm, that is 1.30 m rounded up",
    )


def test_a_sum_in_inches_by_eye():
    """20 stitches at 5 to the inch are 4 in; × 4 = 16 in; two tails of 4 in make 24 in; 20 in by
    the rule. Whole inches stay what they are."""
    gauge = Gauge(5, 7, 1, "in")
    total = quick_sum(20, gauge, multiplier=Multiplier(4, 0), tail_cm=4 * INCH, units="in")
    assert total.likely_cm == pytest.approx(24 * INCH)
    assert total.lines[0] == "Width laid in one row: 20 stitches × 1 in ÷ 5 = 4 in"
    assert total.lines[4] == "Wind: 24 in, that is 24 in rounded up"
    assert total.lines[5].endswith("4 in × 3 + 8 in = 20 in, that is 20 in")


def test_before_any_swatch():
    """The estimate, and a margin that holds its spread: 0.45 × 1.645 of 50 cm is 37 cm and more."""
    total = quick_sum(100, Gauge(20, 28), tail_cm=0)
    assert total.likely_cm == pytest.approx(3.7 * 50)
    assert 37 < total.planned_cm - total.likely_cm < 42
    assert "(an estimate before any swatch)" in str(total)
    often_short = quick_sum(100, Gauge(20, 28), tail_cm=0, short_once_in=5)
    assert often_short.planned_cm < total.planned_cm - 10


def test_stitches_over_six_inches():
    """22.5 stitches in 6 in are 3.75 to the inch; 90 stitches at 4.5 to the inch are 20 in wide
    (second-hand)."""
    assert 15 / quick_sum(15, Gauge(22.5, 30, 6, "in")).width_cm * INCH == pytest.approx(3.75)
    assert quick_sum(90, Gauge(4.5, 6, 1, "in")).width_cm == pytest.approx(20 * INCH)


def test_four_inches_are_not_ten_centimetres():
    """22 stitches in 10 cm are 22.352 in 4 in (computed): 1.6 % more yarn in as many stitches."""
    in_10cm, in_4in = (
        quick_sum(1000, gauge, tail_cm=0) for gauge in (Gauge(22, 30), Gauge(22, 30, 4, "in"))
    )
    assert in_4in.likely_cm / in_10cm.likely_cm == pytest.approx(22.352 / 22)
    same = quick_sum(1000, Gauge(22.352, 30, 4, "in"), tail_cm=0)
    assert same.planned_cm == pytest.approx(in_10cm.planned_cm)


def test_stretched_width_leaves_the_length_in_a_stitch():
    """Wider stitches at the same length in a stitch have a lower multiplier (computed): the same
    yarn comes out."""
    narrow = quick_sum(500, Gauge(22, 30), multiplier=Multiplier(4.0, 0), tail_cm=0)
    wide = quick_sum(500, Gauge(20, 30), multiplier=Multiplier(4.0 * 20 / 22, 0), tail_cm=0)
    assert wide.planned_cm == pytest.approx(narrow.planned_cm)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: quick_sum(0, Gauge()), ["0 stitches", "at least 1"]),
        (lambda: quick_sum(2.5, Gauge()), ["2.5 stitches", "over all rows"]),
        (lambda: quick_sum(60, Gauge(), tail_cm=-1), ["-1 cm", "give 0 or more"]),
        (lambda: quick_sum(60, Gauge(), short_once_in=1), ["Short once in how many"]),
    ],
)
def test_wrong_arguments(make, words):
    with pytest.raises(PlanError) as caught:
        make()
    message = str(caught.value)
    assert [word for word in words if word not in message] == [], message


def test_the_least_that_is_possible():
    """One stitch without tails, half a centimetre wide."""
    total = quick_sum(1, Gauge(20, 28), multiplier=Multiplier(4, 0), tail_cm=0)
    assert total.planned_cm == 2


# What others have published


@pytest.mark.parametrize(("tail_in", "total_in"), [(4, 38), (6, 42)])
def test_rule_of_thumb(tail_in, total_in):
    """60 stitches at 6 to the inch: 3 × 10 in and two tails of 4 to 6 in (common practice, no
    source)."""
    total = quick_sum(
        60,
        Gauge(6, 8, 1, "in"),
        multiplier=Multiplier.rule_of_three(),
        tail_cm=tail_in * INCH,
        units="in",
    )
    assert total.rule_cm == pytest.approx(total_in * INCH)
    assert total.planned_cm == total.likely_cm == total.rule_cm  # the plain rule knows no margin
    assert f"= {total_in} in" in str(total)


def test_stitches_from_a_yard():
    """45 stitches from a yard, 25,200 stitches: 560 yd (published,
    knitnmore.blogspot.com/2009/06)."""
    total = quick_sum(
        25_200, Gauge(5, 7, 1, "in"), multiplier=Multiplier(36 / 45 * 5, 0), tail_cm=0, units="in"
    )
    assert total.planned_cm == pytest.approx(560 * YARD)


def test_needle_wraps():
    """10 wraps are 6.75 in, so 1,545 stitches 1,042.9 in or 28.97 yd (published,
    destiknitions.blogspot.com/2014/09)."""
    total = quick_sum(
        1545, Gauge(5, 7, 1, "in"), multiplier=Multiplier(0.675 * 5, 0), tail_cm=0, units="in"
    )
    assert total.planned_cm / INCH == pytest.approx(1042.9, abs=0.05)
    assert total.planned_cm / YARD == pytest.approx(28.97, abs=0.005)
    assert "1042.9 in" in str(total)


def test_weight_of_a_piece_from_a_swatch():
    """10,000 stitches weigh 70 g, so 130,800 stitches 915.6 g (published,
    getknitting.com/ak_yarnquantity.aspx)."""
    swatch, piece = (
        quick_sum(n, Gauge(), multiplier=Multiplier(4, 0), tail_cm=0).planned_cm
        for n in (10_000, 130_800)
    )
    yarn = Yarn("A", metres_per_ball=swatch / 100, grams_per_ball=70)
    assert yarn.grams(piece) == pytest.approx(915.6)
