"""Lengths: how much yarn each part of a strand takes, every share of it apart.

A strand is one part, or two halves if it is begun from its middle: each half is worked by yarn of
its own, has one tail of its own, and may be held in a way of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from planner.multiplier import RULE_OF_THREE, Multiplier
from planner.piece import PARTS, Allowances, part_title
from planner.strands import MIDDLE, Strands
from planner.units import rounded_up

SHARES = ["worked_cm", "carried_cm", "cast_on_cm", "bind_off_cm", "tails_cm", "margin_cm"]


@dataclass(frozen=True, eq=False)  # told apart by identity, so that a dict may be kept by part
class Part:
    """A whole strand, or one half of a strand begun from its middle, and the yarn that it takes.

    `number` counts the parts from 0 and `strand` the strands; `label` is the strand's name and
    `name` says which part of it this is. `runs` are the numbers of its runs in working order;
    `first_row` and `last_row` are worked rows from 0; a half that is taken up later
    than its strand is begun hangs from there (`hangs_from`); `narrowest` is its narrowest run, in
    stitches. Lengths are in cm; `rule_cm` is the rule of three with the same tails.
    """

    number: int
    strand: int
    label: str
    name: str
    yarn: str
    runs: np.ndarray
    first_row: int
    hangs_from: int
    last_row: int
    narrowest: int
    stitches: int
    width_cm: float
    worked_cm: float
    carried_cm: float
    cast_on_cm: float
    bind_off_cm: float
    tails_cm: float
    margin_cm: float
    rule_cm: float

    @property
    def is_whole(self) -> bool:
        return self.name == PARTS[0]

    @property
    def title(self) -> str:
        """Its name: "W7", or "W7a" and "W7b" for the halves of a strand begun from its middle."""
        return part_title(self.label, self.name)

    @property
    def rows(self) -> slice:
        """The worked rows, from 0, in which it lives."""
        return slice(self.hangs_from, self.last_row + 1)

    @property
    def first_run(self) -> int:
        return int(self.runs[0])

    @property
    def last_run(self) -> int:
        return int(self.runs[-1])

    @property
    def stitches_cm(self) -> float:
        """Yarn planned for its stitches, margin included."""
        return self.worked_cm + self.margin_cm

    @cached_property
    def wound_cm(self) -> float:
        """All that it takes: the sum of its shares."""
        along_rows = self.worked_cm + self.carried_cm + self.cast_on_cm + self.bind_off_cm
        return along_rows + self.tails_cm + self.margin_cm


def run_widths(strands: Strands, *, yarn_overs: bool = True) -> np.ndarray:
    """Width of the stitches of each run, selvedge stitches beside it included, cm.

    In turned rounds the yarn-over that closes the join counts with the first run of its round, as a
    stitch of yarn; not where stitches are cast on or bound off.
    """
    runs, how = strands.runs, strands.how
    stitches = runs.stitches.astype(float)
    # The chart has no selvedge: it is worked in the yarn beside it, at both ends of each row.
    more_at_first = how.selvedge
    if yarn_overs and how.closes_join:
        more_at_first += 1
    if more_at_first:
        # Every row is there: where only some runs are traced, nothing is asked of their lengths.
        rows = np.arange(runs.rows)
        first_in_row = np.searchsorted(runs.row, rows)
        last_in_row = np.searchsorted(runs.row, rows, "right") - 1
        stitches[first_in_row] += more_at_first
        stitches[last_in_row] += how.selvedge
    width_cm: np.ndarray = stitches * strands.gauge.stitch_cm
    return width_cm


def _edge_widths(strands: Strands) -> tuple[np.ndarray, np.ndarray]:
    """Width by run of the stitches that are cast on, and of those that are bound off, cm."""
    row = strands.runs.row
    widths = run_widths(strands, yarn_overs=False)
    return widths * (row == 0), widths * (row == strands.runs.rows - 1)


def _carried_to_runs(strands: Strands) -> np.ndarray:
    """Yarn carried on the way to each run, cm; a middle start is shared by the two halves."""
    links, count = strands.links, strands.runs.count
    middle = links.kind == MIDDLE
    carried_cm = strands.carried * strands.gauge.stitch_cm
    # A carry leads from one run to the next, so it is counted with the next. A middle start leads
    # to both its runs, for both halves begin in it.
    carried_cm[middle] /= 2
    to_second_run = np.bincount(links.b, weights=carried_cm, minlength=count)
    to_first_run = np.bincount(links.a[middle], weights=carried_cm[middle], minlength=count)
    return to_second_run + to_first_run


def measure_parts(
    strands: Strands, multipliers: Mapping[str, Multiplier], allow: Allowances
) -> tuple[Part, ...]:
    """The parts of the strands with their lengths, in the order of first need.

    Yarn in a run = multiplier × width of its stitches; a carry is its straight-line length. A whole
    strand has two tails. The carry of a middle start is shared by the halves, each of which has one
    tail.
    """
    runs = strands.runs
    # Three numbers to a strand: one for the whole of it, or one for each half that it has.
    half_of_run = np.where(strands.has_middle[strands.of_run], 1 + strands.half, 0)
    codes, of_run = np.unique(strands.of_run * len(PARTS) + half_of_run, return_inverse=True)
    strand_of_part, half_of_part = np.divmod(codes, len(PARTS))
    letters = [strands.chart.letters[yarn] for yarn in strands.yarn[strand_of_part]]

    def per_part(values: np.ndarray) -> np.ndarray:
        return np.bincount(of_run, weights=values, minlength=len(codes))

    width_cm = per_part(run_widths(strands))
    cast_on, bound_off = _edge_widths(strands)
    # Each share is a column of its own, so that nobody has to guess what a length holds.
    shares = {
        "worked_cm": width_cm * np.array([multipliers[letter].value for letter in letters]),
        "carried_cm": per_part(_carried_to_runs(strands)),
        "cast_on_cm": per_part(cast_on) * allow.cast_on,
        "bind_off_cm": per_part(bound_off) * allow.bind_off,
        "tails_cm": np.where(half_of_part == 0, 2.0, 1.0) * allow.tail_cm,
        "margin_cm": _margins(letters, width_cm, multipliers, allow),
    }
    # Sorted by part, and within a part in working order, for the sort is stable.
    by_part = np.argsort(of_run, kind="stable")
    first = np.searchsorted(of_run[by_part], np.arange(len(codes)))
    last = np.append(first[1:], runs.count) - 1
    columns = {
        "number": range(len(codes)),
        "strand": strand_of_part.tolist(),
        "label": [strands.labels[strand] for strand in strand_of_part.tolist()],
        "name": [PARTS[half] for half in half_of_part.tolist()],
        "yarn": letters,
        "runs": np.split(by_part, first[1:]),
        "first_row": runs.row[by_part[first]].tolist(),
        "hangs_from": runs.row[strands.first_run[strand_of_part]].tolist(),
        "last_row": runs.row[by_part[last]].tolist(),
        "narrowest": np.minimum.reduceat(runs.stitches[by_part], first).tolist(),
        "stitches": per_part(runs.stitches).astype(int).tolist(),
        "width_cm": width_cm.tolist(),
        "rule_cm": (width_cm * RULE_OF_THREE + shares["tails_cm"]).tolist(),
    }
    columns |= {share: lengths.tolist() for share, lengths in shares.items()}
    lines = zip(*columns.values(), strict=True)
    return tuple(Part(**dict(zip(columns, line, strict=True))) for line in lines)


def _margins(
    letters: Sequence[str],
    width_cm: np.ndarray,
    multipliers: Mapping[str, Multiplier],
    allow: Allowances,
) -> np.ndarray:
    """The margin of each part, cm; the parts of one yarn are worked out together."""
    margin_cm = np.zeros(len(letters))
    of_part = np.array(letters, dtype=object)
    for letter, multiplier in multipliers.items():
        in_yarn = of_part == letter
        margin_cm[in_yarn] = multiplier.margin_cm(width_cm[in_yarn], allow.short_once_in)
    return margin_cm


def fixed_lengths(strands: Strands, allow: Allowances) -> np.ndarray:
    """Yarn by run that does not hang on the multiplier, cm: carries, cast-on, bind-off."""
    # Cast-on and bind-off are given in widths of the stitches they lie along.
    cast_on, bound_off = _edge_widths(strands)
    at_edges = allow.cast_on * cast_on + allow.bind_off * bound_off
    lengths: np.ndarray = at_edges + _carried_to_runs(strands)
    return lengths


def run_lengths(strands: Strands, parts: Sequence[Part], allow: Allowances) -> np.ndarray:
    """Planned yarn by run, cm: a part's length without its tails, each run with its margin."""
    # The margin is planned for a part as a whole; wider runs have more of it.
    per_width = np.zeros(strands.runs.count)
    for part in parts:
        per_width[part.runs] = part.stitches_cm / part.width_cm
    lengths: np.ndarray = per_width * run_widths(strands) + fixed_lengths(strands, allow)
    return lengths


def lengths_by_strand(parts: Sequence[Part]) -> pd.DataFrame:
    """One row a strand, in the order of first need: its shares, their sum and the rule of three."""
    columns = [*SHARES, "wound_cm", "rule_cm"]
    lengths = np.array([[getattr(part, name) for name in columns] for part in parts])
    # The halves of a strand stand side by side.
    strand = [part.strand for part in parts]
    _, first = np.unique(strand, return_index=True)
    return pd.DataFrame(np.add.reduceat(lengths, first), columns=columns)


class Planned:
    """Yarn for stitches of some width, margin included.

    Each width is worked out once, for plans are priced by the hundred.
    """

    def __init__(self, multipliers: Mapping[str, Multiplier], allow: Allowances):
        self.multipliers = multipliers
        self.allow = allow
        self.known: dict[tuple[str, float], float] = {}

    def cm(self, letter: str, width_cm: np.ndarray) -> np.ndarray:
        """The length for each of these widths, cm."""
        # Equal widths are added up in different orders, so they differ in their last digits.
        widths = np.round(width_cm, 6)
        _, places = np.unique(widths, return_index=True)
        new = [place for place in places if (letter, widths[place]) not in self.known]
        # All that is new goes to the margin in one call, which costs little more than one width.
        if new:
            # As wide as it is: a length that just fills its steps must not be rounded up by one.
            width_cm = np.asarray(width_cm, dtype=float)[new]
            multiplier = self.multipliers[letter]
            margin_cm = multiplier.margin_cm(width_cm, self.allow.short_once_in)
            lengths = (multiplier.value * width_cm + margin_cm).tolist()
            for width, length in zip(widths[new], lengths, strict=True):
                self.known[letter, width] = length
        return np.array([self.known[letter, width] for width in widths])

    def by_half(self, strands: Strands) -> tuple[np.ndarray, np.ndarray]:
        """Width of the stitches, and yarn that is not in them, cm.

        Two numbers a strand, its halves; a whole strand has its all in the first.
        """
        half = strands.of_run * 2 + strands.half
        count = 2 * strands.count
        width_cm = np.bincount(half, weights=run_widths(strands), minlength=count)
        fixed = fixed_lengths(strands, self.allow)
        fixed_cm = np.bincount(half, weights=fixed, minlength=count)
        tails = np.where(np.repeat(strands.has_middle, 2), 1, 2)
        return width_cm, fixed_cm + tails * self.allow.tail_cm

    def measured_cm(
        self, letter: str, width_cm: np.ndarray, fixed_cm: np.ndarray, units: str
    ) -> np.ndarray:
        """What is measured off for stitches so wide and so much beside them, each rounded up."""
        lengths = self.cm(letter, width_cm) + fixed_cm
        return np.array([rounded_up(length, units) for length in lengths.tolist()])

    def measured_by_half(self, strands: Strands, units: str) -> np.ndarray:
        """What is measured off for each half, as `by_half` has them, before there are refills."""
        # Without a record for each part, which would take most of the time of a price.
        width_cm, fixed_cm = self.by_half(strands)
        yarn = np.repeat(strands.yarn, 2)
        measured_cm = np.zeros(len(yarn))
        for y in np.unique(yarn):
            halves = (yarn == y) & (width_cm > 0)
            letter = strands.chart.letters[y]
            of_yarn = self.measured_cm(letter, width_cm[halves], fixed_cm[halves], units)
            measured_cm[halves] = of_yarn
        return measured_cm
