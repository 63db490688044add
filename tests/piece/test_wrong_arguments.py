"""What chart, construction, gauge and carry limits say to a wrong argument."""

import pytest

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
        (lambda: Construction(worked="round"), ["worked", '"round"', "flat, rounds or turned"]),
        (lambda: Construction(first_row="rs"), ["first_row", '"rs"', "RS or WS"]),
        (lambda: Construction(hand="both"), ["hand", '"both"', "right or left"]),
        (lambda: Construction(fabric="seed"), ["fabric", '"seed"', "stockinette or garter"]),
        (lambda: Gauge(stitches=0), ["stitches", "0", "more than 0"]),
        (lambda: Gauge(rows=-30), ["rows", "-30", "more than 0"]),
        (lambda: Gauge(over=0), ["length", "0", "more than 0"]),
        (lambda: Gauge(stitches="many"), ["stitches", '"many"', "not a number"]),
        (lambda: Gauge(stitches="22,500"), ["22,500", '"22.500"']),
        (lambda: Gauge(rows=float("nan")), ["rows", "nan", "not a number"]),
        (lambda: Gauge(rows=float("inf")), ["rows", "inf", "not a number"]),
        (lambda: Gauge(unit="mm"), ['"mm"', "cm or in"]),
        (lambda: Gauge("22 in 10"), ['"22 in 10"', "not a number"]),
        (
            lambda: Gauge("33 over 6, 34"),
            ['"34" is no count of stitches', '"33 over 6, 34.5 over 6"'],
        ),
        (lambda: Gauge(22, "30,5 over 10"), ['"30" is no count of rows', "decimal points"]),
        (lambda: Gauge(22, "30 over 0"), ["length", "0", "more than 0"]),
        (lambda: Gauge("33 over six"), ["length", '"six"', "not a number"]),
        (
            lambda: Gauge("33 over 6, 34 over 15", unit="in"),
            ["counts of stitches contradict", "33 over 6 and 34 over 15", "another unit"],
        ),
        (lambda: CarryLimits(across=-1), ['"across"', "-1", "0 (never) or more"]),
        (lambda: CarryLimits(up="-1 cm"), ['"up"', "-1 cm", "0 (never) or more"]),
        (lambda: CarryLimits(sideways="5"), ['"sideways"', '"5"', "2.5 cm"]),
        (lambda: CarryLimits(sideways="far"), ['"sideways"', '"far"', "number and a unit"]),
        (lambda: CarryLimits(sideways="2,500 cm"), ['"sideways"', '"2.500"']),
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
