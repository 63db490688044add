"""Tails: the ends of yarn that lie near a place, and whether one is long enough to mend it with."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from math import hypot
from typing import NamedTuple

from planner.mending.spots import Stitch, Work
from planner.units import counted, listed, nth, rounded_up, show, stretches

# What must be left of a tail to thread it and sew it in (judgement; about 3 in).
TO_SEW_IN_CM = 8.0
TAILS = 2  # of a length that is cut
HANGING_ENDS = ("start", "stop", "join")
VERBS = {"start": "begins", "stop": "ends", "join": "is joined"}


@dataclass(frozen=True)
class Tail:
    """An end of a strand, where it lies, and how far away that is, cm."""

    strand: str
    yarn: str
    what: str
    place: Stitch
    away_cm: float

    def in_words(self, work: Work) -> str:
        """Which tail it is: "the tail of W2 where it begins, in row 12 (RS), at …"."""
        place = work.words(self.place)
        return f"the tail of {self.strand} where it {VERBS[self.what]}: it lies at {place}"


def tails_near(work: Work, stitches: Collection[Stitch], yarns: Collection[str]) -> list[Tail]:
    """The tails of these yarns (letters) that lie in what is knitted, the nearest first.

    What is caught as it is knitted has no tail to take.
    """
    found = []
    # The plan's own list of ends: what is caught as it is knitted is not on it.
    for end in work.plan.ends_to_sew:
        place = Stitch(end.row, end.column)
        if end.yarn not in yarns or end.what not in HANGING_ENDS:
            continue
        # What stops in a row that is not finished may not be cut yet.
        if end.row >= work.done:
            continue
        # On the back a tail is led straight there, whatever rows lie between.
        away_cm = nearest_cm(work, place, stitches)
        found.append(Tail(end.strand, end.yarn, end.what, place, away_cm))
    return sorted(found, key=lambda tail: tail.away_cm)


def nearest_cm(work: Work, place: Stitch, stitches: Iterable[Stitch]) -> float:
    """How far a place is from the nearest of some stitches, cm, on the fabric."""
    gauge = work.plan.project.gauge
    distances = []
    for stitch in stitches:
        across = abs(place.column - stitch.column)
        # Round a tube there are two ways to it, and the shorter one is taken.
        if work.how.is_tube:
            across = min(across, work.strands.runs.columns - across)
        up = abs(place.row - stitch.row)
        distances.append(hypot(across * gauge.stitch_cm, up * gauge.row_cm))
    return min(distances)


def first_that_reaches(work: Work, tails: Iterable[Tail], takes_cm: float) -> Tail | None:
    """The nearest tail that has so much yarn when it comes there, and can be sewn in after that."""
    tail_cm = work.plan.project.allow.tail_cm
    # What is left after sewing must still be long enough to be sewn in itself.
    for tail in tails:
        if tail.away_cm + takes_cm + TO_SEW_IN_CM <= tail_cm:
            return tail
    return None


def begun_for(work: Work, stitches: Iterable[Stitch], letter: str) -> bool:
    """Whether a yarn can only have been begun for these stitches: by the plan none hangs there."""
    parts = [held.part for held in work.plan.held if held.part.yarn == letter]
    for stitch in stitches:
        if any(part.hangs_from <= stitch.row <= part.last_row for part in parts):
            return False
    return True


class Thread(NamedTuple):
    """What something is sewn with, in words; the ends and the yarn, cm, that it takes more."""

    words: str
    ends: int
    yarn_cm: float


def thread_for(work: Work, near: Sequence[Tail], takes_cm: float, letter: str) -> Thread:
    """The first of these tails that is long enough; else a short length of a yarn."""
    tail = first_that_reaches(work, near, takes_cm)
    if tail is not None:
        words = tail.in_words(work)
        return Thread(f"Thread {words}. If it is sewn in already, draw it out first.", 0, 0.0)
    project = work.plan.project
    tails_cm = TAILS * project.allow.tail_cm
    length_cm = rounded_up(takes_cm + tails_cm, project.units)
    length = show(length_cm, project.units)
    name = project.all_yarns[letter].name or letter
    words = f"No tail nearby is long enough: cut {length} of {name}, two tails in it."
    return Thread(words, TAILS, length_cm)


def rows_in_words(work: Work, rows: Iterable[int]) -> str:
    """Worked rows (from 0) in words: "row 12", "rows 12–14 and 20"."""
    numbers = {row + 1 for row in rows}
    *before, last = stretches(sorted(numbers))
    word = work.how.row_word if len(numbers) == 1 else f"{work.how.row_word}s"
    if not before:
        return f"{word} {last}"
    first_ones = ", ".join(before)
    return f"{word} {first_ones} and {last}"


def numbers_in_words(work: Work, stitches: Iterable[Stitch]) -> str:
    """Some stitches by their numbers on the cards: "row 2, the 5th and 6th; row 3, the 5th"."""
    by_row: dict[int, set[int]] = {}
    for stitch in stitches:
        by_row.setdefault(stitch.row, set()).add(work.number(stitch))
    told = []
    for row, numbers in sorted(by_row.items()):
        names = listed([nth(number) for number in sorted(numbers)])
        told.append(f"{work.how.row_word} {row + 1}, the {names}")
    return "; ".join(told)


def stitches_in_words(work: Work, stitches: Iterable[Stitch]) -> str:
    """Some stitches in words, those that lie beside each other together."""
    # By row, and in it by the number on its card.
    in_order = sorted((stitch.row, work.number(stitch), stitch) for stitch in stitches)
    together: list[list[Stitch]] = []
    before = (-1, -1)
    for row, number, stitch in in_order:
        if (row, number - 1) == before:
            together[-1].append(stitch)
        else:
            together.append([stitch])
        before = (row, number)
    told = []
    for beside in together:
        words = work.words(beside[0])
        if len(beside) > 1:
            words = f"{counted(len(beside), 'stitch')} from {words}"
        told.append(words)
    return "; ".join(told)
