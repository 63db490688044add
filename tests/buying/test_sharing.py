"""The share of pieces among lots against trying every share."""

from itertools import product

import numpy as np
import pytest

from planner.buying.sharing import best_share, share_cost


def every_share(length, begins, done, areas, room):
    """The best by trying all: pieces to lots, no lot overdrawn."""
    by_area = {}
    for i, areas_of_piece in enumerate(areas):
        for area in areas_of_piece:
            by_area.setdefault(area, []).append(i)
    pairs = [(i, j) for i in range(len(length)) for j in range(i)]
    beside = {
        (i, j): max(0, min(done[i], done[j]) - max(begins[i], begins[j]))
        for i, j in pairs
        if areas[i] & areas[j]
    }
    after = [(i, i + 1) for i in range(len(length) - 1)]
    best = None
    for place in product(range(len(room)), repeat=len(length)):
        place = np.array(place)
        if all(length[place == k].sum() <= holds for k, holds in enumerate(room)):
            cost = share_cost(place, by_area.values(), beside, after)
            best = cost if best is None else min(best, cost)
    return best


@pytest.mark.parametrize("number", range(40))
def test_lots_by_trying_every_share(number):
    rng = np.random.default_rng(number)
    pieces, lots = int(rng.integers(2, 8)), int(rng.integers(1, 4))
    length = rng.integers(1, 20, pieces).astype(float)
    begins = np.sort(rng.integers(1, 30, pieces))
    done = begins + rng.integers(1, 15, pieces)
    areas = [set(rng.integers(0, 4, int(rng.integers(1, 3))).tolist()) for _ in range(pieces)]
    room = (
        {str(k): float(rng.integers(5, 1 + int(length.sum()))) for k in range(lots)}
        if length.sum() > 5
        else {"0": 9.0}
    )
    found = best_share(length, begins, done, areas, room)
    best = every_share(length, begins, done, areas, list(room.values()))
    if best is None:
        assert found is None
        return
    place, cost, proven = found
    assert proven
    assert cost == best
    assert all(length[place == k].sum() <= holds + 1e-6 for k, holds in enumerate(room.values()))


def test_a_search_cut_short_says_so(monkeypatch):
    """With one branch to look at a share is found, but not said to be the best."""
    rng = np.random.default_rng(4)
    length = rng.integers(5, 40, 14).astype(float)
    begins = np.sort(rng.integers(0, 30, 14))
    done = begins + rng.integers(5, 25, 14)
    areas = [set(rng.integers(0, 5, 2).tolist()) for _ in length]
    room = {name: 0.36 * length.sum() for name in "abc"}
    best = best_share(length, begins, done, areas, room)
    monkeypatch.setattr("planner.buying.sharing.NODES", 1)
    found = best_share(length, begins, done, areas, room)
    assert best.proven
    assert not found.proven
    assert found.cost >= best.cost
    held = [length[found.place == lot].sum() for lot in range(3)]
    assert max(held) <= 0.36 * length.sum() + 1e-6
