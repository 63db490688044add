"""The lines of the two logs that a piece keeps: rows worked and supplies used, and yarn measured.

Logs only grow: a row is taken back, or a measurement corrected, by a new line. So what holds now is
read off the lines in the order of their numbers, wherever they stand in the file.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import date

from planner.errors import PlanError
from planner.units import check_number, in_words

# A strand is one part, or two halves if it is begun from its middle.
PARTS = ("whole", "first half", "second half")
HALF_LETTERS = dict(zip(PARTS, ("", "a", "b"), strict=True))

# What a line of progress.csv may tell. A row that is undone takes the later ones with it.
WORKED, UNDONE, LEFT, JOINED, SHORT, EXCHANGED, STOPPED, CLEARED, *_NOTES = WHATS = (
    *("row worked", "row undone"),
    *("left", "joined", "ran short", "exchanged", "stopped"),
    *("balls cleared", "note taken out", "end sewn in", "note"),
)
TAKEN_OUT, SEWN_IN, NOTED = _NOTES

# The ways of measuring: the length between two marks on the yarn, of stitches unravelled, a swatch
# on a scale, wraps round the needle, or what a supply had left.
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


def part_title(strand: str, part: str) -> str:
    """What a part is called: "W7" for the whole, "W7a" for the half worked first, "W7b"."""
    return strand + HALF_LETTERS[part]


@dataclass(frozen=True)
class Entry:
    """One line of progress.csv: a row worked or undone, or something noted about a supply.

    What is noted in mid-row has the row that is being worked, and how many of its stitches are
    worked already; what is noted between two rows has the last row worked. An end that is sewn in
    has the row it lies in, and its place there as a note. A free note, NOTED, has the row that it
    is about, whether that is worked or not.
    """

    number: int
    date: str
    what: str
    row: int  # worked row, from 1
    # How many the row has; a log that does not fit the chart is known by it.
    stitches: int = 0
    # How the row was knitted, as planner.strands reads it back; of balls that were cleared after a
    # row, what the hands did, as planner.twists does.
    runs: str = ""
    strand: str = ""
    part: str = PARTS[0]
    # The length left, or that of the new piece.
    length_cm: float | None = None
    note: str = ""
    stitch: int = 0
    # The strand whose supply was taken for this one, and this one's for it; of a note that is taken
    # out, its number.
    other: str = ""
    # When it was put down, such as "2026-03-14T19:32:05"; empty where only the day is known.
    moment: str = ""

    def __post_init__(self) -> None:
        where = f"progress.csv, number {self.number}"
        if self.what not in WHATS:
            raise PlanError(f'{where}: "{self.what}" is none of {", ".join(WHATS)}.')
        # A supply may be measured before the first row, when none is worked.
        if self.row < (1 if self.what in (WORKED, UNDONE, NOTED) else 0):
            raise PlanError(f"{where}: row is {self.row}; rows count from 1.")
        if self.what in (LEFT, JOINED):
            check_number(self.length_cm, f"{where}: length of {self.strand}")
        if self.part not in PARTS:
            raise PlanError(f'{where}: part is "{self.part}"; it is one of {", ".join(PARTS)}.')
        check_number(self.stitch, f"{where}: stitch")
        if self.stitch and not self.row:
            raise PlanError(
                f"{where}: stitch is {self.stitch}, but row is 0, which has no stitches."
            )

    @property
    def rows_done(self) -> int:
        """How many rows were worked when it was noted; counted from 0, that is the row on the
        needles."""
        return self.row - 1 if self.stitch or self.what == NOTED else self.row


def standing(log: Iterable[Entry]) -> list[Entry]:
    """The lines that hold, in the order of their numbers.

    What was noted in a row that was taken back, or after it, went with it, but for free notes; a
    single note may be taken out by itself.
    """
    lines: list[Entry] = []
    for entry in sorted(log, key=lambda entry: entry.number):
        if entry.what == UNDONE:
            lines = [line for line in lines if line.row < entry.row or line.what == NOTED]
        elif entry.what == TAKEN_OUT:
            lines = [old for old in lines if old.what == WORKED or str(old.number) != entry.other]
        else:
            lines.append(entry)
    return lines


def rows_worked(log: Sequence[Entry], totals: Sequence[int] | None = None) -> int:
    """How many worked rows are done.

    With `totals`, the stitches of each worked row of the chart, a log that does not fit the chart
    raises PlanError.
    """
    worked: dict[int, Entry] = {}
    done = 0
    for entry in standing(log):
        if entry.what == WORKED:
            worked[entry.row] = entry
            done = entry.row
    # A row that was taken back may have been worked on another chart.
    for entry in worked.values() if totals is not None else ():
        _check_stitches(entry, totals or ())
    return done


def _check_stitches(entry: Entry, totals: Sequence[int]) -> None:
    """Refuse a worked row that the chart does not have, or has with another number of stitches."""
    if entry.row > len(totals):
        now = "no such row"
    elif entry.stitches not in (0, totals[entry.row - 1]):  # 0 is not known
        now = f"{totals[entry.row - 1]} stitches"
    else:
        return
    raise PlanError(
        f"progress.csv says row {entry.row} was worked with {entry.stitches} stitches, but the "
        f"chart has {now} there. Is the log from another piece, or has the chart's width changed "
        "since? Put the chart back, or start a new log."
    )


def notes_by_row(log: Sequence[Entry]) -> dict[int, str]:
    """How each row that is worked was knitted, by its number."""
    return {entry.row: entry.runs for entry in standing(log) if entry.what == WORKED}


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
    # A row that is begun is taken back by what was noted in it.
    if what == UNDONE and not notes_in_row(log, row):
        if done == 0:
            raise PlanError("No row is marked as worked, so there is none to take back.")
        if row > done:
            raise PlanError(
                f"Row {row} is not marked as worked, so it cannot be taken back; the last row "
                f"worked is row {done}."
            )


def notes_in_row(log: Iterable[Entry], row: int) -> list[Entry]:
    """What was noted in a row (from 1) while it was worked, if that holds."""
    return [entry for entry in standing(log) if entry.stitch and entry.row == row]


@dataclass(frozen=True)
class Measurement:
    """One line of measurements.csv. Lengths in cm, weights in g.

    What was read from an instrument has that instrument's step beside it.
    """

    number: int
    date: str
    way: str
    yarn: str
    # The gauge of the same fabric, which gives the width of a stitch.
    gauge_stitches: float
    gauge_over_cm: float = 10
    fabric: str = "stockinette"
    needle_mm: float | None = None
    # Whether the yarn and the gauge were measured as knitted or blocked.
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
    # Yarn that is not in the stitches: carries, cast-on and bind-off, tails.
    carried_cm: float = 0
    edges_cm: float = 0
    tails_cm: float = 0
    # What the plan said of a supply, tails included, and the ends of its interval.
    planned_cm: float | None = None
    planned_low_cm: float | None = None
    planned_high_cm: float | None = None
    # "no" for a line that is kept but not believed.
    use: str = "yes"
    # The number of an older line that this one takes the place of.
    corrects: int | None = None
    note: str = ""

    def __post_init__(self) -> None:
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
            word = getattr(self, name)
            if word not in allowed:
                raise PlanError(f'{self._where}: {name} is "{word}"; it is {" or ".join(allowed)}.')

    def _check_numbers(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            # What may be missing is asked for where the way of measuring needs it.
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
        # A line that corrected itself would drop out of the log without a word.
        if self.corrects is not None and self.corrects >= self.number:
            raise PlanError(
                f"{self._where} corrects number {self.corrects}; only an older line can be "
                "corrected."
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
                f"{self._where} is weighed, but yarn {self.yarn} has no length in a gram. Take it "
                "from its band, or weigh a measured length."
            )
        if self.way == SUPPLY and (self.left_cm or 0) > (self.wound_cm or 0):
            raise PlanError(
                f"{self._where}: more was left over than was wound. Were the two exchanged?"
            )


def in_force(log: Iterable[Measurement]) -> list[Measurement]:
    """The lines that no later line corrects, in the order of their numbers."""
    lines = sorted(log, key=lambda line: line.number)
    corrected = {line.corrects for line in lines if line.corrects is not None}
    return [line for line in lines if line.number not in corrected]
