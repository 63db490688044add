"""Units: by definition, rounded up, and in words."""

import pandas as pd
import pytest

from planner.units import CM_PER, counted, in_words, parse_length, rounded_up, show, shown, to_cm

YARD = 91.44  # exact by definition


def test_lengths_by_definition():
    """The inch is 2.54 cm, the yard 36 of them (published: international yard and pound, 1959)."""
    assert float(CM_PER["in"]) == 2.54
    assert float(CM_PER["yd"]) == YARD
    assert parse_length("1 in") == to_cm("2.54", "cm") == to_cm(25.4, "mm")
    assert show(914.4, "in") == "10.00 yd"
    assert show(914.4, "cm") == "9.14 m"


@pytest.mark.parametrize(
    ("length_cm", "units", "rounded"),
    [(95, "cm", 95), (95.01, "cm", 100), (0.1, "cm", 5), (22.86, "in", 22.86)],
)
def test_rounded_up(length_cm, units, rounded):
    """To 5 cm or a quarter of a yard, never down."""
    assert rounded_up(length_cm, units) == pytest.approx(rounded)


def test_rounded_up_to_a_quarter_of_a_yard():
    assert rounded_up(23, "in") == pytest.approx(YARD / 2)


def test_a_table_in_the_units_shown():
    """Columns keep their order; those without a length keep their names."""
    table = pd.DataFrame({"strand": ["A1"], "wound_cm": [914.4], "rows": [3], "tails_cm": [30]})
    in_metres = shown(table, "cm")
    assert in_metres.columns.tolist() == ["strand", "wound_m", "rows", "tails_m"]
    assert in_metres.iloc[0].tolist() == ["A1", 9.14, 3, 0.3]
    assert shown(table, "in").iloc[0].tolist() == ["A1", 10, 3, 0.33]
    assert table.columns.tolist() == ["strand", "wound_cm", "rows", "tails_cm"]


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
