"""The arrays of this room, and what hangs together in them.

Runs, links and strands are numbered from 0. What is known of all of them stands in arrays with one
entry for each, so that a step is taken for all of them at once.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

Numbers = NDArray[np.int64]  # one entry a run, a link, a strand, a port …
Flags = NDArray[np.bool_]  # yes or no for each of them
Lengths = NDArray[np.float64]  # in stitch widths

Pair = tuple[int, int]  # two runs, the earlier one first


def connected_parts(a: Numbers, b: Numbers, count: int) -> Numbers:
    """The number of the connected part that each of `count` things belongs to.

    a[i] and b[i] are joined. What is joined with nothing is a part by itself. The parts are
    numbered from 0 without a gap, in no set order.
    """
    joined = np.ones(len(a), dtype=np.int8)
    graph = coo_array((joined, (a, b)), shape=(count, count))
    _, part = connected_components(graph, directed=False)
    return np.asarray(part)


def first_of_each(part: Numbers) -> Numbers:
    """The first thing in each part, where the parts are numbered from 0 without a gap."""
    count = len(part)
    parts = part.max(initial=-1) + 1
    first = np.full(parts, count)
    np.minimum.at(first, part, np.arange(count))
    return first


def numbered_in_order(part: Numbers) -> Numbers:
    """The same parts, numbered in the order of the first thing in each."""
    # The parts in their new order, then the place of each part in it.
    in_order = np.argsort(first_of_each(part))
    number = np.empty_like(in_order)
    number[in_order] = np.arange(len(in_order))
    return number[part]


def summed(place: Numbers, values: Numbers | Lengths, count: int) -> Lengths:
    """The sum of the values at each of `count` places."""
    sums = np.bincount(place, weights=values, minlength=count)
    return np.asarray(sums, dtype=float)


def end_to_end(begin: Numbers, count: Numbers) -> tuple[Numbers, Numbers]:
    """The places of some stretches, one stretch after the other, each with its stretch's number.

    Stretch i holds the places from begin[i] on, count[i] of them.
    """
    number = np.repeat(np.arange(len(count)), count)
    # What each place is ahead of its own place in the row of all of them.
    jump = begin - (np.cumsum(count) - count)
    place = np.arange(len(number)) + jump[number]
    return number, place
