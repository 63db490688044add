"""A knitter who works a piece from its strands, row by row, and objects when a yarn is not where
she needs it.

She reads the chart's letters cell by cell and knows nothing of links, costs or matching: for each
stretch of one colour she is told which strand works it, and which half of a strand begun from its
middle. Whether the yarn reaches, and how far it is carried, she works out for herself from where it
last hung.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from scipy.ndimage import gaussian_filter


class Objection(AssertionError):
    """What the knitter says when the piece cannot be worked as told."""


@dataclass(frozen=True)
class Reach:
    """How far one yarn may be carried, in stitches and worked rows, unrounded."""

    across: Fraction | int = 0
    sideways: Fraction | int = 5
    up: Fraction | int = 2
    middle: bool = True


@dataclass(frozen=True)
class Stretch:
    """One colour in one worked row: its columns `lo`..`hi` from the left, and the edges where yarn
    comes and goes."""

    row: int
    yarn: str
    lo: int
    hi: int
    enter: int
    leave: int

    def touches(self, edge: int, columns: int, tube: bool) -> bool:
        """Whether the edge lies within lo..hi + 1; edge 0 and the last edge of a tube are one
        place."""
        same = {edge, 0, columns} if tube and edge in (0, columns) else {edge}
        return any(self.lo <= e <= self.hi + 1 for e in same)


def stretches(
    rows: Sequence[str],
    *,
    worked="flat",
    first_row="RS",
    hand="right",
    fabric="stockinette",
    selvedge=0,
) -> list[list[Stretch]]:
    """The stretches of each worked row in working order; the chart is given top row first, '.' is
    no stitch. Selvedge stitches lie outside the chart and change nothing here."""
    times = 2 if fabric == "garter" else 1
    piece = []
    for number, cells in enumerate([row for row in reversed(rows) for _ in range(times)]):
        # Turned rounds are worked to and fro, as flat rows are.
        right_side = worked == "rounds" or (first_row == "RS") == (number % 2 == 0)
        leftwards = right_side == (hand == "right")
        places = [(column, yarn) for column, yarn in enumerate(cells) if yarn != "."]
        row: list[Stretch] = []
        for column, yarn in reversed(places) if leftwards else places:
            lo = hi = column
            if row and row[-1].yarn == yarn:
                last = row.pop()
                lo, hi = min(lo, last.lo), max(hi, last.hi)
            enter, leave = (hi + 1, lo) if leftwards else (lo, hi + 1)
            row.append(Stretch(number, yarn, lo, hi, enter, leave))
        piece.append(row)
    return piece


@dataclass
class Report:
    """What the knitter found when the piece was done: lengths in stitch widths, and how many hang
    in each worked row."""

    carried: Fraction
    ends: int
    middle_starts: int
    live: list[int]


class Knitter:
    """Works one chart under one construction (`how`, see `stretches`), with a reach for each
    yarn."""

    def __init__(
        self,
        rows: Sequence[str],
        how: Mapping[str, str],
        reach: Reach | Mapping[str, Reach],
        aspect: Fraction,
    ):
        self.piece = stretches(rows, **how)
        self.columns, self.aspect = len(rows[0]), aspect
        self.tube = how.get("worked") in ("rounds", "turned")
        self.reach = (
            reach
            if isinstance(reach, Mapping)
            else {run.yarn: reach for row in self.piece for run in row}
        )

    def apart(self, one: int, other: int, *, same_row: bool) -> int:
        """How far two edges are apart; between rounds the shorter way round the tube."""
        far = abs(one - other)
        return min(far, self.columns - far) if self.tube and not same_row else far

    def fetch(self, row: int, edge: int, run: Stretch) -> Fraction:
        """Length carried to bring the yarn, hanging at an edge of a row, to the stretch."""
        reach, where = (
            self.reach[run.yarn],
            f"{run.yarn} from row {row + 1}, edge {edge}, to row {run.row + 1}, edge {run.enter}",
        )
        shift = self.apart(edge, run.enter, same_row=row == run.row)
        if row == run.row:
            if shift > reach.across:
                raise Objection(f"{where}: {shift} stitches across")
            return Fraction(shift)
        if shift > reach.sideways:
            raise Objection(f"{where}: {shift} stitches sideways")
        between = self.piece[row + 1 : run.row]
        if len(between) > reach.up:
            raise Objection(f"{where}: {len(between)} rows up")
        if any(
            other.yarn == run.yarn and other.touches(edge, self.columns, self.tube)
            for line in between
            for other in line
        ):
            raise Objection(f"{where}: its own yarn is worked in between, where it hangs")
        return shift + len(between) * self.aspect

    def begin_from_middle(self, first: Stretch, run: Stretch) -> Fraction:
        """Length carried between the two halves of a length begun from its middle."""
        reach, same_row = self.reach[run.yarn], first.row == run.row
        distance = self.apart(first.enter, run.enter, same_row=same_row)
        if (
            not reach.middle
            or run.row - first.row > 1
            or distance > (reach.across if same_row else reach.sideways)
        ):
            raise Objection(
                f"{run.yarn} cannot be begun from its middle in row {run.row + 1}, edge {run.enter}"
            )
        return Fraction(distance)

    def knit(
        self, strand_of: Sequence[int], half_of: Sequence[int], yarn_of: Sequence[str]
    ) -> Report:
        """Works the piece. `strand_of` and `half_of` say by what each stretch is worked, `yarn_of`
        each strand's yarn."""
        if len(strand_of) != sum(map(len, self.piece)):
            raise Objection(
                f"{len(strand_of)} stretches are told, the chart has {sum(map(len, self.piece))}"
            )
        parts = list(zip(strand_of, half_of, strict=True))
        told, to_come, tails = iter(parts), Counter(parts), Counter()
        begun: dict[int, Stretch] = {}
        hanging: dict[tuple[int, int], tuple[int, int]] = {}
        carried, middle_starts, live = Fraction(0), 0, []
        for row in self.piece:
            still_to_work = [part for part, runs in to_come.items() if runs]
            for run in row:
                strand, _ = part = next(told)
                if yarn_of[strand] != run.yarn:
                    raise Objection(
                        f"strand {strand} is {yarn_of[strand]}, row {run.row + 1} wants {run.yarn} "
                        f"at edge {run.enter}"
                    )
                if part in hanging:
                    carried += self.fetch(*hanging[part], run)
                elif strand not in begun:
                    begun[strand] = run
                    tails[strand] += 1
                elif not tails[strand]:
                    raise Objection(
                        f"strand {strand} is begun from its middle a second time in row "
                        f"{run.row + 1}"
                    )
                else:  # the start has no tail after all: it is the other half
                    carried += self.begin_from_middle(begun[strand], run)
                    middle_starts += 1
                    tails[strand] -= 1
                hanging[part] = (run.row, run.leave)
                to_come[part] -= 1
            # Both halves of a length hang from the row in which it is begun from its middle.
            live.append(sum(strand in begun for strand, _ in still_to_work))
        tails.update(strand for strand, _ in hanging)
        if wrong := [strand for strand in range(len(yarn_of)) if tails[strand] != 2]:
            raise Objection(
                f"strands {wrong} have {[tails[strand] for strand in wrong]} ends, not 2"
            )
        return Report(carried, sum(tails.values()), middle_starts, live)


def draw_chart(
    seed: int, *, stitches: int, rows: int, yarns: int, smooth: float, holes: bool = False
) -> list[str]:
    """A random chart, top row first: areas about 2 × `smooth` wide (0: noise), with some no-stitch
    cells if asked."""
    rng = np.random.default_rng(seed)
    fields = gaussian_filter(rng.standard_normal((yarns, rows, stitches)), (0, smooth, smooth))
    cells = np.array(list("ABCDEFGH"))[fields.argmax(axis=0)]
    if holes:
        across, up = np.arange(stitches), np.arange(rows)[:, None]
        gone = (across + up < 4) | (rng.random((rows, stitches)) < 0.06)
        gone[:, stitches // 2] = False  # every row keeps a stitch
        cells[gone] = "."
    return ["".join(row) for row in cells]
