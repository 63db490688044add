"""Which piece comes from which lot: against trying every share, and another integer programme."""

from itertools import product

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from planner.buying.lots_of_set import Copy, cost_of, lots_of_set


def random_set(number, *, pieces=4, lengths=3):
    """Lengths of a few pieces, some of which match, and lots of which some are tight."""
    rng = np.random.default_rng(number)
    copies = []
    for _ in range(int(rng.integers(1, pieces + 1))):
        count = int(rng.integers(1, lengths + 1))
        copies.append(Copy(int(rng.integers(0, 3)), rng.integers(1, 12, count).tolist()))
    total = sum(sum(copy.lengths_cm) for copy in copies)
    lots = int(rng.integers(1, 4))
    room = rng.integers(1, 2 + int(1.2 * total), lots).tolist()
    return copies, room


def every_share(copies, room):
    """The least cost by trying all: each length in each lot, no lot overdrawn."""
    lengths = [length for copy in copies for length in copy.lengths_cm]
    ends = np.cumsum([len(copy.lengths_cm) for copy in copies]).tolist()
    best = None
    for place in product(range(len(room)), repeat=len(lengths)):
        held = [0] * len(room)
        for lot, length in zip(place, lengths, strict=True):
            held[lot] += length
        if any(taken > holds for taken, holds in zip(held, room, strict=True)):
            continue
        places = [place[begin:end] for begin, end in zip([0, *ends], ends, strict=False)]
        cost = cost_of(places, copies)
        best = cost if best is None else min(best, cost)
    return best


def fits(found, copies, room):
    held = [0.0] * len(room)
    for place, copy in zip(found.places, copies, strict=True):
        for lot, length in zip(place, copy.lengths_cm, strict=True):
            held[lot] += length
    return all(taken <= holds + 1e-6 for taken, holds in zip(held, room, strict=True))


@pytest.mark.parametrize("number", range(60))
def test_by_trying_every_share(number):
    """Computed: every share of up to nine lengths among up to three lots."""
    copies, room = random_set(number, pieces=3)
    found, best = lots_of_set(copies, room), every_share(copies, room)
    if best is None:
        assert found is None
        return
    assert found.proven
    assert found.cost == cost_of(found.places, copies) == best
    assert fits(found, copies, room)


def by_one_programme(copies, room):
    """The cost by a general solver: each length for itself, all aims in one sum, by weights."""
    lengths = [(number, cm) for number, copy in enumerate(copies) for cm in copy.lengths_cm]
    matches = sorted({copy.match for copy in copies})
    n, p, m, k = len(lengths), len(copies), len(matches), len(room)
    size = (n + p + m + 1) * k
    rows, least, most = [], [], []

    def rule(entries, low, high):
        row = np.zeros(size)
        for place, factor in entries:
            row[place] += factor
        rows.append(row)
        least.append(low)
        most.append(high)

    for i, (number, _) in enumerate(lengths):
        rule([(i * k + lot, 1) for lot in range(k)], 1, 1)
        for lot in range(k):
            rule([((n + number) * k + lot, 1), (i * k + lot, -1)], 0, np.inf)
            match = matches.index(copies[number].match)
            rule([((n + p + match) * k + lot, 1), (i * k + lot, -1)], 0, np.inf)
            rule([((n + p + m) * k + lot, 1), (i * k + lot, -1)], 0, np.inf)
    for lot, holds in enumerate(room):
        rule([(i * k + lot, cm) for i, (_, cm) in enumerate(lengths)], -np.inf, holds)
    cost = np.zeros(size)
    cost[n * k : (n + p) * k] = 10_000
    for number, match in enumerate(matches):
        count = sum(copy.match == match for copy in copies)
        begin = (n + p + number) * k
        cost[begin : begin + k] = 100 * count
    cost[(n + p + m) * k :] = 1
    found = milp(
        cost,
        constraints=[LinearConstraint(np.array(rows), least, most)],
        integrality=np.ones(size),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0},
    )
    if found.x is None:
        return None
    total = round(found.fun)
    # Each piece, each match for each of its pieces, has one lot at least.
    return total // 10_000 - p, total % 10_000 // 100 - p, total % 100


@pytest.mark.parametrize("number", range(100, 130))
def test_by_another_programme(number):
    """Computed, by a general solver with weights: up to six pieces of up to six lengths."""
    copies, room = random_set(number, pieces=6, lengths=6)
    found, other = lots_of_set(copies, room), by_one_programme(copies, room)
    assert (found.cost if found else None) == other


def test_by_hand():
    """A back of 30, sleeves of 10: lots of 40 and 20 hold each piece whole, and the sleeves match.

    The back from the lot of 40, both sleeves from the lot of 20.
    """
    copies = [Copy(0, [20.0, 10.0]), Copy(1, [10.0]), Copy(1, [6.0, 4.0])]
    found = lots_of_set(copies, [20.0, 40.0])
    assert found.places == ((1, 1), (0,), (0, 0))
    assert found.cost == (0, 0, 2)
    # Of one that holds everything, everything is.
    assert lots_of_set(copies, [20.0, 50.0]).cost == (0, 0, 1)
    # Where a piece has to be of two lots it is the back, for then the sleeves still match.
    found = lots_of_set([Copy(0, [25.0, 5.0]), *copies[1:]], [29.0, 26.0])
    assert found.cost == (1, 1, 2)
    assert sorted(found.places[0]) == [0, 1]
    assert len(set(found.places[1] + found.places[2])) == 1


def test_something_to_spare_where_that_mixes_no_piece():
    """A piece of 100 fits two lots, of which one holds 5 in 100 more."""
    assert lots_of_set([Copy(0, [100.0])], [101.0, 106.0], spare=0.05).places == ((1,),)
    # Without another way it is of the tight one all the same.
    assert lots_of_set([Copy(0, [100.0])], [101.0, 60.0], spare=0.05).places == ((0,),)


def test_what_is_in_hand_is_used_before_what_is_new():
    assert lots_of_set([Copy(0, [10.0])], [50.0, 50.0], last=0).places == ((1,),)
    assert lots_of_set([Copy(0, [10.0])], [50.0, 50.0], last=1).places == ((0,),)


def test_no_lot_holds_nothing():
    assert lots_of_set([Copy(0, [10.0])], []) is None
    assert lots_of_set([Copy(0, [10.0])], [9.0]) is None


def test_a_search_cut_short_says_so(monkeypatch):
    rng = np.random.default_rng(5)
    copies = [Copy(number, rng.integers(5, 90, 7).tolist()) for number in range(9)]
    total = sum(sum(copy.lengths_cm) for copy in copies)
    room = [0.28 * total] * 3 + [0.17 * total]
    monkeypatch.setattr("planner.buying.lots_of_set.NODES", 1)
    found = lots_of_set(copies, room)
    assert found is None or (fits(found, copies, room) and not found.proven)
