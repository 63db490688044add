"""Seams: where two edges meet colour to colour, and how to ease one to the other.

Rows are paired from the bottom up, as the hand sews. Colours are the same where their yarns have
one name, or, without names, one letter; of pieces of a set, where they are one yarn of the set.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, groupby

from planner.errors import PlanError
from planner.finishing.edges import LEFT, RIGHT, edge_stitches, side_edges_of
from planner.finishing.ends import LeftEnd, ends_to_run
from planner.plan import Plan
from planner.units import counted, rounded_up, show, show_measured

# More than a row in four taken together puckers (judgement).
EASED_ONE_IN = 4
# Lengths of thread in a length of seam, sewn between the first two stitches of each edge (common
# practice, no source).
SEWN_WITH = 2
Band = tuple[str, int]  # a colour along an edge, and over how many rows


@dataclass(frozen=True)
class Stretch:
    """A stretch of a seam: rows of this edge and of the other, from 1, and their colours.

    The last rows are included.
    """

    first: int
    last: int
    yarn: str
    other_first: int
    other_last: int
    other_yarn: str

    @property
    def rows(self) -> int:
        return self.last - self.first + 1

    @property
    def other_rows(self) -> int:
        return self.other_last - self.other_first + 1

    @property
    def colours(self) -> tuple[str, str]:
        return self.yarn, self.other_yarn

    @property
    def meets(self) -> bool:
        """Whether one colour lies at both edges."""
        return self.yarn == self.other_yarn

    def in_words(self, row_word: str) -> str:
        """What meets there, and how it is eased: "rows 12–24: Rock meets Sea green"."""
        rows = _rows(self.first, self.last, row_word)
        if (self.first, self.last) != (self.other_first, self.other_last):
            rows += f" to {_rows(self.other_first, self.other_last, row_word)}"
        meets = self.yarn if self.meets else f"{self.yarn} meets {self.other_yarn}"
        return f"{rows}: {meets}{_ease(self.rows, self.other_rows, row_word)}"


def _rows(first: int, last: int, word: str) -> str:
    return f"{word} {first}" if first == last else f"{word}s {first}–{last}"


def _ease(rows: int, other_rows: int, word: str) -> str:
    """How so many rows are sewn to so many: on the longer side two are taken together at times."""
    more, longer = abs(rows - other_rows), max(rows, other_rows)
    if not more:
        return ""
    side = "this edge" if rows > other_rows else "the other edge"
    if more == 1:
        return f", two {word}s of {side} taken together once"
    return f", two {word}s of {side} taken together {more} times, one pair in {longer // more}"


@dataclass(frozen=True)
class Seam:
    """A seam of two side edges, stretch by stretch from the bottom.

    `by_colour`: whether it is eased so that colours meet; else row for row, or, where one edge is
    longer, as evenly as can be. `length_cm` is that of this edge; `tails` hang at it.
    """

    edge: str
    other_edge: str
    bands: tuple[Band, ...]
    other_bands: tuple[Band, ...]
    by_colour: bool
    stretches: tuple[Stretch, ...]
    tails: tuple[LeftEnd, ...]
    length_cm: float

    @property
    def rows(self) -> int:
        return sum(rows for _, rows in self.bands)

    @property
    def other_rows(self) -> int:
        return sum(rows for _, rows in self.other_bands)

    @property
    def meeting(self) -> int:
        """How many rows of this edge lie in stretches where one colour meets itself."""
        return sum(each.rows for each in self.stretches if each.meets)

    def off(self) -> list[tuple[str, int, int]]:
        """The colours that do not begin in the same row at both edges, with their rows, from 1."""
        begins, other_begins = _begins(self.bands), _begins(self.other_bands)
        found = []
        for at, other_at in _paired(self.bands, self.other_bands):
            if begins[at] != other_begins[other_at]:
                found.append((self.bands[at][0], begins[at], other_begins[other_at]))
        return found

    def in_words(self, plan: Plan) -> list[str]:
        """The seam, a line each: how it is sewn, which colours are off, then each stretch."""
        row_word = plan.traced.how.row_word
        told = [self._how_sewn(row_word)]
        for yarn, row, other_row in self.off():
            by = counted(abs(row - other_row), row_word)
            higher = "higher" if other_row > row else "lower"
            told.append(
                f"{yarn} begins in {row_word} {row} here and in {row_word} {other_row} there, "
                f"{by} {higher}."
            )
        told += [f"{each.in_words(row_word)}." for each in self.stretches]
        return [*told, self._thread(plan)]

    def _thread(self, plan: Plan) -> str:
        """What it is sewn with."""
        units = plan.project.units
        long_cm = SEWN_WITH * self.length_cm + 2 * plan.project.allow.tail_cm
        thread = show(rounded_up(long_cm, units), units)
        told = f"Sew {show_measured(self.length_cm, units)} with about {thread}, its tails included"
        if not self.tails:
            return f"{told}."
        names = ", ".join(each.end.strand for each in self.tails)
        return f"{told}, or as far as they reach with the tails that hang there: {names}."

    def _how_sewn(self, word: str) -> str:
        rows, others = counted(self.rows, word), counted(self.other_rows, word)
        meeting = f"{self.meeting} of {rows} meet their own colour"
        if self.rows == self.other_rows == self.meeting and not self.off():
            return f"{word.capitalize()} for {word} from the bottom: all {rows} meet their colour."
        if self.by_colour:
            return f"Colour to colour, from the bottom: {rows} to {others}, eased as said below."
        if self.rows == self.other_rows:
            return f"{word.capitalize()} for {word} from the bottom: {meeting}."
        return f"{rows} to {others}, eased evenly from the bottom: {meeting}."


def seam_of(
    plan: Plan,
    edge: str,
    other: Plan,
    other_edge: str,
    *,
    other_names: Mapping[str, str] | None = None,
) -> Seam:
    """The seam of a side edge with one of another piece, or of the same.

    `other_names` says by letter what a yarn of the other piece is called in this one, where more is
    known of that than two names. The seam is eased by colour where the same colours follow each
    other at both edges, and none has to give or take more than one row in four. Raises PlanError
    for what is no side edge.
    """
    bands, others = _bands(plan, edge, {}), _bands(other, other_edge, other_names or {})
    by_colour = _may_ease_by_colour(bands, others)
    stretches = _by_colour(bands, others) if by_colour else _evenly(bands, others)
    rows = sum(rows for _, rows in bands)
    return Seam(
        edge,
        other_edge,
        tuple(bands),
        tuple(others),
        by_colour,
        tuple(stretches),
        tails=tuple(_tails_at(plan, edge)),
        length_cm=rows * plan.project.gauge.row_cm,
    )


def _bands(plan: Plan, edge: str, names: Mapping[str, str]) -> list[Band]:
    """The colours along a side from the bottom, each with how many rows it has.

    `names` are those of its yarns, by letter, that are not taken from the piece itself.
    """
    if edge not in side_edges_of(plan):
        raise PlanError(
            f'A seam joins side edges, and "{edge}" is none of this piece. Choose the right or the '
            "left edge of a piece that is worked flat."
        )
    yarns = plan.project.all_yarns
    sides = [each for each in edge_stitches(plan, edge) if each.is_row]
    sides.sort(key=lambda each: each.row)
    bands = []
    for letter, group in groupby(sides, key=lambda each: each.yarn):
        name = names.get(letter) or yarns[letter].name or letter
        bands.append((name, len(list(group))))
    return bands


def _begins(bands: Sequence[Band]) -> list[int]:
    """The row, from 1, in which each band begins."""
    heights = (rows for _, rows in bands)
    return list(accumulate(heights, initial=1))


def _tails_at(plan: Plan, edge: str) -> Iterator[LeftEnd]:
    """The ends that hang at an edge of the piece and are not sewn in."""
    places = {(stitch.row, stitch.column) for stitch in edge_stitches(plan, edge)}
    # The back shows the right edge at the left. Where a row has one stitch, that lies at both.
    side = {RIGHT: "left", LEFT: "right"}[edge]
    for each in ends_to_run(plan):
        hangs_at = each.way.hole_side if each.way else side
        hangs_there = (each.end.row, each.end.column) in places and hangs_at == side
        if hangs_there and each.may_sew_seam and not each.is_sewn:
            yield each


def _may_ease_by_colour(bands: Sequence[Band], others: Sequence[Band]) -> bool:
    """Whether the bands are the same in order, and each pair can be eased without a pucker."""
    if [yarn for yarn, _ in bands] != [yarn for yarn, _ in others]:
        return False
    for (_, rows), (_, other_rows) in zip(bands, others, strict=True):
        to_take_in = abs(rows - other_rows)
        if EASED_ONE_IN * to_take_in > max(rows, other_rows):
            return False
    return True


def _by_colour(bands: Sequence[Band], others: Sequence[Band]) -> list[Stretch]:
    """Each band sewn to its fellow."""
    begins, other_begins = _begins(bands), _begins(others)
    found = []
    for at, (yarn, _) in enumerate(bands):
        rows = begins[at], begins[at + 1] - 1
        other_rows = other_begins[at], other_begins[at + 1] - 1
        found.append(Stretch(*rows, yarn, *other_rows, yarn))
    return found


def _evenly(bands: Sequence[Band], others: Sequence[Band]) -> list[Stretch]:
    """Row for row, or eased evenly, where two colours meet as they come."""
    colours, other_colours = _row_by_row(bands), _row_by_row(others)
    longer = max(len(colours), len(other_colours))
    stretches: list[Stretch] = []
    for place in range(longer):
        # On the shorter edge some rows are sewn to two.
        row = place * len(colours) // longer
        other_row = place * len(other_colours) // longer
        yarn, other_yarn = colours[row], other_colours[other_row]
        rows, other_rows = (row + 1, row + 1), (other_row + 1, other_row + 1)
        if stretches and stretches[-1].colours == (yarn, other_yarn):
            last = stretches.pop()
            rows, other_rows = (last.first, row + 1), (last.other_first, other_row + 1)
        stretches.append(Stretch(*rows, yarn, *other_rows, other_yarn))
    return stretches


def _row_by_row(bands: Sequence[Band]) -> list[str]:
    """The colour of each row."""
    colours: list[str] = []
    for yarn, rows in bands:
        colours += [yarn] * rows
    return colours


def _paired(bands: Sequence[Band], others: Sequence[Band]) -> list[tuple[int, int]]:
    """The bands of one colour that answer each other, in order.

    Those that begin in one row do; of the others those with the most rows.
    """
    best = _Best(bands, others)
    pairs = []
    at = other_at = 0
    while at < len(bands) and other_at < len(others):
        rows = best.rows[at][other_at]
        if rows == best.if_paired(at, other_at):
            pairs.append((at, other_at))
            at += 1
            other_at += 1
        elif rows == best.rows[at + 1][other_at]:
            at += 1
        else:
            other_at += 1
    return pairs


class _Best:
    """The most rows that can answer each other from each pair of bands up.

    This is the longest common subsequence, weighed by the rows of the shorter band. Bands that
    begin in the same row weigh more than all others together.
    """

    def __init__(self, bands: Sequence[Band], others: Sequence[Band]):
        self.bands, self.others = bands, others
        self.begins, self.other_begins = _begins(bands), _begins(others)
        self.rows = [[0] * (len(others) + 1) for _ in range(len(bands) + 1)]
        for at in reversed(range(len(bands))):
            for other_at in reversed(range(len(others))):
                without = self.rows[at + 1][other_at]
                without_other = self.rows[at][other_at + 1]
                paired = self.if_paired(at, other_at)
                self.rows[at][other_at] = max(without, without_other, paired)

    def if_paired(self, at: int, other_at: int) -> int:
        """What answers each other if these two bands do; −1 if their colours differ."""
        yarn, rows = self.bands[at]
        other_yarn, other_rows = self.others[other_at]
        if yarn != other_yarn:
            return -1
        weight = min(rows, other_rows)
        # What begins level is not said to begin higher, however long a stretch lies there.
        if self.begins[at] == self.other_begins[other_at]:
            weight += self.begins[-1]
        return weight + self.rows[at + 1][other_at + 1]
