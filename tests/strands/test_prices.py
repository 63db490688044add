"""Prices of ports: proved by whole numbers, and the choice they lead to is as good as any.

Groups of all sizes get prices here, which in a plan only large groups do.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter

from planner import CarryLimits, Chart, Construction, Gauge, trace_strands
from planner.strands import matching, prices, trace
from planner.strands.matching import cheapest_matching
from planner.strands.prices import Prices
from tests.helpers.best_choice import best_by_trying, totals


@pytest.fixture
def all_priced(monkeypatch):
    monkeypatch.setattr(matching, "PRICED_GROUP", 0)


def arrays(links):
    """Ports, middle starts and lengths of links given as (u, v, middle, length)."""
    return tuple(np.array(column, dtype=np.int64) for column in zip(*links, strict=True))


# By eye


def test_prices_of_a_line():
    """By eye: three links in a line. The outer two are taken; the middle one is no part of it."""
    priced = Prices(*arrays([(0, 1, 0, 2), (1, 2, 0, 1), (2, 3, 0, 2)]))
    assert priced.settle(lambda: None)
    assert priced.link[[0, 2]].tolist() == [0, 0]
    assert priced.over(np.array([0, 2])) == 0
    assert priced.over(np.array([1])) > 0


def test_of_a_triangle_one_port_stays_empty():
    """By eye: by halves all three ports of a triangle would be served. The price of the triangle
    says that one must be empty, and the cheapest side is taken."""
    priced = Prices(*arrays([(0, 1, 0, 5), (1, 2, 0, 3), (2, 0, 0, 4)]))
    assert priced.settle(lambda: None)
    assert priced.over(np.array([1])) == 0
    assert priced.over(np.array([2])) == priced.parts
    assert sum(odd.price > 0 for odd in priced.sets) >= 1


def test_two_triangles_a_long_way_apart():
    """By eye: one link joins two triangles by their ports 0 and 3; with it nothing is empty."""
    sides = [(0, 1, 0, 1), (1, 2, 0, 1), (2, 0, 0, 1), (3, 4, 0, 1), (4, 5, 0, 1), (5, 3, 0, 1)]
    priced = Prices(*arrays([*sides, (0, 3, 0, 1_000)]))
    assert priced.settle(lambda: None)
    assert priced.over(np.array([1, 4, 6])) == 0


def test_costs_that_need_too_many_digits_get_no_prices():
    """By eye: twice 2**50 has 52 bits, and an empty port is to outweigh that."""
    far = np.array([1 << 50, 0, 1 << 50, 1])
    like = np.zeros(4, dtype=int)
    assert not Prices(np.arange(4), np.array([1, 2, 3, 0]), like, far).settle(lambda: None)


# Against trying every choice


@st.composite
def odd_graphs(draw):
    """Rings of three and five ports with chords and links between them, some of them double."""
    sizes = draw(st.lists(st.sampled_from([1, 3, 3, 5]), min_size=1, max_size=3))
    pairs, first = [], 0
    for size in sizes:
        pairs += [(first + i, first + (i + 1) % size) for i in range(size) if size > 1]
        first += size
    ports = max(first, 2)
    pair = st.lists(st.integers(0, ports - 1), min_size=2, max_size=2, unique=True)
    pairs += [tuple(more) for more in draw(st.lists(pair, min_size=1, max_size=4))]
    cost = st.integers(0, 4)
    return [(u, v, draw(st.integers(0, 1)), draw(cost)) for u, v in pairs]


@settings(derandomize=True, deadline=None, max_examples=400)
@given(odd_graphs())
def test_odd_rings_against_trying_every_choice(graph):
    u, v, middle, carried = arrays(graph)
    priced = Prices(*np.unique(np.stack((u, v)), return_inverse=True)[1], middle, carried)
    settled = priced.settle(lambda: None)
    assert priced.link.min() >= 0
    assert priced.empty.min() >= 0
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(matching, "PRICED_GROUP", 0)
        taken = cheapest_matching(u, v, middle, carried)
    links = [(a, b, m, Fraction(length)) for a, b, m, length in graph]
    chosen = [link for link, take in zip(links, taken, strict=True) if take]
    ends = [port for link in chosen for port in link[:2]]
    assert len(ends) == len(set(ends))
    assert totals(chosen, 1) == best_by_trying(links, 1)
    # No choice is below the prices, and the best is over them by little.
    over = priced.over(np.flatnonzero(taken))
    assert over >= 0
    assert not settled or over < priced.parts * priced.middle


# Against the exact matching of whole groups


def picture(kind: str, rng: np.random.Generator):
    """A small chart that hangs together: letters by stitch and row."""
    rows, stitches = int(rng.integers(12, 40)), int(rng.integers(12, 32))
    y, x = np.mgrid[:rows, :stitches]
    if kind == "noise":
        cells = rng.integers(0, 3, (rows, stitches))
    elif kind == "plaid":
        cells = np.where((x + y) % 2 == 0, x // 3 % 3, y // 4 % 3)
    elif kind == "dots":
        smooth = gaussian_filter(rng.standard_normal((3, rows, stitches)), (0, 2, 2))
        is_dot = rng.random((rows, stitches)) < rng.choice([0.05, 0.2])
        cells = np.where(is_dot, rng.integers(0, 3, (rows, stitches)), smooth.argmax(axis=0))
    else:
        grey = gaussian_filter(rng.standard_normal((rows, stitches)), 4) * 12
        cells = (grey + rng.random((rows, stitches)) > 0.5).astype(int)
    return Chart.from_rows(np.array(list("ABC"))[cells])


HOW = [
    Construction(),
    Construction(worked="rounds"),
    Construction(worked="turned"),
    Construction(fabric="garter"),
    Construction(worked="turned", fabric="garter"),
]
LIMITS = [
    CarryLimits(),
    CarryLimits(across=5, sideways=10, up=6),
    CarryLimits(across=2, sideways=8, up=3),
    CarryLimits(across=0, sideways=12, up=0),
    CarryLimits(across=5, sideways=10, up=6, middle_start=False),
]
GAUGES = [Gauge(), Gauge(20, 20), Gauge(22, 30)]


@pytest.mark.parametrize("kind", ["noise", "plaid", "dots", "dither"])
def test_charts_against_the_exact_matching_of_whole_groups(kind, monkeypatch):
    """Link by link the same choice: the number that settles ties tells any two choices apart."""
    compared = 0

    def both(u, v, major, minor, *, place, **_):
        nonlocal compared
        monkeypatch.setattr(matching, "PRICED_GROUP", 30)
        taken = cheapest_matching(u, v, major, minor, place=place)
        monkeypatch.setattr(matching, "PRICED_GROUP", len(u))
        whole = cheapest_matching(u, v, major, minor, place=place)
        assert np.flatnonzero(taken).tolist() == np.flatnonzero(whole).tolist()
        compared += 1
        return taken

    monkeypatch.setattr(trace, "cheapest_matching", both)
    rng = np.random.default_rng(sum(map(ord, kind)))
    for number in range(75):
        how, gauge = HOW[number % 5], GAUGES[number % 3]
        limits = LIMITS[int(rng.integers(len(LIMITS)))]
        trace_strands(picture(kind, rng), how, gauge, limits)
    assert compared == 75


# Progress


def test_progress_goes_from_nothing_on_and_never_back(all_priced):
    shares = []
    chart = picture("noise", np.random.default_rng(3))
    wide = CarryLimits(across=5, sideways=10, up=6)
    trace_strands(chart, limits=wide, progress=shares.append)
    assert shares[0] == 0
    assert shares == sorted(shares)
    assert shares[-1] < 1
    assert len(set(shares)) > 2


def test_progress_may_end_the_work(all_priced):
    def stop(_):
        raise KeyboardInterrupt

    chart = picture("noise", np.random.default_rng(3))
    wide = CarryLimits(across=5, sideways=10, up=6)
    with pytest.raises(KeyboardInterrupt):
        trace_strands(chart, limits=wide, progress=stop)
    # Nothing is left of it: the next time all is as ever.
    again = trace_strands(chart, limits=wide)
    assert again.count == trace_strands(chart, limits=wide, progress=lambda _: None).count


def test_where_prices_fail_the_whole_group_is_matched(all_priced, monkeypatch):
    chart = picture("dots", np.random.default_rng(5))
    wide = CarryLimits(across=5, sideways=10, up=6)
    by_prices = trace_strands(chart, limits=wide)
    monkeypatch.setattr(prices, "LEAST_ROUNDS", -10_000)
    whole = trace_strands(chart, limits=wide)
    assert (by_prices.count, by_prices.middle_starts) == (whole.count, whole.middle_starts)
    assert by_prices.carried_stitches == pytest.approx(whole.carried_stitches)
