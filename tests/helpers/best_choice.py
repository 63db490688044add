"""Every link that the rule of carries allows, and the best choice among them, by other roads.

The links are found pair by pair from the rule, and nothing is reduced or split before it is solved.
A link is its two ports (a run's number and "enter" or "leave"), whether it is a middle start, and
the length carried in stitch widths.
"""

from __future__ import annotations

from dataclasses import asdict
from fractions import Fraction
from itertools import combinations

from tests.helpers.knitter import stretches

NONE = (0, 0, 0, 0)


def all_links(rows, how, reach, aspect):
    """How many runs a piece has, and every link that is allowed between them."""
    piece, columns, tube = stretches(rows, **asdict(how)), len(rows[0]), how.worked != "flat"
    runs = [run for row in piece for run in row]

    def between_rows(one, other):
        far = abs(one - other)
        return min(far, columns - far) if tube else far

    links = []
    for (i, a), (j, b) in combinations(enumerate(runs), 2):
        ahead = b.row - a.row
        if a.yarn != b.yarn or ahead > reach.up + 1:
            continue
        gap, shift = abs(a.leave - b.enter), between_rows(a.leave, b.enter)
        if ahead == 0 and gap <= reach.across:
            links.append(((i, "leave"), (j, "enter"), 0, Fraction(gap)))
        if ahead == 1 and shift <= reach.sideways:
            links.append(((i, "leave"), (j, "enter"), 0, Fraction(shift)))
        if ahead > 1 and shift <= reach.sideways:
            skipped = [run for row in piece[a.row + 1 : b.row] for run in row if run.yarn == a.yarn]
            if not any(run.touches(a.leave, columns, tube) for run in skipped):
                links.append(((i, "leave"), (j, "enter"), 0, shift + (ahead - 1) * aspect))
        distance = abs(a.enter - b.enter) if ahead == 0 else between_rows(a.enter, b.enter)
        if reach.middle and ahead < 2 and distance <= (reach.sideways if ahead else reach.across):
            links.append(((i, "enter"), (j, "enter"), 1, Fraction(distance)))
    return len(runs), links


def totals(links, unit):
    """Number of links, middle starts, length carried in whole units, and the sum of its squares."""
    carried = [int(length * unit) for *_, length in links]
    return (
        len(links),
        sum(middle for _, _, middle, _ in links),
        sum(carried),
        sum(x * x for x in carried),
    )


def rank(sums):
    """What is greatest for the best of several totals."""
    return sums[0], *(-x for x in sums[1:])


def best_by_trying(links, unit):
    """The totals of the best choice of links, by taking or leaving each in turn."""

    def choose(left):
        if not left:
            return NONE
        first, others = left[0], left[1:]
        free = [link for link in others if not {link[0], link[1]} & {first[0], first[1]}]
        takes = tuple(x + y for x, y in zip(totals([first], unit), choose(free), strict=True))
        return takes if len(free) == len(others) else max(takes, choose(others), key=rank)

    return choose(links)
