"""The exact choice of links: as many as can be, and of those choices the cheapest.

A matching on ports, each taking at most one link. First a port with a single link that is also the cheapest at its
other port takes it: whatever a best choice does with that other port can be exchanged for this link at no loss.
Repeated, this settles nearly all of a chart. What is left falls into small groups that share no port; each goes to an
exact matching with whole-number weights. Ties are broken by the links' order, so that every machine chooses the same.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import rustworkx
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

LARGE_GROUP = 3_000  # links; above this the exact matching takes long enough to say so
SAFE_BITS = 118  # weights are kept below 2**118: rustworkx counts in 128 bits and doubles them


def cheapest_matching(
    u: np.ndarray,
    v: np.ndarray,
    major: np.ndarray,
    minor: np.ndarray,
    *,
    place: np.ndarray | None = None,
    say: Callable[[str], None] | None = None,
) -> np.ndarray:
    """Which links to take: the most; then the least sum of `major`, of `minor`, and of `minor` squared; then the earliest.

    `u`, `v` are the ports of each link, `major` and `minor` costs of 0 or more in whole numbers.
    Returns a boolean array, one entry a link. `place` gives each port a number that settles ties, by which a choice in one
    corner stays the same whatever changes elsewhere; without it, the port's own. `say` is told when a large group needs time.
    """
    taken = np.zeros(len(u), dtype=bool)
    if not len(u):
        return taken
    ports = int(max(u.max(), v.max())) + 1
    # A tie is settled by a link's two places alone, so that the choice among the others stays the same when some links are
    # decided. Working order comes first; the scrambled low part keeps two sets from adding up alike.
    one, other = (u, v) if place is None else (place[u], place[v])
    tie = (other << 16) + ((((one * 65_537 + other) & 0xFFFFFFFF) * 2654435761 & 0xFFFFFFFF) >> 16)
    order = np.lexsort((tie, minor, major))  # cheapest first
    rest = order
    while len(rest):
        sure = _sure(u[rest], v[rest], ports)
        if not sure.any():
            break
        links = rest[sure]
        taken[links] = True
        busy = np.zeros(ports, dtype=bool)
        busy[u[links]] = busy[v[links]] = True
        rest = rest[~(busy[u[rest]] | busy[v[rest]])]
    if len(rest):
        rest = np.sort(rest)
        groups = _groups(u[rest], v[rest], ports)
        large = sum(len(group) for group in groups if len(group) > LARGE_GROUP)
        if say and large:
            say(
                f"Weighing {large:,} possible carries that hang together; a chart this broken up may take minutes …"
            )
        for group in groups:
            links = rest[group]
            taken[links[_exact(u[links], v[links], major[links], minor[links], tie[links])]] = True
    return taken


def _sure(u, v, ports) -> np.ndarray:
    """Links, given cheapest first, that are the only one at one port and the cheapest at the other."""
    number = np.arange(len(u))
    degree = np.bincount(u, minlength=ports) + np.bincount(v, minlength=ports)
    cheapest = np.full(ports, len(u))
    np.minimum.at(cheapest, u, number)
    np.minimum.at(cheapest, v, number)
    return ((degree[u] == 1) & (cheapest[v] == number)) | (
        (degree[v] == 1) & (cheapest[u] == number)
    )


def _groups(u, v, ports) -> list[np.ndarray]:
    """Positions of the links of each group that shares no port with another."""
    graph = coo_array((np.ones(len(u), dtype=np.int8), (u, v)), shape=(ports, ports))
    label = connected_components(graph, directed=False)[1][u]
    order = np.argsort(label, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(label[order])) + 1)


def _exact(u, v, major, minor, tie) -> list[int]:
    """Positions of the links of a cheapest largest matching in one group."""
    pairs = len(np.unique(np.concatenate((u, v)))) // 2  # no matching has more links
    major, minor = [int(x) for x in major], [int(x) for x in minor]
    squares = [x * x for x in minor]
    ties = [int(x) for x in tie - tie.min()]
    scale_squares, scale_minor = pairs * max(squares) + 1, pairs * max(minor) + 1
    spare = SAFE_BITS - (scale_squares * scale_minor * (pairs * max(major) + 1)).bit_length()
    ties = [x >> max(0, (pairs * max(ties)).bit_length() - spare) for x in ties]
    scale_ties = pairs * max(ties) + 1
    each = zip(major, minor, squares, ties, strict=True)
    costs = [((a * scale_minor + b) * scale_squares + c) * scale_ties + d for a, b, c, d in each]
    top = max(costs) + 1
    names = {port: i for i, port in enumerate(np.unique(np.concatenate((u, v))).tolist())}
    graph = rustworkx.PyGraph(multigraph=False)
    graph.add_nodes_from([None] * len(names))
    ends = [(names[a], names[b]) for a, b in zip(u.tolist(), v.tolist(), strict=True)]
    # Two links may join the same two ports (an entering edge to another, in a tube); the cheaper one stands for both.
    best: dict[tuple[int, int], int] = {}
    for i, pair in enumerate(ends):
        pair = (min(pair), max(pair))
        if pair not in best or costs[i] < costs[best[pair]]:
            best[pair] = i
    graph.add_edges_from([(a, b, i) for (a, b), i in best.items()])
    mates = rustworkx.max_weight_matching(
        graph, max_cardinality=True, weight_fn=lambda i: top - costs[i]
    )
    return sorted(best[min(pair), max(pair)] for pair in mates)
