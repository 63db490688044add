"""The lines of the two logs that a piece keeps: rows worked and supplies used, and yarn measured."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import date

from planner.errors import PlanError
from planner.units import check_number, in_words

# A strand is one part, or two halves if it is begun from its middle.
PARTS = ("whole", "first half", "second half")

WORKED, UNDONE, LEFT, JOINED = WHATS = ("row worked", "row undone", "left", "joined")

MARKED, UNRAVELLED, WEIGHED, WRAPS, SUPPLY = WAYS = (
    "marked length",
    "unravelled",
    "weighed swatch",
    "needle wraps",
    "supply",
)
STATES = ("as knitted", "blocked")
# What a measurement may say in the fields that take a word.
WORDS = {
    "way": WAYS,
    "fabric": ("stockinette", "garter"),
    "use": ("yes", "no"),
    "metres_per_gram_from": ("label", "weighed length"),
    "state": STATES,
    "gauge_state": STATES,
}
# What each way of measuring cannot do without.
NEEDED = {
    MARKED: "length_cm",
    UNRAVELLED: "length_cm",
    WEIGHED: "grams",
    WRAPS: "length_cm",
    SUPPLY: "wound_cm",
}


@dataclass(frozen=True)
class Entry:
    """One line of progress.csv: a row worked or undone, a length left as measured, or a piece joined.

    `row` counts from 1; `length_cm` is the length left, or that of the new piece. `stitches` is how
    many the row has, by which a log of another piece is known; `runs` how the row was knitted (see
    planner/strands/knitted.py).
    """

    number: int
    date: str
    what: str
    row: int
    stitches: int = 0
    runs: str = ""
    strand: str = ""
    part: str = PARTS[0]
    length_cm: float | None = None
    note: str = ""

    def __post_init__(self):
        where = f"progress.csv, number {self.number}"
        if self.what not in WHATS:
            raise PlanError(f'{where}: "{self.what}" is none of {", ".join(WHATS)}.')
        if self.row < 0:
            raise PlanError(f"{where}: row is {self.row}; rows count from 1.")
        if self.what in (LEFT, JOINED):
            check_number(self.length_cm, f"{where}: length of {self.strand} in cm")


def rows_worked(log: Sequence[Entry], totals: Sequence[int] | None = None) -> int:
    """How many worked rows are done.

    With `totals`, the stitches of each worked row of the chart, a log that does not fit the chart
    raises PlanError.
    """
    done = 0
    for entry in sorted(log, key=lambda entry: entry.number):
        if entry.what == WORKED:
            if totals is not None:
                _check_stitches(entry, totals)
            done = entry.row
        elif entry.what == UNDONE:
            done = entry.row - 1
    return done


def _check_stitches(entry: Entry, totals: Sequence[int]) -> None:
    """Refuse a worked row that the chart does not have, or has with other stitches."""
    if entry.row > len(totals):
        now = "no such row"
    elif entry.stitches not in (0, totals[entry.row - 1]):
        now = f"{totals[entry.row - 1]} stitches"
    else:
        return
    raise PlanError(
        f"progress.csv says row {entry.row} was worked with {entry.stitches} stitches, but the chart "
        f"has {now} there. Is the log from another piece, or has the chart's width changed since? "
        "Put the chart back, or start a new log."
    )


def notes_by_row(log: Sequence[Entry]) -> dict[int, str]:
    """How each row that is worked was knitted, by its number."""
    notes: dict[int, str] = {}
    for entry in sorted(log, key=lambda entry: entry.number):
        if entry.what == WORKED:
            notes[entry.row] = entry.runs
        elif entry.what == UNDONE:
            notes.pop(entry.row, None)
    return notes


def check_mark(log: Sequence[Entry], what: str, row: int, rows: int) -> None:
    """Refuse a row that cannot be marked: twice, out of turn, past the start or the end."""
    done = rows_worked(log)
    if what == WORKED:
        if row > rows:
            raise PlanError(f"The piece has {rows} rows, and all are worked.")
        if row <= done:
            raise PlanError(f"Row {row} is marked as worked already; the next is row {done + 1}.")
        if row > done + 1:
            raise PlanError(
                f"Row {row} comes after row {row - 1}, which is not marked as worked yet."
            )
    if what == UNDONE:
        if done == 0:
            raise PlanError("No row is marked as worked, so there is none to take back.")
        if row != done:
            raise PlanError(f"Only the last row worked, row {done}, can be taken back.")


@dataclass(frozen=True)
class Measurement:
    """One line of measurements.csv. Lengths in cm, weights in g.

    What was read from an instrument has that instrument's step beside it. `gauge_stitches` over
    `gauge_over_cm` is the gauge of the same fabric; `state` and `gauge_state` say whether each is as
    knitted or blocked. `edges_cm` is yarn in cast-on and bind-off, `corrects` the number of an older
    line that this one takes the place of, `use` yes or no. `planned_cm`, `planned_low_cm` and
    `planned_high_cm` are what the plan said of a supply, tails included.
    """

    number: int
    date: str
    way: str
    yarn: str
    gauge_stitches: float
    gauge_over_cm: float = 10
    fabric: str = "stockinette"
    needle_mm: float | None = None
    state: str = "as knitted"
    gauge_state: str = "as knitted"
    stitches: float = 0
    length_cm: float | None = None
    length_step_cm: float = 0.1
    grams: float | None = None
    grams_step: float = 1
    metres_per_gram: float | None = None
    metres_per_gram_from: str = "label"
    wraps: float | None = None
    strand: str = ""
    wound_cm: float | None = None
    left_cm: float | None = None
    carried_cm: float = 0
    edges_cm: float = 0
    tails_cm: float = 0
    planned_cm: float | None = None
    planned_low_cm: float | None = None
    planned_high_cm: float | None = None
    use: str = "yes"
    corrects: int | None = None
    note: str = ""

    def __post_init__(self):
        self._check_words()
        self._check_numbers()
        self._check_what_it_refers_to()
        self._check_what_its_way_needs()

    @property
    def stitch_cm(self) -> float:
        """Width of one stitch, cm."""
        return self.gauge_over_cm / self.gauge_stitches

    @property
    def _where(self) -> str:
        return f"Measurement {self.number}"

    def _check_words(self) -> None:
        for name, allowed in WORDS.items():
            if getattr(self, name) not in allowed:
                raise PlanError(
                    f'{self._where}: {name} is "{getattr(self, name)}"; it is '
                    f"{' or '.join(allowed)}."
                )

    def _check_numbers(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if field.type in ("float", "float | None") and value is not None:
                check_number(value, f"{self._where}: {in_words(field.name)}")
        for name in ("gauge_stitches", "gauge_over_cm"):
            what = f"{self._where}: {in_words(name)}, of the same fabric"
            check_number(getattr(self, name), what, above=0)

    def _check_what_it_refers_to(self) -> None:
        try:
            date.fromisoformat(self.date)
        except ValueError:
            raise PlanError(
                f'{self._where}: the date is "{self.date}"; write it like 2026-03-14.'
            ) from None
        if self.corrects is not None and self.corrects >= self.number:
            raise PlanError(
                f"{self._where} corrects number {self.corrects}; only an older line can be corrected."
            )
        planned = (self.planned_cm, self.planned_low_cm, self.planned_high_cm)
        if planned.count(None) in (1, 2):
            raise PlanError(
                f"{self._where}: give what was planned with both ends of its interval, or none of "
                "the three."
            )
        if not self.yarn.strip():
            raise PlanError(
                f"{self._where} names no yarn. Give the letter of the yarn that was measured."
            )

    def _check_what_its_way_needs(self) -> None:
        needed = NEEDED[self.way]
        what = f"{self._where}: {in_words(needed)}"
        check_number(getattr(self, needed) or 0, what, above=0)
        if self.way == WRAPS:
            check_number(self.wraps or 0, f"{self._where}: wraps", above=0)
        else:
            check_number(self.stitches, f"{self._where}: stitches", above=0)
        if self.way == WEIGHED and not self.metres_per_gram:
            raise PlanError(
                f"{self._where} is weighed, but yarn {self.yarn} has no metres per gram. Take them "
                "from its band, or weigh a measured length."
            )
        if self.way == SUPPLY and (self.left_cm or 0) > (self.wound_cm or 0):
            raise PlanError(
                f"{self._where}: {self.left_cm:g} cm were left over of {self.wound_cm:g} cm wound. "
                "Were the two exchanged?"
            )


def in_force(log: Iterable[Measurement]) -> list[Measurement]:
    """The lines that no later line corrects, in the order of their numbers."""
    lines = sorted(log, key=lambda line: line.number)
    corrected = {line.corrects for line in lines if line.corrects is not None}
    return [line for line in lines if line.number not in corrected]
