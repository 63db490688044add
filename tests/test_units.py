"""Units: by definition, rounded up, and in words."""

import math

import pandas as pd
import pytest

from planner.errors import PlanError
from planner.units import (
    CM_PER,
    counted,
    exact,
    figure,
    in_whole_steps,
    in_words,
    parse_length,
    rounded_down,
    rounded_up,
    show,
    show_measured,
    show_per_gram,
    show_short,
    show_total,
    shown,
    shown_totals,
    stretches,
    tenth_up,
    to_cm,
    whole_percent,
)

INCH, YARD = 2.54, 91.44  # exact by definition


def test_lengths_by_definition():
    """The inch is 2.54 cm, the yard 36 of them (published: international yard and pound, 1959)."""
    assert float(CM_PER["in"]) == 2.54
    assert float(CM_PER["yd"]) == YARD
    assert parse_length("1 in") == to_cm("2.54", "cm") == to_cm(25.4, "mm")
    assert show(914.4, "in") == "10.00 yd"
    assert show(914.4, "cm") == "9.14 m"


@pytest.mark.parametrize(
    ("length_cm", "units", "rounded"),
    [
        (95, "cm", 95),
        (95.01, "cm", 100),
        (0.1, "cm", 5),
        (22.86, "in", 22.86),
        (23, "in", 25.4),
        (0.1, "in", INCH),
        (YARD, "in", YARD),
        (YARD + 0.1, "in", 1.25 * YARD),
        (1.3 * YARD, "in", 1.5 * YARD),
    ],
)
def test_rounded_up(length_cm, units, rounded):
    """To 5 cm; to an inch up to a yard, then to a quarter of a yard, never down."""
    assert rounded_up(length_cm, units) == pytest.approx(rounded)


@pytest.mark.parametrize(
    ("length_cm", "units", "down", "up"),
    [
        (95, "cm", 95, 95),
        (99.99, "cm", 95, 100),
        (0.1, "cm", 0, 5),
        (30 * 3.1, "cm", 90, 95),
        # However short, by quarters of a yard: nine inches.
        (10 * INCH, "in", 9 * INCH, 18 * INCH),
        (1.3 * YARD, "in", 1.25 * YARD, 1.5 * YARD),
        (1.5 * YARD, "in", 1.5 * YARD, 1.5 * YARD),
    ],
)
def test_whole_steps_down_and_up(length_cm, units, down, up):
    assert rounded_down(length_cm, units) == pytest.approx(down)
    assert in_whole_steps(length_cm, units) == pytest.approx(up)
    assert in_whole_steps(length_cm, units) >= rounded_up(length_cm, units) - 1e-9


def test_an_endless_ball_stays_endless():
    assert rounded_down(math.inf, "cm") == math.inf


@pytest.mark.parametrize(
    ("inches", "words"),
    [
        (7, "7 in"),
        (27, "27 in"),
        (2.345, "2.3 in"),
        (35.97, "1.00 yd"),
        (36, "1.00 yd"),
        (45, "1.25 yd"),
        (75, "2 yd 3 in"),
        (75.1, "2.09 yd"),
        (0, "0 in"),
        (-5, "-5 in"),
    ],
)
def test_lengths_in_inches_and_yards(inches, words):
    """Under a yard in inches; whole inches that are no quarter of a yard are said exactly."""
    assert show(inches * INCH, "in") == words


def test_short_lengths_in_words():
    assert [show_short(15.24, "in"), show_short(15, "in"), show_short(15, "cm")] == [
        "6 in",
        "5.9 in",
        "15 cm",
    ]
    assert [show_measured(30, "cm"), show_measured(30, "in", 2)] == ["30 cm", "11.81 in"]
    assert [show_per_gram(2.5, "cm"), show_per_gram(2.5, "in")] == ["2.5 m/g", "2.734 yd/g"]


def test_a_table_in_the_units_shown():
    """Columns keep their order; those without a length keep their names."""
    table = pd.DataFrame({"strand": ["A1"], "wound_cm": [914.4], "rows": [3], "tails_cm": [30]})
    in_metres = shown(table, "cm")
    assert in_metres.columns.tolist() == ["strand", "wound_m", "rows", "tails_m"]
    assert in_metres.iloc[0].tolist() == ["A1", 9.14, 3, 0.3]
    assert shown(table, "in").iloc[0].tolist() == ["A1", 10, 3, 0.33]
    assert table.columns.tolist() == ["strand", "wound_cm", "rows", "tails_cm"]


@pytest.mark.parametrize(
    ("length_cm", "units", "words"),
    [
        (107.25 * YARD, "in", "107 yd"),
        (107.5 * YARD, "in", "108 yd"),
        (16930, "cm", "169 m"),
        (123450, "cm", "1,235 m"),
        (995, "cm", "10 m"),
        (994, "cm", "9.9 m"),
        (35, "cm", "0.4 m"),
        (-35, "cm", "-0.4 m"),
        (0, "cm", "0.0 m"),
    ],
)
def test_a_sum_of_lengths_in_words(length_cm, units, words):
    assert show_total(length_cm, units) == words


def test_sums_in_a_table_are_told_to_a_tenth():
    """0.25 + 0.10 are 0.35: shown as 0.3 + 0.1 = 0.4."""
    table = pd.DataFrame({"yarn": ["A"], "piece_cm": [25.0], "spare_cm": [10.0], "total_cm": [35]})
    assert shown_totals(table, "cm").iloc[0].tolist() == ["A", 0.3, 0.1, 0.4]
    assert tenth_up(10.1, "cm") == pytest.approx(20)
    assert tenth_up(10, "cm") == pytest.approx(10)
    assert tenth_up(9.2, "in") == pytest.approx(2 * YARD / 10)
    lost = pd.DataFrame({"left_cm": [float("nan"), 140.0]})
    assert shown_totals(lost, "cm").left_m.isna().tolist() == [True, False]


def test_figures_and_percent():
    assert [figure(number) for number in (30.0, 612.34, 0.05, 100, 0)] == [
        "30",
        "612.3",
        "0.1",
        "100",
        "0",
    ]
    assert figure(1.705, 2) == "1.71"
    chances = [0.0, 0.004, 0.957, 0.999, 1.0]
    assert [whole_percent(chance) for chance in chances] == [0, 0, 95, 99, 99]
    assert [whole_percent(chance, sure=True) for chance in chances] == [0, 0, 95, 99, 100]
    assert whole_percent(0.95) == whole_percent(1 - 1 / 20) == 95


def test_words():
    counts = [(1, "stitch"), (3, "stitch"), (2, "strand"), (0, "ball"), (1200, "stitch")]
    assert [counted(*count) for count in counts] == [
        "1 stitch",
        "3 stitches",
        "2 strands",
        "0 balls",
        "1,200 stitches",
    ]
    assert [in_words(name) for name in ("tail_cm", "short_once_in")] == [
        "tail (cm)",
        "short once in",
    ]


@pytest.mark.parametrize(
    ("numbers", "words"),
    [([], []), ([4], ["4"]), ([1, 2, 3], ["1–3"]), ([1, 2, 4, 7, 8], ["1–2", "4", "7–8"])],
)
def test_stretches(numbers, words):
    assert stretches(numbers) == words


@pytest.mark.parametrize(
    ("typed", "number"), [("1,5", 1.5), ("0,125", 0.125), ("-2,25", -2.25), ("12,3456", 12.3456)]
)
def test_a_decimal_comma_is_a_point(typed, number):
    assert float(exact(typed, "It")) == number


@pytest.mark.parametrize("typed", ["1,000", "250,125", "1,2,3", ",5", "5,"])
def test_what_may_be_thousands_is_asked_back(typed):
    with pytest.raises(PlanError, match="not a number"):
        exact(typed, "It")
