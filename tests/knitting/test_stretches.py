"""Stretches worth reading before their turn: the first start, carry, middle start, busiest row."""

import pytest

from planner import CarryLimits
from planner.knitting import Stretch, stretches_to_read
from tests.helpers.plans import V, plan_of
from tests.helpers.rows import every_random_case, random_case

STRICT = CarryLimits(middle_start=False)


def test_each_is_found_by_eye():
    """B begins in row 4; from row 9 to row 10 it goes on three stitches farther on."""
    low, high = "AAAAABBBAAAAAAAA", "AAAAAAAABBBAAAAA"
    rows = ["A" * 16] * 3 + [high] * 3 + [low] * 6 + ["A" * 16] * 3
    stretches = stretches_to_read(plan_of(rows, limits=STRICT))
    assert Stretch("A length begins; the busiest row", 3, 5) in stretches
    assert any(
        "A yarn is carried" in each.why and each.first <= 9 <= each.last for each in stretches
    )


def test_a_length_begun_from_its_middle_is_found():
    stretches = stretches_to_read(plan_of(V, limits=CarryLimits(across=1)))
    assert stretches[0].first == 1
    assert "begun from its middle" in stretches[0].why


@pytest.mark.parametrize("rows", [1, 5])
def test_where_nothing_happens_there_is_nothing_to_read(rows):
    assert stretches_to_read(plan_of(["A" * 12] * rows)) == []


@every_random_case
def test_stretches_lie_in_the_piece_in_order_and_apart(number):
    _, plan = random_case(number)
    stretches = stretches_to_read(plan)
    rows = [row for each in stretches for row in range(each.first, each.last + 1)]
    assert rows == sorted(set(rows))
    assert rows[0] >= 1
    assert rows[-1] <= len(plan.cards)
    busiest = max(plan.loads, key=lambda load: load.borders + 2 * (load.starts + load.ends))
    assert busiest.row + 1 in rows
