"""The exact choice on its own: links between numbered ports, with their costs."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.strands import matching
from planner.strands.matching import cheapest_matching
from tests.helpers.best_choice import best_by_trying, totals


@st.composite
def port_graphs(draw):
    """Links between a few ports, two of them the same two ports now and then, with costs small
    enough to tie."""
    ports = draw(st.integers(2, 8))
    pair = st.lists(st.integers(0, ports - 1), min_size=2, max_size=2, unique=True)
    scale = draw(st.sampled_from([1, 1, 10_000]))
    cost = st.integers(0, 6).map(lambda x: x * scale)
    return draw(st.lists(st.tuples(pair, st.integers(0, 1), cost), max_size=11))


@settings(derandomize=True, deadline=None, max_examples=600)
@given(port_graphs())
def test_any_graph_against_trying_every_choice(graph):
    links = [(u, v, middle, Fraction(cost)) for (u, v), middle, cost in graph]
    u, v, middle, cost = (np.array([link[i] for link in links], dtype=np.int64) for i in range(4))
    taken = cheapest_matching(u, v, middle, cost)
    chosen = [link for link, take in zip(links, taken, strict=True) if take]
    ports = [port for link in chosen for port in link[:2]]
    assert len(ports) == len(set(ports))
    assert totals(chosen, 1) == best_by_trying(links, 1)


def test_two_links_between_the_same_ports():
    """By eye: in a square with every side doubled, the two dear sides are not taken, nor is the
    dear twin of a cheap one."""
    u, v = np.array([0, 0, 1, 1, 2, 2, 3, 3]), np.array([1, 1, 2, 2, 3, 3, 0, 0])
    cost = np.array([5, 2, 4, 9, 2, 7, 9, 4])
    assert np.flatnonzero(cheapest_matching(u, v, np.zeros(8, dtype=int), cost)).tolist() == [1, 4]


# One aim after the other. A ring of links can be taken in two ways, every other link each time.


def ring(*links, place=None):
    """Which links of a ring are taken; each is given as (middle starts, length carried)."""
    u = np.arange(len(links))
    v = np.roll(u, -1)
    middle, carried = np.array(links).T
    return np.flatnonzero(cheapest_matching(u, v, middle, carried, place=place)).tolist()


def test_the_least_carried_comes_before_the_least_squares():
    """By eye: 40 + 0 + 40 + 0 + 40 + 0 = 120 is less than 5 × 20 + 21 = 121, whose squares are
    less by 4800 − 2441 = 2359, which is far more than any one square."""
    uneven, even = (40, 0, 40, 0, 40, 0), (20, 20, 20, 20, 20, 21)
    links = [(0, length) for pair in zip(uneven, even, strict=True) for length in pair]
    assert ring(*links) == [0, 2, 4, 6, 8, 10]
    assert ring(*links[1:], links[0]) == [1, 3, 5, 7, 9, 11]


def test_of_two_choices_that_carry_as_far_the_even_one_is_taken():
    """By eye: 1 + 3 and 2 + 2 carry as far; the squares are 10 and 8."""
    assert ring((0, 1), (0, 2), (0, 3), (0, 2)) == [1, 3]
    assert ring((0, 2), (0, 1), (0, 2), (0, 3)) == [0, 2]


def test_the_least_squares_come_before_the_earliest_places():
    """By eye: 2 + 2 + 1 and 1 + 1 + 3 carry as far; the squares are 9 and 11, and the links with
    the lesser squares lead to the late places 1001, 1003 and 1005, the others to 0, 2 and 4."""
    even, uneven = (2, 2, 1), (1, 1, 3)
    links = [(0, length) for pair in zip(even, uneven, strict=True) for length in pair]
    place = np.array([0, 1001, 2, 1003, 4, 1005])
    assert ring(*links, place=place) == [0, 2, 4]
    assert ring(*[(0, 2)] * 6, place=place) == [1, 3, 5]


def test_the_fewest_middle_starts_come_before_the_least_carried():
    """By eye: one middle start and 3 carried, or none and 3 × 9 carried."""
    assert ring((1, 1), (0, 9), (0, 1), (0, 9), (0, 1), (0, 9)) == [1, 3, 5]


def test_most_links_come_before_all():
    """By eye: in a line of three links the outer two are taken, be they ever so dear."""
    u, v = np.array([0, 1, 2]), np.array([1, 2, 3])
    dear = cheapest_matching(u, v, np.array([1, 0, 1]), np.array([10**6, 0, 10**6]))
    assert dear.tolist() == [True, False, True]


@pytest.mark.parametrize("order", [[0, 1, 2, 3], [3, 0, 1, 2], [2, 3, 1, 0]])
def test_a_tie_goes_to_the_earlier_places(order):
    """By eye: in a square of like links those that lead to the earlier places are taken.

    The links lead to the ports 1, 2, 3 and 0, whose places are given.
    """
    u, v, like = np.arange(4), np.array([1, 2, 3, 0]), np.zeros(4, dtype=int)
    place = np.array(order) * 1000
    odd, even = place[1] + place[3], place[2] + place[0]
    taken = cheapest_matching(u, v, like, like, place=place)
    assert taken.tolist() == ([True, False] * 2 if odd < even else [False, True] * 2)


def test_a_tie_between_single_links_goes_to_the_earlier_place():
    """By eye: one run may go on to either of two later ones, alike: the earlier is taken."""
    u, v, like = np.array([1, 1]), np.array([4, 2]), np.zeros(2, dtype=int)
    assert cheapest_matching(u, v, like, like).tolist() == [False, True]
    assert cheapest_matching(u[::-1], v[::-1], like, like).tolist() == [True, False]


def test_long_carries_leave_less_room_for_ties():
    """By eye: the sides of a square in turn carry far, nothing, far and one part of a hundred
    million. Places so far apart would need more digits than there are; that spoils nothing."""
    far = 10**8
    place = np.arange(4) << 40
    assert ring((0, far), (0, 0), (0, far), (0, 1), place=place) == [1, 3]
    assert ring((0, far), (0, 0), (0, 0), (0, far - 1), place=place) == [1, 3]
    assert ring((0, far - 1), (0, 0), (0, 0), (0, far), place=place) == [0, 2]


# Large groups


def test_it_says_that_a_large_group_takes_time(monkeypatch):
    """Of two rings with four and six links the larger is counted where four are not yet many."""
    monkeypatch.setattr(matching, "LARGE_GROUP", 4)
    u = np.arange(10)
    v = np.array([1, 2, 3, 0, 5, 6, 7, 8, 9, 4])
    like, said = np.ones(10, dtype=int), []
    cheapest_matching(u, v, like, like, say=said.append)
    assert len(said) == 1
    assert said[0].startswith("Weighing 6 possible carries that hang together")
    cheapest_matching(u[:4], v[:4], like[:4], like[:4], say=said.append)
    assert len(said) == 1


def test_a_large_group_needs_nobody_to_tell(monkeypatch):
    monkeypatch.setattr(matching, "LARGE_GROUP", 3)
    assert ring((0, 1), (0, 2), (0, 3), (0, 2)) == [1, 3]


def test_what_is_sure_needs_no_exact_matching(monkeypatch):
    """By eye: in a line of five links the first, the third and the last are taken one after the
    other from its ends, whichever port is named first."""

    def never(*_):
        raise AssertionError("weighed")

    monkeypatch.setattr(matching, "_exact", never)
    low, high, like = np.arange(5), np.arange(1, 6), np.ones(5, dtype=int)
    for u, v in ((low, high), (high, low)):
        assert cheapest_matching(u, v, like, like).tolist() == [True, False, True, False, True]
    star = cheapest_matching(np.array([1, 2, 3]), np.zeros(3, dtype=int), like[:3], np.arange(3))
    assert star.tolist() == [True, False, False]
    star = cheapest_matching(np.zeros(3, dtype=int), np.array([1, 2, 3]), like[:3], np.arange(3))
    assert star.tolist() == [True, False, False]


def test_no_links():
    none = np.zeros(0, dtype=int)
    assert cheapest_matching(none, none, none, none).tolist() == []
