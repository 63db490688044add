"""Lengths on scraps and balls: against trying every way, and against a plain integer programme."""

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from planner.buying import fitting
from planner.buying.fitting import IN_HAND, NEW, SCRAP, Holder, Length, best_fit, fits

BALL = 40.0


def asked(number, *, lengths, scraps):
    """Random lengths, some fed from what they lie on, and what is in hand."""
    rng = np.random.default_rng(number)
    wanted = []
    for _ in range(int(rng.integers(1, lengths + 1))):
        begins = int(rng.integers(0, 20))
        hangs = (begins, begins + int(rng.integers(1, 12))) if rng.integers(3) == 0 else None
        wanted.append(Length(float(rng.integers(1, 9) * 5), hangs))
    holders = [
        Holder(SCRAP, float(cm)) for cm in rng.integers(3, 38, int(rng.integers(scraps + 1)))
    ]
    holders += [Holder(IN_HAND, BALL)] * int(rng.integers(2))
    return wanted, holders, int(rng.integers(1, 3))


def by_hand(place, lengths, holders, ends):
    """What a way costs, by its definition; None if it cannot be."""
    bought = opened = touched = 0
    left = 0.0
    for at, (kind, holds) in enumerate(holders):
        on_it = [length for length, put in zip(lengths, place, strict=True) if put == at]
        takes = sum(cm for cm, _ in on_it)
        rows = [set(range(*hangs)) for _, hangs in on_it if hangs]
        if takes > holds or any(sum(row in each for each in rows) > ends for row in range(40)):
            return None
        if on_it:
            bought += kind == NEW
            opened += kind == IN_HAND
            touched += kind == SCRAP
            left += (holds - takes) * (kind == SCRAP)
    return bought, opened, touched, left


def every_way(lengths, holders, so_far=()):
    """Each way to put lengths on holders and new balls; of new ones only the next is opened."""
    if len(so_far) == lengths:
        yield so_far
        return
    for at in range(max([holders, *(at + 1 for at in so_far)]) + 1):
        yield from every_way(lengths, holders, (*so_far, at))


@pytest.mark.parametrize("number", range(60))
def test_best_by_trying_every_way(number):
    lengths, holders, ends = asked(number, lengths=5, scraps=3)
    every = [*holders, *[Holder(NEW, BALL)] * len(lengths)]
    ways = every_way(len(lengths), len(holders))
    costs = [by_hand(place, lengths, every, ends) for place in ways]
    found = best_fit(lengths, holders, BALL, ends=ends)
    assert found.proven
    assert found.cost == pytest.approx(min(cost for cost in costs if cost), abs=1e-6)
    assert found.least_to_buy == found.cost[0]
    assert by_hand(found.place, lengths, every, ends) == pytest.approx(found.cost, abs=1e-6)


def plainly(lengths, holders):
    """The fewest balls, then scraps, by a programme with one unknown a length and holder."""
    size, count = len(lengths), len(holders)
    lies = np.kron(np.eye(size), np.ones(count))
    holds = np.zeros((count, size * count))
    for number, (cm, _) in enumerate(lengths):
        holds[:, number * count : (number + 1) * count] = cm * np.eye(count)
    room = -np.diag([cm for _, cm in holders])
    rules = [
        LinearConstraint(np.hstack((lies, np.zeros((size, count)))), 1, 1),
        LinearConstraint(np.hstack((holds, room)), -np.inf, 0),
    ]
    dear = {NEW: 10_000, IN_HAND: 100, SCRAP: 1}
    aim = np.array([0] * (size * count) + [dear[kind] for kind, _ in holders])
    found = milp(
        aim,
        constraints=rules,
        integrality=np.ones(len(aim)),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0},
    )
    return round(found.fun)


@pytest.mark.parametrize("number", range(8))
def test_larger_ones_by_a_plain_programme(number):
    lengths, holders, _ = asked(100 + number, lengths=14, scraps=6)
    lengths = [Length(cm) for cm, _ in lengths]
    found = best_fit(lengths, holders, BALL)
    bought, opened, touched, _ = found.cost
    every = [*holders, *[Holder(NEW, BALL)] * (bought + 1)]
    assert found.proven
    assert 10_000 * bought + 100 * opened + touched == plainly(lengths, every)


def test_a_search_cut_short_says_how_far_it_came(monkeypatch):
    """Then the rule of thumb stands, and what must be bought is still said."""
    rng = np.random.default_rng(5)
    lengths = [Length(float(cm)) for cm in rng.integers(90, 210, 60)]
    holders = [Holder(SCRAP, float(cm)) for cm in rng.integers(100, 500, 12)]
    monkeypatch.setattr(fitting, "NODES", 0)
    found = best_fit(lengths, holders, 500.0)
    every = [*holders, *[Holder(NEW, 500.0)] * 60]
    assert not found.proven
    assert fits(found.place, lengths, every)
    total = sum(length.cm for length in lengths) - sum(holder.cm for holder in holders)
    assert total / 500 <= found.cost[0]
    assert 0 <= found.least_to_buy <= found.cost[0]


def test_what_cannot_be_is_seen():
    lengths = [Length(20.0, (0, 5)), Length(20.0, (4, 9))]
    ball = [Holder(IN_HAND, 40.0)]
    assert not fits([0, 0], lengths, ball)
    assert fits([0, 0], lengths, ball, ends=2)
    assert not fits([0, 0, 0], [*lengths, Length(1.0)], ball, ends=2)
    assert best_fit([], ball, 40.0).cost == (0, 0, 0, 0)
