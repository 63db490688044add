"""Chart, construction, gauge and carry limits: what they hold, and what they say to a wrong argument."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner import CarryLimits, Chart, Construction, Gauge, PlanError


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Chart.from_rows([]), ["empty"]),
        (lambda: Chart.from_rows(["AAA", "AA", "AAA"]), ["row 2", "line 2", "2 stitches", "3"]),
        (
            lambda: Chart.from_rows(["AA", "AA", "AAA"], source="chart.csv"),
            ["chart.csv", "row 1", "line 3", "3 stitches", "2"],
        ),
        (lambda: Chart.from_rows(["AAA", "..."]), ["row 1", "no worked stitch"]),
        (lambda: Chart.from_rows([""]), ["row 1", "no worked stitch"]),
        (
            lambda: Chart.from_rows(["AAA", "A1A"]),
            ["row 1", "stitch 2 from the right", '"1"', "yarn letter"],
        ),
        (lambda: Chart.from_rows(["A A"]), ["stitch 2 from the right", "nothing"]),
        (lambda: Chart.from_rows([["A", "ABCD", "A"]]), ['"ABCD"', "one to three letters"]),
        (lambda: Chart.from_rows(["A-B"]), ['"-"', "'.'"]),
        (lambda: Construction(worked="round"), ["worked", '"round"', "flat or rounds"]),
        (lambda: Construction(first_row="rs"), ["first_row", '"rs"', "RS or WS"]),
        (lambda: Construction(hand="both"), ["hand", '"both"', "right or left"]),
        (lambda: Construction(fabric="seed"), ["fabric", '"seed"', "stockinette or garter"]),
        (lambda: Gauge(stitches=0), ["stitches", "0", "more than 0"]),
        (lambda: Gauge(rows=-30), ["rows", "-30", "more than 0"]),
        (lambda: Gauge(over=0), ["length", "0", "more than 0"]),
        (lambda: Gauge(stitches="many"), ["stitches", '"many"', "not a number"]),
        (lambda: Gauge(stitches="22,5"), ["22,5", '"22.5"']),
        (lambda: Gauge(rows=float("nan")), ["rows", "nan", "not a number"]),
        (lambda: Gauge(rows=float("inf")), ["rows", "inf", "not a number"]),
        (lambda: Gauge(unit="mm"), ['"mm"', "cm or in"]),
        (lambda: Gauge.averaged([], [(30, 10)]), ["width", "at least one"]),
        (lambda: Gauge.averaged([(22, 10)], []), ["height", "at least one"]),
        (lambda: Gauge.averaged([(22, 0)], [(30, 10)]), ["width", "0", "more than 0"]),
        (lambda: CarryLimits(across=-1), ['"across"', "-1", "0 (never) or more"]),
        (lambda: CarryLimits(up="-1 cm"), ['"up"', "-1 cm", "0 (never) or more"]),
        (lambda: CarryLimits(sideways="5"), ['"sideways"', '"5"', "2.5 cm"]),
        (lambda: CarryLimits(sideways="far"), ['"sideways"', '"far"', "number and a unit"]),
        (lambda: CarryLimits(sideways="2,5 cm"), ['"sideways"', '"2.5"']),
        (lambda: CarryLimits(sideways="2 ft"), ['"sideways"', '"ft"', "cm"]),
        (lambda: CarryLimits(across=None), ['"across"', "not a number"]),
        (lambda: CarryLimits(across=float("nan")), ['"across"', "not a number"]),
        (lambda: CarryLimits(middle_start=1), ["middle_start", "1", "true or false"]),
        (lambda: CarryLimits(middle_start="no"), ["middle_start", "no", "true or false"]),
    ],
)
def test_wrong_arguments(make, words):
    with pytest.raises(PlanError) as caught:
        make()
    message = str(caught.value)
    assert [word for word in words if word not in message] == [], message


LETTERS = st.text("ABCXYZäé", min_size=1, max_size=3)


@st.composite
def grids(draw):
    """Rows of cells, each with a stitch; top row first."""
    width = draw(st.integers(1, 8))
    yarns = draw(st.lists(LETTERS, min_size=1, max_size=4, unique=True))
    row = st.lists(st.sampled_from([*yarns, "."]), min_size=width, max_size=width).filter(
        lambda cells: set(cells) != {"."}
    )
    return draw(st.lists(row, min_size=1, max_size=6))


@settings(derandomize=True, deadline=None)
@given(grids())
def test_rows_out_are_the_rows_in(grid):
    chart = Chart.from_rows(grid)
    assert chart.to_rows() == grid
    assert Chart.from_rows(chart.to_rows()) == chart
    assert (chart.rows, chart.columns) == (len(grid), len(grid[0]))
    assert chart.stitches() == {
        yarn: sum(row.count(yarn) for row in grid) for yarn in chart.letters
    }


def test_bottom_row_is_row_1():
    chart = Chart.from_rows(["AAB", ".BB"])
    assert chart.letters == ("A", "B")
    assert chart.cells.tolist() == [[-1, 1, 1], [0, 0, 1]]
    assert repr(chart) == "Chart of 3 stitches × 2 rows in 2 yarns: A, B"
    assert chart != Chart.from_rows([".BB", "AAB"])
    with pytest.raises(ValueError, match="read-only"):
        chart.cells[0, 0] = 1


def test_inches():
    """22.5 stitches in 6 in are 3.75 to the inch; 90 stitches at 4.5 to the inch are 20 in wide (second-hand)."""
    assert Gauge(22.5, 30, 6, "in").stitches_in(Fraction("2.54")) == Fraction("3.75")
    assert 90 * Gauge(4.5, 6, 1, "in").stitch_cm == pytest.approx(20 * 2.54)


def test_averaged():
    """50 stitches × 100 rows measured three times over: 3.09 stitches and 3.91 rows to the cm (published, practitioner page)."""
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
    """24 stitches × 30 rows to 4 in: a cell 20 wide is 16 high (published, cathysoddstuff.blogspot.com/2019)."""
    gauge = Gauge(24, 30, 4, "in")
    assert gauge.aspect == Fraction(4, 5)
    assert 20 * gauge.row_cm / gauge.stitch_cm == pytest.approx(16)
    assert Gauge(22, 30).aspect == Fraction(11, 15)


def test_four_inches_are_not_ten_centimetres():
    """22 stitches in 10 cm are 22.352 in 4 in (computed)."""
    assert Gauge(22, 30).stitches_in(4 * Fraction("2.54")) == Fraction("22.352")
    assert Gauge(22, 30, 4, "in").aspect == Gauge(22, 30).aspect
