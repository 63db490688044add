"""What hangs together, in small groups that can be seen by eye."""

import numpy as np

from planner.strands.arrays import connected_parts, first_of_each, numbered_in_order, summed


def test_what_hangs_together():
    """0 with 3 and 3 with 5, 1 with 4; 2 by itself."""
    part = connected_parts(np.array([0, 5, 4]), np.array([3, 3, 1]), 6)
    assert part[0] == part[3] == part[5]
    assert part[1] == part[4]
    assert sorted(set(part.tolist())) == [0, 1, 2]
    assert numbered_in_order(part).tolist() == [0, 1, 2, 0, 1, 0]


def test_numbered_in_the_order_of_the_first_thing_in_each():
    assert numbered_in_order(np.array([2, 0, 0, 1, 2])).tolist() == [0, 1, 1, 2, 0]
    assert numbered_in_order(np.array([1, 0, 2])).tolist() == [0, 1, 2]


def test_the_first_of_each():
    assert first_of_each(np.array([2, 0, 0, 1, 2])).tolist() == [1, 3, 0]
    assert first_of_each(np.zeros(0, dtype=int)).tolist() == []


def test_sums():
    assert summed(np.array([1, 1, 3]), np.array([2, 0.5, 4]), 5).tolist() == [0, 2.5, 0, 4, 0]
    assert summed(np.array([0]), np.array([2]), 1).dtype == float
