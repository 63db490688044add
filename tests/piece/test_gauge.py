"""Gauge: published figures, inches, and averages."""

from fractions import Fraction

import pytest

from planner import Gauge


def test_inches():
    """22.5 stitches in 6 in are 3.75 to the inch; 90 stitches at 4.5 to the inch are 20 in wide
    (second-hand)."""
    assert Gauge(22.5, 30, 6, "in").stitches_in(Fraction("2.54")) == Fraction("3.75")
    assert 90 * Gauge(4.5, 6, 1, "in").stitch_cm == pytest.approx(20 * 2.54)


def test_averaged():
    """50 stitches × 100 rows measured three times over: 3.09 stitches and 3.91 rows to the cm
    (published, practitioner page)."""
    gauge = Gauge.averaged(
        [(50, 15.7), (50, 16.1), (50, 16.8)], [(100, 25.7), (100, 25.9), (100, 25.2)]
    )
    assert 1 / gauge.stitch_cm == pytest.approx(3.09, abs=0.005)
    assert 1 / gauge.row_cm == pytest.approx(3.91, abs=0.005)


def test_a_wide_measurement_counts_for_more():
    """By eye: 10 stitches over 2 in and 30 over 8 in are 40 over 10 in, 16 in 4 in."""
    gauge = Gauge.averaged([(10, 2), (30, 8)], [(20, 4)], unit="in")
    assert (gauge.stitches, gauge.rows, gauge.over, gauge.unit) == (16, 20, 4, "in")


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


def test_averages_in_inches_are_over_four_inches():
    """By eye: 11 stitches in 2 in and 13 in 2 in are 24 in 4 in."""
    gauge = Gauge.averaged([(11, 2), (13, 2)], [(15, 2), (60, 8)], unit="in")
    assert str(gauge) == "24 stitches and 30 rows over 4 in"
