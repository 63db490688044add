"""The supply of each part of a strand: loose strand, butterfly, bobbin, or fed from the ball.

Asked section by section: where few lengths hang and this one is wide, it is fed from a ball,
however short; where many hang, whatever hangs well. Length comes last: what is too long to wind
takes a ball where there is one. What comes from a ball may be measured off and wound in mid-strand,
without a join; so a part may be held two ways, one after the other. A choice made by hand always
wins. Supplies never change strands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from statistics import median

import numpy as np

from planner.errors import PlanError
from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, PARTS, SUPPLIES, Habits, Project, Yarn
from planner.strands import Strands
from planner.supplies.balls import LEAST_TAILS, Feeding, Table
from planner.supplies.habits import (
    SLACK_CM,
    capacity_cm,
    fullest_cm,
    pieces_needed,
    suits,
    usable_cm,
    way_to_wind,
)
from planner.supplies.held import Held, Stage
from planner.supplies.lengths import Part, run_lengths
from planner.supplies.reasons import against, middle_start_notes
from planner.supplies.sections import SHORTEST_SECTION, Section, find_sections
from planner.units import in_whole_steps


@dataclass(frozen=True, eq=False)
class PartAtWork:
    """A part with its yarn and, for each of its rows, what speaks for a way of holding it.

    `live` is how many lengths hang; `suits_ball` whether few do and the part is wide; `typical`
    is how wide it usually is, in stitches. By run `used_cm` is the yarn that it takes and
    `row_of_run` its worked row; `tail_cm` is the tail at its end.
    """

    part: Part
    yarn: Yarn
    live: np.ndarray
    suits_ball: np.ndarray
    typical: float
    used_cm: np.ndarray
    row_of_run: np.ndarray
    tail_cm: float

    @cached_property
    def busiest(self) -> int:
        """The most lengths that hang in any of its rows."""
        return int(self.live.max())

    # Most parts are short, and nobody asks what is left of them.
    @cached_property
    def left_cm(self) -> np.ndarray:
        """What it takes from each of its rows on, the tail at its end included."""
        place = self.row_of_run - self.part.hangs_from
        by_row = np.bincount(place, weights=self.used_cm, minlength=len(self.live))
        left_cm: np.ndarray = np.cumsum(by_row[::-1])[::-1] + self.tail_cm
        return left_cm

    def wound_from(self, row: int, habits: Habits) -> tuple[str, str]:
        """The best way to hold what is left from a row on if it is wound, and why."""
        place = row - self.part.hangs_from
        length_cm, busiest = self.part.wound_cm, self.busiest
        if place:
            length_cm = float(self.left_cm[place])
            busiest = int(self.live[place:].max())
        return way_to_wind(length_cm, self.yarn, habits, crowded=busiest > habits.crowded)


@dataclass(frozen=True)
class Choice:
    """A supply for a part, and why.

    `until`: what is left is measured off before that worked row, from 0, and held as `then` says.
    """

    supply: str
    why: str
    by_hand: bool = False
    until: int | None = None
    then: str = ""


def choose_supplies(
    strands: Strands,
    parts: Sequence[Part],
    project: Project,
    *,
    balls: Mapping[str, Sequence[float]],
    own: Mapping[tuple[str, str], str] | None = None,
) -> tuple[tuple[Held, ...], list[str]]:
    """How each part is held, in the order of the parts, and notes for the knitter.

    `parts` comes from `measure_parts`; `balls` are the lengths, cm, of the balls of each yarn in
    hand or to be bought; `own` holds the knitter's choices by (strand, part), "whole" standing for
    both halves.

    Raises PlanError where a bobbin holds little more than its tails, or an own choice is no supply.
    """
    chooser = _Chooser(strands, parts, project, balls)
    _check_bobbins(parts, project)
    notes = []
    # What the knitter laid on the table lies there before anything is suggested.
    for at_work in chooser.at_work:
        notes += chooser.take_own(at_work, own or {})
    for at_work in sorted(chooser.at_work, key=_in_turn):
        if at_work.part not in chooser.stages:
            chooser.suggest(at_work)
    # One note for all that fare alike: there may be dozens.
    for (letter, obstacle), titles in chooser.cut_after_all.items():
        notes.append(
            f"{', '.join(titles)} should be fed from the ball, because {letter} must not be cut, "
            f"but {obstacle}."
        )
    held = tuple(chooser.hold(at_work) for at_work in chooser.at_work)
    return held, notes + middle_start_notes(held)


def _check_bobbins(parts: Sequence[Part], project: Project) -> None:
    """Refuse bobbins so small that they would hold little but tails, if any part needs one."""
    holds_cm, tail_cm = project.habits.bobbin_up_to_cm, project.allow.tail_cm
    # Small bobbins do no harm as long as nothing has to be joined.
    too_small = holds_cm < LEAST_TAILS * tail_cm
    most_cm = fullest_cm(project.habits, BOBBIN) + SLACK_CM
    if too_small and any(part.wound_cm > most_cm for part in parts):
        raise PlanError(
            "A bobbin as long as you allow holds little more than the tails of its joins. Give "
            "bobbins at least four tails of yarn."
        )


def _in_turn(at_work: PartAtWork) -> tuple[bool, float, int]:
    """The order in which parts ask for balls: by the harm of doing without one."""
    part = at_work.part
    # The longest takes the most winding, or does not fit a bobbin at all; equal ones in working
    # order, so that the same piece has the same plan on every machine.
    return at_work.yarn.may_be_cut, -part.wound_cm, part.number


class _Chooser:
    """What is chosen so far, and which balls are taken."""

    def __init__(
        self,
        strands: Strands,
        parts: Sequence[Part],
        project: Project,
        balls: Mapping[str, Sequence[float]],
    ):
        self.strands, self.project, self.habits = strands, project, project.habits
        self.yarns = project.all_yarns
        self.tail_cm = project.allow.tail_cm
        self.used_cm = run_lengths(strands, parts, project.allow)
        room = np.array(self.habits.room(strands.runs.rows))
        self.table = Table(self.habits, balls, room)
        sections = find_sections(strands.live, self.habits)
        self.at_work = [self._at_work(part, sections) for part in parts]
        self.of_strand: dict[str, list[Part]] = {}
        for part in parts:
            self.of_strand.setdefault(part.label, []).append(part)
        self.choices: dict[Part, Choice] = {}
        self.stages: dict[Part, list[Stage]] = {}
        self.cut_after_all: dict[tuple[str, str], list[str]] = {}

    def _at_work(self, part: Part, sections: Sequence[Section]) -> PartAtWork:
        runs = self.strands.runs
        row_of_run = runs.row[part.runs]
        stitches = runs.stitches[part.runs]
        suits_ball = np.zeros(part.last_row - part.hangs_from + 1, dtype=bool)
        for section in sections:
            # Where many hang no ball is laid out, however wide the part is.
            if section.load != "easy" or not section.holds(part):
                continue
            inside = (row_of_run >= section.first) & (row_of_run <= section.last)
            # As it usually is: one narrow row does not make a strand narrow.
            typical = _median(stitches[inside] if inside.any() else stitches)
            first = max(section.first - part.hangs_from, 0)
            done = section.last + 1 - part.hangs_from
            suits_ball[first:done] = typical > self.habits.narrow_stitches
        return PartAtWork(
            part=part,
            yarn=self.yarns[part.yarn],
            live=self.strands.live[part.rows],
            suits_ball=suits_ball & (self.table.room[part.rows] > 0),
            typical=_median(stitches),
            used_cm=self.used_cm[part.runs],
            row_of_run=row_of_run,
            tail_cm=self.tail_cm,
        )

    def take_own(self, at_work: PartAtWork, own: Mapping[tuple[str, str], str]) -> list[str]:
        """Hold a part as the knitter chose, if she did; returns notes."""
        part = at_work.part
        # A choice for one half goes before one for the whole strand.
        supply = own.get((part.label, part.name)) or own.get((part.label, PARTS[0]))
        if not supply:
            return []
        if supply not in SUPPLIES:
            raise PlanError(
                f'The supply chosen for {part.label} is "{supply}"; it is one of '
                f"{', '.join(SUPPLIES)}."
            )
        choice = Choice(supply, "your own choice", by_hand=True)
        refused = self._feed(at_work, choice) if supply == BALL else ""
        if part in self.stages or (refused and self._feed_joined(at_work, choice)):
            return []
        self._wind(at_work, choice)
        if not refused:
            return []
        return [f"You chose to feed {part.title} from the ball, but {refused}. It is kept."]

    def suggest(self, at_work: PartAtWork) -> None:
        """Hold a part in the first of the ways it wishes for that can be had."""
        part, obstacle = at_work.part, ""
        wishes = self._wishes(at_work)
        for wish in wishes:
            refused = self._feed(at_work, wish)
            if not refused:
                return
            # What stood against the first, the best of them, is what the knitter wants to know.
            obstacle = obstacle or refused
        supply, why = at_work.wound_from(part.hangs_from, self.habits)
        if obstacle:
            why = f"{why}; not from the ball: {obstacle}"
        wound = Choice(supply, why)
        joins = self._pieces_if_wound(at_work, supply) - 1
        if joins:
            joined = Choice(BALL, "too long to wind, and for one ball")
            if self._feed_joined(at_work, joined, most_joins=joins):
                return
        self._wind(at_work, wound)
        if not at_work.yarn.may_be_cut:
            self.cut_after_all.setdefault((part.yarn, obstacle), []).append(part.title)

    def _wishes(self, at_work: PartAtWork) -> list[Choice]:
        """The ways with a ball that a part wishes for, best first; none if it is better wound."""
        part, habits = at_work.part, self.habits
        if not at_work.yarn.may_be_cut:
            return [Choice(BALL, f"{part.yarn} must not be cut")]
        not_rewound = "you would rather not rewind"
        few_and_wide = "few hang here and it is wide: nothing to wind"
        short = part.wound_cm <= habits.loose_up_to_cm and suits(at_work.yarn, LOOSE)
        brief = len(at_work.live) < SHORTEST_SECTION and at_work.live.min() > 1
        # For a few short rows beside others nobody lays out a ball.
        if short and brief:
            return []
        suited = len(at_work.live)
        if not at_work.suits_ball.all():
            suited = int(at_work.suits_ball.argmin())
        rest = len(at_work.live) - suited
        too_long = not self._fits_from(at_work, part.hangs_from)
        wishes = []
        # For a few rows more nobody winds.
        if rest < (SHORTEST_SECTION if suited else 1):
            wishes.append(Choice(BALL, few_and_wide))
        row = part.hangs_from + suited
        # Nor is a ball laid out for a few rows if it has to be wound all the same.
        worth_it = suited >= SHORTEST_SECTION or (suited and too_long)
        if worth_it and rest and self._fits_from(at_work, row):
            supply, why = at_work.wound_from(row, habits)
            why = f"{few_and_wide}; then a {supply}: {why}"
            if supply == BOBBIN and not habits.rewinding:
                wishes.append(Choice(BALL, not_rewound))
            wishes.append(Choice(BALL, why, until=row, then=supply))
        if wishes:
            return wishes
        supply, _ = at_work.wound_from(part.hangs_from, habits)
        if too_long:
            all_along = Choice(BALL, "too long to wind: a ball needs no refill")
            # As soon as what is left can be wound the ball is free for others.
            rows = range(part.hangs_from + 1, part.last_row + 1)
            first = next((row for row in rows if self._fits_from(at_work, row)), None)
            if first is None or part.last_row + 1 - first < SHORTEST_SECTION:
                return [all_along]
            supply, why = at_work.wound_from(first, habits)
            return [
                all_along,
                Choice(BALL, f"too long to wind; then a {supply}: {why}", until=first, then=supply),
            ]
        if supply == BOBBIN and not habits.rewinding:
            return [Choice(BALL, not_rewound)]
        return []

    def _fits_from(self, at_work: PartAtWork, row: int) -> bool:
        """Whether all that a part takes from a row on can be wound in one piece."""
        place = row - at_work.part.hangs_from
        length_cm = at_work.left_cm[place] if place else at_work.part.wound_cm
        return bool(length_cm <= self.habits.bobbin_up_to_cm + SLACK_CM)

    def _feeding(self, at_work: PartAtWork, until: int | None) -> Feeding:
        part = at_work.part
        # The halves of a strand are one length: the half that is wound comes off the ball of the
        # other.
        pieces_cm = [half.wound_cm for half in self.of_strand[part.label]]
        last = part.last_row
        if until is not None:
            # Both what is fed and what is measured off later are rounded up.
            rest_cm = float(at_work.left_cm[until - part.hangs_from])
            pieces_cm += [part.wound_cm - rest_cm, rest_cm]
            pieces_cm.remove(part.wound_cm)
            last = until - 1
        length_cm = sum(map(self._measured, pieces_cm))
        return Feeding(part.number, part.yarn, part.hangs_from, last, length_cm)

    def _measured(self, length_cm: float) -> float:
        return in_whole_steps(length_cm, self.project.units)

    def _feed(self, at_work: PartAtWork, choice: Choice) -> str:
        """Feed a part from a ball, if there is one; why not, "" if it is fed."""
        part = at_work.part
        for half in self.of_strand[part.label]:
            if half is not part and half in self.stages and self.stages[half][0].supply == BALL:
                return "its other half stays on the ball"
        wish = self._feeding(at_work, choice.until)
        refused = self.table.feed(wish, anyway=choice.by_hand)
        if refused:
            return refused
        rest_cm = 0.0
        stages = []
        if choice.until is not None:
            rest_cm = float(at_work.left_cm[choice.until - part.hangs_from])
            stages = [Stage(choice.then, choice.until, rest_cm)]
        on_ball = Stage(BALL, part.hangs_from, part.wound_cm - rest_cm)
        self.choices[part], self.stages[part] = choice, [on_ball, *stages]
        return ""

    def _feed_joined(
        self, at_work: PartAtWork, choice: Choice, *, most_joins: float = np.inf
    ) -> bool:
        """Feed a part from one ball after another; whether that can be done."""
        # A half comes off the ball of the other, so it cannot go on from ball to ball on its own.
        part = at_work.part
        if not part.is_whole:
            return False
        # The tails are rounded up too, so that the last ball gives no more than it has.
        lengths_cm = self.table.feed_joined(
            self._feeding(at_work, None),
            self._measured(2 * self.tail_cm) / 2,
            most_joins=most_joins,
            runs_out=lambda lengths_cm: self._runs_out_in(part, lengths_cm),
        )
        if lengths_cm:
            *before_last, _ = lengths_cm
            all_cm = part.wound_cm + 2 * self.tail_cm * len(before_last)
            self._join(at_work, choice, [*before_last, all_cm - sum(before_last)])
        return bool(lengths_cm)

    def _pieces_if_wound(self, at_work: PartAtWork, supply: str) -> int:
        # Neither of these has a refill: where the knitter chose it, it is one piece, however long.
        if supply in (LOOSE, BUTTERFLY):
            return 1
        most_cm = fullest_cm(self.habits, supply)
        if supply == BALL:
            most_cm = self._holds_cm(at_work, BALL)
        return pieces_needed(at_work.part.wound_cm, most_cm, self.tail_cm)

    def _holds_cm(self, at_work: PartAtWork, supply: str) -> float:
        # A ball that nobody has is as long as a whole one of its yarn.
        if supply == BALL:
            return max(self.table.balls[at_work.part.yarn])
        return capacity_cm(self.habits, supply)

    def _wind(self, at_work: PartAtWork, choice: Choice) -> None:
        """Hold a part in as many pieces as it takes, the last with what is left."""
        pieces = self._pieces_if_wound(at_work, choice.supply)
        holds_cm = self._holds_cm(at_work, choice.supply)
        # Each join adds two tails.
        all_cm = at_work.part.wound_cm + 2 * self.tail_cm * (pieces - 1)
        # Where that leaves too much for the last, all are filled alike.
        before_last = [max(holds_cm, all_cm / pieces)] * (pieces - 1)
        self._join(at_work, choice, [*before_last, all_cm - sum(before_last)])

    def _join(self, at_work: PartAtWork, choice: Choice, lengths_cm: Sequence[float]) -> None:
        """Hold a part in pieces of these lengths, each joined where the one before runs out."""
        part = at_work.part
        stages = [Stage(choice.supply, part.hangs_from, lengths_cm[0])]
        rows = self._runs_out_in(part, lengths_cm[:-1])
        for row, length_cm in zip(rows, lengths_cm[1:], strict=True):
            stages.append(Stage(choice.supply, row, length_cm, joined=True))
        self.choices[part], self.stages[part] = choice, stages

    def _runs_out_in(self, part: Part, lengths_cm: Sequence[float]) -> list[int]:
        """The worked rows, from 0, in which each of these pieces runs out at the planned length."""
        if not lengths_cm:
            return []
        works_cm = np.array([usable_cm(length, self.tail_cm) for length in lengths_cm])
        # A half has no tail where it begins, for there it goes on as the other half: so its first
        # piece works one tail more than the others, which have a tail at either end.
        more_of_first = 0 if part.is_whole else self.tail_cm
        runs_out_at = np.cumsum(works_cm) + more_of_first
        # "right": a piece that lasts just to the end of a run is out in the next one. Rounding must
        # not take the last one beyond the last run.
        run = np.searchsorted(np.cumsum(self.used_cm[part.runs]), runs_out_at, "right")
        runs = part.runs[np.minimum(run, len(part.runs) - 1)]
        rows: list[int] = self.strands.runs.row[runs].tolist()
        return rows

    def hold(self, at_work: PartAtWork) -> Held:
        """How a part is held in the end, with the balls that feed it and what speaks against it."""
        part = at_work.part
        choice, stages = self.choices[part], self.stages[part]
        balls = self.table.balls_of(part.yarn, part.number)
        with_balls = []
        for number, stage in enumerate(stages):
            # What is wound comes from no ball any more; a ball that nobody has, has no number.
            is_fed = stage.supply == BALL and number < len(balls)
            with_balls.append(replace(stage, ball=balls[number] if is_fed else 0))
        held = Held(
            part=part,
            stages=tuple(with_balls),
            why=choice.why,
            by_hand=choice.by_hand,
            spliced=at_work.yarn.can_be_spliced,
            typical=at_work.typical,
            live=at_work.busiest,
        )
        reasons = against(held, at_work.yarn, self.project)
        return replace(held, against=reasons) if reasons else held


def _median(stitches: np.ndarray) -> float:
    # For a few numbers Python is far quicker than NumPy.
    return float(median(stitches.tolist()))
