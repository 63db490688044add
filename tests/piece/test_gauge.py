"""Gauge: published figures, inches, and several counts."""

from fractions import Fraction

import pytest

from planner import Gauge

INCH = Fraction("2.54")


def test_inches():
    """22.5 stitches in 6 in are 3.75 to the inch; 90 stitches at 4.5 to the inch are 20 in wide
    (second-hand)."""
    assert Gauge(22.5, 30, 6, "in").stitches_in(Fraction("2.54")) == Fraction("3.75")
    assert 90 * Gauge(4.5, 6, 1, "in").stitch_cm == pytest.approx(20 * 2.54)


def test_several_counts():
    """50 stitches × 100 rows measured three times over: 3.09 stitches and 3.91 rows to the cm
    (published, practitioner page)."""
    gauge = Gauge(
        "50 over 15.7, 50 over 16.1, 50 over 16.8", "100 over 25.7, 100 over 25.9, 100 over 25.2"
    )
    assert 1 / gauge.stitch_cm == pytest.approx(3.09, abs=0.005)
    assert 1 / gauge.row_cm == pytest.approx(3.91, abs=0.005)


def test_a_wide_measurement_counts_for_more():
    """By eye: 10 stitches over 2 in and 30 over 8 in are 40 over 10 in, 16 in 4 in."""
    gauge = Gauge("10 over 2, 30 over 8", "20 over 4", unit="in")
    assert gauge.stitches_in(4 * INCH) == 16
    assert gauge.rows_in(4 * INCH) == 20


def test_aspect():
    """24 stitches × 30 rows to 4 in: a cell 20 wide is 16 high (published,
    cathysoddstuff.blogspot.com/2019)."""
    gauge = Gauge(24, 30, 4, "in")
    assert gauge.aspect == Fraction(4, 5)
    assert 20 * gauge.row_cm / gauge.stitch_cm == pytest.approx(16)
    assert Gauge(22, 30).aspect == Fraction(11, 15)


def test_four_inches_are_not_ten_centimetres():
    """22 stitches in 10 cm are 22.352 in 4 in (computed)."""
    assert Gauge(22, 30).stitches_in(4 * Fraction("2.54")) == Fraction("22.352")
    assert Gauge(22, 30, 4, "in").aspect == Gauge(22, 30).aspect


def test_counts_are_added_up_exactly():
    """33 and 34 stitches over 6 in are 67 over 12: one is 12/67 in wide, no rounded figure."""
    gauge = Gauge("33 over 6, 34 over 6", "22.5 over 3", unit="in")
    assert gauge.stitches_in(67 * INCH) == Fraction(67 * 67, 12)
    assert gauge.stitch_cm == float(12 * INCH / 67)
    assert gauge.aspect == Fraction(67, 12) / Fraction("7.5")


@pytest.mark.parametrize(
    ("gauge", "words"),
    [
        (Gauge(20, 28), "20 stitches and 28 rows over 10 cm"),
        (
            Gauge("33 over 6, 34 over 6", "22.5 over 3", unit="in"),
            "33 and 34 stitches over 6 in, 22.5 rows over 3 in",
        ),
        (
            Gauge("20 over 10, 31 over 15, 21 over 10", 28),
            "20 and 21 stitches over 10 cm, 31 stitches over 15 cm, 28 rows over 10 cm",
        ),
    ],
)
def test_in_a_knitters_words(gauge, words):
    assert str(gauge) == gauge.in_words(gauge.unit) == words


def test_in_the_words_of_the_other_unit():
    """22 stitches in 10 cm are 22.352 in 4 in, 30 rows 30.48 (computed)."""
    assert Gauge(22, 30).in_words("in") == "22.4 stitches and 30.5 rows over 4 in"
    assert Gauge("20 over 4", "28 over 4", unit="in").in_words("cm") == (
        "19.7 stitches and 27.6 rows over 10 cm"
    )


def test_the_simple_form_stays_readable():
    gauge = Gauge(22.5, 30, 6, "in")
    assert (gauge.stitches, gauge.rows, gauge.over, gauge.unit) == (22.5, 30, 6, "in")
    assert gauge.stitch_counts == ((Fraction("22.5"), 6),)
