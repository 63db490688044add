"""Prices of ports: which links of a large group can be in a best choice at all.

**A price.** Give each port a price, so that no link costs less than the prices of its two ports
together, and leaving a port empty no less than the port's price. Every choice then costs at least
the sum of all prices, and what it costs beyond that is told by its own parts: by how much each of
its links, and each port that it leaves empty, is *over* the prices. So once one choice is known
that is over by so much in all, no link that is over by more can be in a better one. If the one
known is over by nothing, it is a best one, and only links that are over by nothing can be in any.

**Where prices come from.** Let every port stand on both sides of an assignment: the doubled graph.
SciPy solves it, and shortest ways through its solution give whole-number prices, which are checked
here and do not depend on how the solution was found.

**Odd rings.** Both sides of the assignment need not agree. Where they do not, they go round a ring
of ports; round an odd one the links are taken by halves, which no choice of links can do. But one
port of an odd ring must always look outside, or be left empty. So an odd set may have a price too,
for what leads out of it. The ring is taken as one port and everything priced again, from where it
stands, near the ring alone. A set whose price would fall below nothing is taken apart again.

**Odd parts.** What hangs together by links that are over by less than a middle start may hold a
single odd ring. Then something must leave the part, or a port stay empty, and it is the whole part
that has a price for that. Otherwise the ring would have to grow over all of it, step by step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import min_weight_full_bipartite_matching

from planner.strands.arrays import Flags, Numbers, connected_parts, end_to_end

LARGEST = 1 << 59  # prices stay below this, so that sums of a few of them fit in 64 bits
NEVER = 1 << 60  # more than any price or distance
PARTS = 128  # prices are counted in such parts of a cost, for halves, and halves of halves
# Rounds of pricing before the exact matching is left to do it alone: the larger a group, the more
# there is to be won.
LEAST_ROUNDS, LINKS_A_ROUND, MOST_ROUNDS = 20, 100, 300
# How many times as dear a middle start is as the longest carry, and an empty port as a middle
# start, while a solution is looked for. With far dearer ones the assignment takes very long.
STEEPNESSES = (4, 32, 128)


@dataclass
class OddSet:
    """An odd number of ports, the price for what leads out, and whether it stands for one port."""

    ports: Numbers
    price: int
    is_one: bool


class Prices:
    """By how much each link (`link`), and each port left empty (`empty`), is over the prices.

    `u`, `v` are the ports of each link, numbered without a gap. Costs are counted in parts of a
    whole one, `parts` to each. `sets` are the odd sets that have a price.
    """

    def __init__(self, u: Numbers, v: Numbers, major: Numbers, minor: Numbers):
        self.u, self.v = u, v
        self.ports = int(max(u.max(), v.max())) + 1
        self.sets: list[OddSet] = []
        self.parts = PARTS

        # Each aim has digits of its own, as in the exact matching; here powers of two.
        most_links = self.ports // 2
        self.longest = int(minor.max())
        self.middle = 1 << (most_links * self.longest + 1).bit_length()
        middles = most_links * int(major.max()) + 1
        self.lost = self.middle << middles.bit_length()
        self.fits = self.lost < LARGEST // (64 * PARTS)
        if self.fits:
            self.link = self.parts * (major * self.middle + minor)
            self.empty = np.full(self.ports, self.parts * self.lost)
        # The links at each port, one port after the other.
        ends = np.append(self.u, self.v)
        self.link_order = np.argsort(ends, kind="stable") % len(self.u)
        self.links_at = np.append(0, np.bincount(ends, minlength=self.ports).cumsum())
        # Where the solution must still change: at first everywhere.
        self.restless = np.arange(self.ports)

    def settle(self, tell: Callable[[], None]) -> bool:
        """Price all ports; whether a choice is left that is over by nothing.

        `tell` is called before each round.
        """
        if not self.fits:
            return False
        rounds = LEAST_ROUNDS + len(self.u) // LINKS_A_ROUND
        for _ in range(min(rounds, MOST_ROUNDS)):
            tell()
            if not self._round():
                return False
            if not len(self.restless):
                return True
        return False

    def over(self, chosen: Numbers) -> int:
        """By how much a choice of links is over the prices in all."""
        u = self.u[chosen]
        v = self.v[chosen]
        mate = np.full(self.ports, -1)
        mate[u] = v
        mate[v] = u
        of_links = int(self.link[chosen].sum())
        of_empty = int(self.empty[mate < 0].sum())
        total = of_links + of_empty
        for odd in self.sets:
            # To leave a port empty is a way out as well.
            leads_out = ~np.isin(mate[odd.ports], odd.ports)
            ways_out = int(np.count_nonzero(leads_out))
            # The first way out is paid for by the price of the set.
            total += odd.price * (ways_out - 1)
        return total

    def _leading_out(self, ports: Numbers) -> Numbers:
        """The links that lead out of a set of ports; only links at these are looked at."""
        begin = self.links_at[ports]
        count = self.links_at[ports + 1] - begin
        _, place = end_to_end(begin, count)
        # A link within the set is at two of them.
        links, times = np.unique(self.link_order[place], return_counts=True)
        leading_out: Numbers = links[times == 1]
        return leading_out

    def _nodes(self) -> Numbers:
        """The node of each port: the port itself, or the outermost set that stands for one."""
        node = np.arange(self.ports)
        # Inner sets are older than those round them.
        for number, odd in enumerate(self.sets):
            if odd.is_one:
                node[odd.ports] = self.ports + number
        return node

    def _round(self) -> bool:
        """Price everything near the restless ports once more; False if that cannot be done."""
        node = self._nodes()
        # At first a small neighbourhood; a larger one where the solution would lead out of it.
        reach = self.longest * self.parts // 8
        whole = len(self.restless) == self.ports
        while True:
            region = np.ones(self.ports, dtype=bool) if whole else self._region(node, reach)
            solved = self._solved(node, region)
            if solved is None:
                return False
            leads_out, mate, price = solved
            if not leads_out:
                break
            reach *= 4
            ports = int(np.count_nonzero(region))
            is_far = reach > self.middle * self.parts
            whole = is_far or 2 * ports > self.ports
        return self._apply(node, region, mate, price)

    def _region(self, node: Numbers, reach: int) -> Flags:
        """Which ports are near the restless ones, by links that are over by up to `reach`."""
        near = self.link <= reach
        a = node[self.u[near]]
        b = node[self.v[near]]
        # A link leads from each of its ends to the other.
        start = np.append(a, b)
        to = np.append(b, a)
        length = np.tile(self.link[near], 2)
        ways = _Ways(start, to, length, node.max() + 1)
        distance = np.full(ways.nodes, NEVER)
        restless = np.unique(node[self.restless])
        distance[restless] = 0
        ways.shorten(distance, restless, farthest=reach)
        return np.asarray(distance[node] <= reach)

    def _solved(self, node: Numbers, region: Flags) -> tuple[bool, Numbers, Numbers] | None:
        """The assignment of the region: whether it leads out of it, the mates and the prices."""
        names, number = np.unique(node[region], return_inverse=True)
        number_of = np.full(self.ports, -1)
        number_of[region] = number
        a = number_of[self.u]
        b = number_of[self.v]
        inside = (a >= 0) & (b >= 0) & (a != b)

        empty = np.full(len(names), NEVER)
        np.minimum.at(empty, number, self.empty[region])
        # A link to a port outside, whose price stays, is one more way to leave this one empty.
        inner_only = empty.copy()
        for end, far_end in ((a, b), (b, a)):
            leads_out = (end >= 0) & (far_end < 0)
            np.minimum.at(empty, end[leads_out], self.link[leads_out])

        for steepness in STEEPNESSES:
            found = self._assigned(a[inside], b[inside], self.link[inside], empty, steepness)
            if found is not None:
                mate, price = found
                is_empty = mate == np.arange(len(mate))
                goes_out = is_empty & (empty < inner_only)
                return bool(goes_out.any()), mate, price
        return None

    def _assigned(
        self,
        a: Numbers,
        b: Numbers,
        cost: Numbers,
        empty: Numbers,
        steepness: int,
    ) -> tuple[Numbers, Numbers] | None:
        """The best assignment of the doubled graph: each node's mate, and twice its price."""
        nodes = len(empty)
        every = np.arange(nodes)
        key, costs = _doubled(a, b, cost, empty)
        row, column = np.divmod(key, nodes)

        gentle = self._gentle(costs, steepness)
        step = max(int(np.gcd.reduce(gentle)), 1)
        steps = (gentle - gentle.min()) // step
        # A weight of 0 would be no link at all there.
        weights = (steps + 1).astype(float)
        starts = np.searchsorted(row, np.arange(nodes + 1))
        matrix = csr_array((weights, column, starts), shape=(nodes, nodes))
        _, found = min_weight_full_bipartite_matching(matrix)
        mate = found.astype(np.int64)

        # A cheaper solution would be a ring of changes that saves something; without one the
        # shortest ways give the prices.
        place = np.searchsorted(key, every * nodes + mate)
        taken = costs[place]
        more_than_taken = costs - taken[row]
        ways = _Ways(mate[row], column, more_than_taken, nodes)
        distance = np.zeros(nodes, dtype=np.int64)
        if not ways.shorten(distance, every):
            return None
        return mate, taken - distance[mate] + distance

    def _gentle(self, costs: Numbers, steepness: int) -> Numbers:
        """The costs with less between one aim and the next."""
        # What they hold of empty ports, of middle starts and of lengths carried.
        lost = (costs + self.lost // 2) // self.lost
        rest = costs - lost * self.lost
        middles = (rest + self.middle // 2) // self.middle
        lengths = rest - middles * self.middle
        a_middle = 8 * max(self.longest, 1) * steepness
        a_lost = a_middle * steepness
        return lost * a_lost + middles * a_middle + lengths

    def _apply(self, node: Numbers, region: Flags, mate: Numbers, price: Numbers) -> bool:
        """Take the new prices; the odd rings of the solution become sets, and restless."""
        names, number = np.unique(node[region], return_inverse=True)
        # A half part is let go: a price may always be less, and only be a little off.
        gain = price >> 1
        is_set = names >= self.ports
        places = names[is_set] - self.ports
        old = np.array([odd.price for odd in self.sets], dtype=np.int64)
        new = old[places] + gain[is_set]
        if (new < 0).any():
            self._take_apart(places[new < 0])
            return True

        gain_of_port = np.zeros(self.ports, dtype=np.int64)
        gain_of_port[region] = gain[number]
        gain_of_link = gain_of_port[self.u] + gain_of_port[self.v]
        # A link within a set pays nothing for it.
        is_within = node[self.u] == node[self.v]
        gain_of_link[is_within] = 0
        self.link -= gain_of_link
        self.empty -= gain_of_port
        for place, set_price in zip(places.tolist(), new.tolist(), strict=True):
            self.sets[place].price = set_price
        # Never less than nothing: the shortest ways saw to that.
        assert self.link.min() >= 0
        assert self.empty.min() >= 0

        ring_of = np.full(self.ports, -1)
        ring_of[region] = _odd_rings(mate)[number]
        self._price_odd_parts(node, ring_of)
        self.restless = np.flatnonzero(ring_of >= 0)
        for ring in _by_number(ring_of[self.restless]):
            self.sets.append(OddSet(self.restless[ring], 0, is_one=True))
        return bool(max(self.link.max(), self.empty.max()) < LARGEST)

    def _pay(self, odd: OddSet, price: int) -> None:
        """Raise the price of what leads out of a set, or give it back."""
        self.link[self._leading_out(odd.ports)] -= price
        self.empty[odd.ports] -= price
        odd.price += price

    def _take_apart(self, places: Numbers) -> None:
        """Take sets apart again, and give back what their prices had taken from the links."""
        apart = set(places.tolist())
        left = []
        for place, odd in enumerate(self.sets):
            if place in apart:
                self._pay(odd, -odd.price)
                self.restless = np.union1d(self.restless, odd.ports)
            else:
                left.append(odd)
        self.sets = left

    def _price_odd_parts(self, node: Numbers, ring_of: Numbers) -> None:
        """Price what leads out of each part that hangs together and holds a single odd ring.

        `ring_of` is the ring of each port, -1 where there is none.
        """
        near = self.link <= self.parts * self.middle // 4
        nodes = self.ports + len(self.sets)
        a = node[self.u[near]]
        b = node[self.v[near]]
        part = connected_parts(a, b, nodes)[node]
        ports = np.bincount(part)
        # Every port of a ring is in the same part.
        ring, first_port = np.unique(ring_of, return_index=True)
        part_of_ring = part[first_port[ring >= 0]]
        rings = np.bincount(part_of_ring, minlength=len(ports))
        has_a_price = (ports % 2 == 1) & (rings == 1)

        ports_of = _by_number(part)
        for number in np.flatnonzero(has_a_price):
            odd = OddSet(ports_of[number], 0, is_one=False)
            ways_out = self.link[self._leading_out(odd.ports)]
            cheapest = min(self.empty[odd.ports].min(), ways_out.min(initial=NEVER))
            if cheapest > 0:
                self._pay(odd, int(cheapest))
                self.sets.append(odd)


def _doubled(a: Numbers, b: Numbers, cost: Numbers, empty: Numbers) -> tuple[Numbers, Numbers]:
    """The cells of the assignment in order, row by row, each as one number, and their costs."""
    nodes = len(empty)
    every = np.arange(nodes)
    row = np.concatenate((a, b, every))
    column = np.concatenate((b, a, every))
    # A link is taken on both sides, an empty port once.
    costs = np.concatenate((cost, cost, 2 * empty))
    # Of links between the same two nodes the cheapest counts.
    key = row * nodes + column
    order = np.lexsort((costs, key))
    is_first = np.diff(key[order], prepend=-1) > 0
    cheapest = order[is_first]
    return key[cheapest], costs[cheapest]


def _odd_rings(mate: Numbers) -> Numbers:
    """Numbers the odd rings that the mates go round: each node's ring, -1 where there is none."""
    ring = connected_parts(np.arange(len(mate)), mate, len(mate))
    size = np.bincount(ring)
    # A port that is its own mate is empty, and two that are each other's take a link.
    is_odd = (size > 1) & (size % 2 == 1)
    number = np.where(is_odd, np.cumsum(is_odd) - 1, -1)
    return np.asarray(number[ring])


def _by_number(number: Numbers) -> list[Numbers]:
    """The places at which each number from 0 on stands."""
    if not len(number):
        return []
    order = np.argsort(number, kind="stable")
    ends = np.bincount(number).cumsum()
    return np.split(order, ends[:-1])


class _Ways:
    """Ways from node to node, each with a length, which may be less than nothing."""

    def __init__(self, start: Numbers, to: Numbers, length: Numbers, nodes: int):
        order = np.argsort(start, kind="stable")
        self.nodes = nodes
        self.to = to[order]
        self.length = length[order]
        self.count = np.bincount(start, minlength=nodes)
        self.begin = np.cumsum(self.count) - self.count

    def shorten(self, distance: Numbers, front: Numbers, *, farthest: int = NEVER) -> bool:
        """Shorten the distances along all ways; False where a ring of ways would do so for ever.

        Only from the nodes in `front` can a distance shorten another. None becomes longer than
        `farthest`.
        """
        came_from = np.arange(self.nodes)
        is_changed = np.zeros(self.nodes, dtype=bool)
        rounds = 0
        while len(front):
            # The ways from these nodes.
            number, way = end_to_end(self.begin[front], self.count[front])
            start = front[number]
            to = self.to[way]
            reached = distance[start] + self.length[way]
            is_shorter = (reached < distance[to]) & (reached <= farthest)
            start = start[is_shorter]
            to = to[is_shorter]
            reached = reached[is_shorter]
            np.minimum.at(distance, to, reached)
            is_shortest = distance[to] == reached
            came_from[to[is_shortest]] = start[is_shortest]
            is_changed[to] = True
            front = np.flatnonzero(is_changed)
            is_changed[front] = False
            rounds += 1
            if rounds % 50 == 0 and _goes_round(came_from):
                return False
        return True


def _goes_round(came_from: Numbers) -> bool:
    """Whether going back from node to node never ends at one that comes from itself."""
    back = came_from
    # Each time twice as many steps.
    for _ in range(len(came_from).bit_length()):
        back = back[back]
    return bool((came_from[back] != back).any())
