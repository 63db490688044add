"""The exact choice of links: as many as can be, and of those choices the cheapest.

A link joins two *ports*, and a port takes at most one link: the choice is a matching of ports.

**What can be taken at once.** Say a port has one link only, and that link is the cheapest of all
at its other port. Take any best choice without it. The first port is empty in that choice. So its
other port is taken by another link, or our link could be added and the choice were not the
largest. Exchange that link for ours: there are as many links as before, and none is dearer. So
there is a best choice with our link, and nothing is lost by taking it. The links that it shuts out
go, other ports are left with a single link, and the same is done over and over. This settles nearly
all of a chart.

**What is left** falls into groups that share no port. Each goes to an exact matching.

**A large group**, which a chart of single stitches leaves, would take an exact matching minutes. So
its ports get prices first (see `prices`). They tell which links can be in a best choice at all, and
among these alone the same is done again: what is sure is taken, and the small groups that are left
are matched. The choice is proved by the prices: no link left out could be in a better one. Where
that proof fails, the whole group goes to the exact matching as it is.

**The aims in their order**: the most links; the least `major` cost (middle starts); the least
`minor` cost (length carried); the least sum of squares of the minor costs, which takes two middling
carries rather than a short and a long one; last a number by the link's place, so that every machine
chooses the same. The exact matching sees one whole number for each link, in which each aim has
digits of its own: no sum of a later aim ever reaches the digits of an earlier one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import rustworkx

from planner.strands.arrays import Flags, Numbers, connected_parts
from planner.strands.prices import Prices

LARGE_GROUP = 3_000  # links; above this the exact matching takes long enough to say so
PRICED_GROUP = 5_000  # links; up to this the exact matching alone is as fast
SAFE_BITS = 118  # weights are kept below 2**118: rustworkx counts in 128 bits and doubles them
LOW_32_BITS = 0xFFFFFFFF
# What settles the rest: so many bits, with so much room that their sum stays below working order.
LAST_BITS, LAST_DIGIT = 13, 24


class _Links(NamedTuple):
    """Links with their ports, their costs and the numbers that settle ties, one entry a link."""

    u: Numbers
    v: Numbers
    major: Numbers
    minor: Numbers
    tie: Numbers

    def some(self, chosen: Numbers) -> _Links:
        """Some of the links."""
        return _Links(*(column[chosen] for column in self))


def cheapest_matching(
    u: Numbers,
    v: Numbers,
    major: Numbers,
    minor: Numbers,
    *,
    place: Numbers | None = None,
    say: Callable[[str], None] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Flags:
    """Which links to take, as one boolean a link: the best choice by the aims in their order.

    `u`, `v` are the ports of each link, `major` and `minor` its costs, whole numbers of 0 or more.
    `place` gives each port a number that settles ties, by which a choice in one corner stays the
    same whatever changes elsewhere; without it, the port's own. `say` is told when a large group
    needs time. `progress` is told which share of what has to be weighed is done, again and again;
    what it raises ends the work.
    """
    if not len(u):
        return np.zeros(0, dtype=bool)
    if place is None:
        place = np.arange(_ports(u, v))
    tie = _ties(place[u], place[v])
    links = _Links(u, v, major, minor, tie)
    taken, groups = _sure_and_groups(links)

    sizes = [len(group) for group in groups]
    large = sum(size for size in sizes if size > LARGE_GROUP)
    if say and large:
        say(
            f"Weighing {large:,} possible carries that hang together; a chart this broken up may "
            "take minutes …"
        )
    weighed, to_weigh = 0, sum(sizes)

    def tell() -> None:
        if progress:
            progress(weighed / to_weigh)

    for group, size in zip(groups, sizes, strict=True):
        tell()
        chosen = _best_of_group(links.some(group), tell)
        taken[group[chosen]] = True
        weighed += size
    return taken


def _sure_and_groups(links: _Links) -> tuple[Flags, list[Numbers]]:
    """Which links are taken at once, and the groups of those left to weigh."""
    # Of two single links, too, the cheaper is told by the aims in their order; links that carry as
    # far have the same squares.
    u, v = links.u, links.v
    cheapest_first = np.lexsort((links.tie, links.minor, links.major))
    taken, left = _take_what_is_sure(u, v, cheapest_first)
    groups = _groups(u, v, left)
    return taken, groups


def _best_of_group(links: _Links, tell: Callable[[], None]) -> Numbers:
    """Positions of the links of the best choice in one group; `tell` is called now and then."""
    if len(links.u) > PRICED_GROUP:
        ports, (u, v) = _numbered_ports(links)
        prices = Prices(u, v, links.major, links.minor)
        if prices.settle(tell):
            # What the ties lose in the whole group they lose in its parts.
            tie = _ties_with_room(links, len(ports) // 2)
            return _best_by_prices(links._replace(tie=tie), prices)
    return np.array(_exact(links), dtype=np.int64)


def _best_by_prices(links: _Links, prices: Prices) -> Numbers:
    """Positions of the links of the best choice, of those that the prices leave."""
    # Prices are let down by small parts now and then; so the first choice is made a little wide.
    over = prices.parts // 4
    while True:
        near = np.flatnonzero(prices.link <= over)
        links_near = links.some(near)
        taken, groups = _sure_and_groups(links_near)
        for group in groups:
            chosen = _exact(links_near.some(group))
            taken[group[chosen]] = True
        best = near[taken]
        # Links that are over by more than this choice in all are in no better one.
        needed = prices.over(best)
        if needed <= over:
            return best
        over = needed


def _ports(u: Numbers, v: Numbers) -> int:
    """How many ports there are, at least: one more than the highest number."""
    return int(max(u.max(), v.max())) + 1


def _numbered_ports(links: _Links) -> tuple[Numbers, Numbers]:
    """The ports of a group, and the two of each link as numbers among them, as two rows."""
    ends = np.stack((links.u, links.v))
    ports, numbers = np.unique(ends, return_inverse=True)
    return ports, numbers.reshape(2, -1)


def _ties(u: Numbers, v: Numbers) -> Numbers:
    """A number that settles ties, for each link by its two places alone.

    By them alone, so that the choice among the others stays the same when some links are decided.
    """
    # Working order comes first. The scrambled low part (multiplicative hashing: 2**32 divided by
    # the golden ratio) keeps most sets of links from adding up alike. Not all: it is linear, so
    # two pairs of links that exchange their ports may. A number times itself is not.
    mixed = (u * 65_537 + v) & LOW_32_BITS
    scrambled = (mixed * 2_654_435_761) & LOW_32_BITS
    working_order = (v << 16) + (scrambled >> 16)
    squared = scrambled * (scrambled ^ (scrambled >> 15)) & LOW_32_BITS
    return (working_order << LAST_DIGIT) + (squared >> (32 - LAST_BITS))


def _take_what_is_sure(u: Numbers, v: Numbers, cheapest_first: Numbers) -> tuple[Flags, Numbers]:
    """Which links are taken at once, over and over, and the numbers of those left to weigh."""
    ports = _ports(u, v)
    taken = np.zeros(len(u), dtype=bool)
    left = cheapest_first
    while len(left):
        is_sure = _sure(u[left], v[left], ports)
        sure = left[is_sure]
        if not len(sure):
            break
        taken[sure] = True
        # Links at a port that is taken now are shut out, the sure ones themselves among them.
        busy = np.zeros(ports, dtype=bool)
        busy[u[sure]] = True
        busy[v[sure]] = True
        shut_out = busy[u[left]] | busy[v[left]]
        left = left[~shut_out]
    return taken, np.sort(left)


def _sure(u: Numbers, v: Numbers, ports: int) -> Flags:
    """Which links are the only one at one port and the cheapest at the other.

    They are given cheapest first, so the cheapest at a port is the first one there.
    """
    number = np.arange(len(u))
    links_at = np.bincount(u, minlength=ports)
    links_at += np.bincount(v, minlength=ports)
    cheapest_at = np.full(ports, len(u))
    np.minimum.at(cheapest_at, u, number)
    np.minimum.at(cheapest_at, v, number)

    only_at_u = links_at[u] == 1
    only_at_v = links_at[v] == 1
    cheapest_at_u = cheapest_at[u] == number
    cheapest_at_v = cheapest_at[v] == number
    sure: Flags = (only_at_u & cheapest_at_v) | (only_at_v & cheapest_at_u)
    return sure


def _groups(u: Numbers, v: Numbers, left: Numbers) -> list[Numbers]:
    """The links that are left, in groups that share no port; the links of a group in order."""
    if not len(left):
        return []
    ports = _ports(u, v)
    part_of_port = connected_parts(u[left], v[left], ports)
    part = part_of_port[u[left]]
    order = np.argsort(part, kind="stable")
    in_order = part[order]
    begins = np.flatnonzero(np.diff(in_order)) + 1
    return np.split(left[order], begins)


def _exact(links: _Links) -> list[int]:
    """Positions of the links of a cheapest largest matching in one group."""
    ports, numbers = _numbered_ports(links)
    costs = _single_costs(links, len(ports) // 2)

    # Two links may join the same two ports (an entering edge to another, in a tube); the cheaper
    # one stands for both.
    low_port, high_port = np.sort(numbers, axis=0).tolist()
    cheapest: dict[tuple[int, int], int] = {}
    for link, pair in enumerate(zip(low_port, high_port, strict=True)):
        twin = cheapest.setdefault(pair, link)
        if costs[link] < costs[twin]:
            cheapest[pair] = link

    graph = rustworkx.PyGraph(multigraph=False)
    graph.add_nodes_from(ports.tolist())
    edges = [(low, high, link) for (low, high), link in cheapest.items()]
    graph.add_edges_from(edges)
    # The heaviest is wanted there, the cheapest here.
    more_than_any = max(costs) + 1
    mates = rustworkx.max_weight_matching(
        graph,
        max_cardinality=True,
        weight_fn=lambda link: more_than_any - costs[link],
    )
    return sorted(cheapest[min(pair), max(pair)] for pair in mates)


def _single_costs(links: _Links, most_links: int) -> list[int]:
    """One whole number a link for all of its costs; sums over `most_links` keep their order."""
    # Python's own whole numbers, which have any size.
    majors: list[int] = links.major.tolist()
    minors: list[int] = links.minor.tolist()
    ties: list[int] = _ties_with_room(links, most_links).tolist()
    squares = [length * length for length in minors]

    _, minor_base, square_base = _bases(links, most_links)
    tie_base = most_links * max(ties) + 1

    costs = []
    for middle, length, square, number in zip(majors, minors, squares, ties, strict=True):
        cost = middle * minor_base + length
        cost = cost * square_base + square
        cost = cost * tie_base + number
        costs.append(cost)
    return costs


def _bases(links: _Links, most_links: int) -> tuple[int, int, int]:
    """The base of each aim's digit: more than the sum of that digit can come to."""
    most_middle = int(links.major.max())
    longest = int(links.minor.max())
    major_base = most_links * most_middle + 1
    minor_base = most_links * longest + 1
    square_base = most_links * longest**2 + 1
    return major_base, minor_base, square_base


def _ties_with_room(links: _Links, most_links: int) -> Numbers:
    """The ties in the room that is left below the limit; if need be they lose their low bits."""
    ties: Numbers = links.tie - links.tie.min()
    major_base, minor_base, square_base = _bases(links, most_links)
    room_taken = major_base * minor_base * square_base
    spare_bits = SAFE_BITS - room_taken.bit_length()
    needed_bits = (most_links * int(ties.max())).bit_length()
    too_long = max(0, needed_bits - spare_bits)
    # A number has no more than 63 bits to lose.
    return ties >> min(too_long, 63)
