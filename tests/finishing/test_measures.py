"""What to block to: sizes against a gauge by hand, and outlines drawn with a pen."""

from dataclasses import replace

import pytest

from planner import make_plan, open_project
from planner.finishing import how_to_block, measures_of, size_of, unblocked
from planner.piece import Construction, Gauge, Yarn
from tests.conftest import DEMO
from tests.helpers.measurements import measured
from tests.helpers.plans import demo, every_random_plan, plan_of, random_plan


def block(stitches, rows, **asked):
    return plan_of(["A" * stitches] * rows, **asked)


def outline_of(plan):
    return [(each.where, each.what, each.stitches, each.rows) for each in measures_of(plan)[1:]]


@pytest.mark.parametrize(
    ("plan", "size"),
    [
        # 90 stitches at 4.5 to the inch are 20 in (second-hand); 35 rows at 7 are 5 (computed).
        (block(90, 35, gauge=Gauge(4.5, 7, 1, "in"), units="in"), "20 × 5 in"),
        # 24 stitches × 30 rows to 4 in: a cell 20 wide is 16 high (published, a practitioner's
        # page), so 30 stitches × 30 rows are 5 × 4 in.
        (block(30, 30, gauge=Gauge(24, 30, 4, "in"), units="in"), "5 × 4 in"),
        # Garter works each row of the chart twice.
        (block(20, 20, gauge=Gauge(20, 40), how=Construction(fabric="garter")), "10 × 10 cm"),
        (block(44, 30, gauge=Gauge(22, 30), how=Construction(worked="rounds")), "20 round × 10 cm"),
        (demo(), "36 × 34.3 cm"),
    ],
)
def test_the_size(plan, size):
    assert size_of(plan) == size


def test_a_tube_is_measured_round_and_laid_flat():
    plan = block(44, 30, gauge=Gauge(22, 30), how=Construction(worked="turned"))
    around, flat = measures_of(plan)
    assert (around.across_cm, around.up_cm) == pytest.approx((20, 10))
    assert flat.across_cm == pytest.approx(10)


def test_a_sleeve_slants_out_and_goes_straight():
    """By hand: one stitch out at each side after rows 4, 8, 12 and 16, then 14 rows."""
    bottom_up = ["A" * 10] * 4
    for more in range(1, 5):
        bottom_up += ["A" * (10 + 2 * more)] * (4 if more < 4 else 14)
    plan = plan_of([line.center(18, ".") for line in reversed(bottom_up)])
    assert outline_of(plan) == [
        ("cast-on edge", "along it", 10, 0),
        ("both edges", "straight up", 0, 4),
        ("both edges", "slanting out", 4, 12),
        ("both edges", "straight up", 0, 14),
        ("bind-off edge", "along it", 18, 0),
    ]


# A front, from the bottom: straight, 4 bound off at each armhole and 3 decreases, straight; a neck.
ARMHOLE = [
    *["A" * 40] * 40,
    *["A" * 32] * 2,
    *["A" * 30] * 2,
    *["A" * 28] * 2,
    *["A" * 26] * 14,
    *["A" * 10 + "." * 6 + "A" * 10] * 10,
]


def test_a_front_with_armholes_and_a_neck():
    plan = plan_of([line.center(40, ".") for line in reversed(ARMHOLE)])
    assert outline_of(plan) == [
        ("cast-on edge", "along it", 40, 0),
        ("both edges", "straight up", 0, 40),
        ("both edges", "in, at once", 4, 0),
        ("both edges", "straight up", 0, 2),
        ("both edges", "slanting in", 3, 4),
        ("both edges", "straight up", 0, 24),
        ("both edges", "armhole, from its first step up", 0, 30),
        ("bind-off edge, right of the opening", "along it", 10, 0),
        ("bind-off edge, left of the opening", "along it", 10, 0),
        ("opening at the top", "width at its top, and depth", 6, 10),
    ]
    whole, *_ = measures_of(plan)
    assert (whole.stitches, whole.rows) == (40, 70)
    # 20 stitches and 28 rows to 10 cm.
    assert (whole.across_cm, whole.up_cm) == pytest.approx((20, 25))


def test_two_sides_that_differ_are_told_one_by_one():
    plan = plan_of(["AAA.", "AAA.", "AAAA", "AAAA"])
    assert outline_of(plan)[1:] == [
        ("right edge", "straight up", 0, 2),
        ("right edge", "in, at once", 1, 0),
        ("right edge", "straight up", 0, 2),
        ("left edge", "straight up", 0, 4),
        ("bind-off edge", "along it", 3, 0),
    ]


@every_random_plan
def test_the_stretches_of_a_side_come_to_its_height(number):
    plan = random_plan(number)
    rows = plan.traced.runs.rows
    whole, *outline = measures_of(plan)
    assert whole.rows == rows
    sides = {each.where for each in outline if "edges" in each.where or "side" in each.where}
    for side in sides:
        high = [each.rows for each in outline if each.where == side and "armhole" not in each.what]
        assert sum(high) == rows


def test_what_it_measures_before_blocking_comes_from_the_log():
    project = open_project(DEMO)
    as_knitted = measured(gauge_stitches=18, gauge_state="as knitted")
    plan = make_plan(replace(project, measurements=(as_knitted,)))
    before = unblocked(plan)
    # 72 stitches at 18 in 10 cm are 40 cm.
    assert before.width_cm == pytest.approx(40)
    assert "about 40 cm wide" in before.in_words("cm")
    blocked = measured(gauge_stitches=18, gauge_state="blocked")
    assert unblocked(make_plan(replace(project, measurements=(blocked,)))) is None


def test_blocking_defers_to_the_label_and_warns_of_heat():
    yarns = {
        "A": Yarn("A", "Grey", feltable=True),
        "B": Yarn("B", "Red", feltable=True, superwash=True),
    }
    words = " ".join(how_to_block(plan_of(["AB"], yarns)))
    assert words.startswith("Block by the label")
    assert "A Grey felts" in words
    assert "grows when it is wet (B Red)" in words
    assert "scald" in words
    assert "pets" in words
    assert "white cloth" in words
    plain = " ".join(how_to_block(plan_of(["A"])))
    assert "felt" not in plain
    assert "white cloth" not in plain
