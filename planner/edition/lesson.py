"""The lesson: a practice piece for a class, planned once for each way of holding yarn."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from planner.choices import SHORTEST_BUTTERFLY_CM, choice_at
from planner.edition.amounts import Material, materials_of
from planner.edition.lengths import InStitches, lengths_in_stitches
from planner.edition.practice import TECHNIQUES, practice_piece
from planner.errors import PlanError
from planner.piece import BALL, BUTTERFLY, SUPPLIES, Project
from planner.plan import Plan, make_plan
from planner.supplies import Held

MOST_STUDENTS = 1000
TOO_SHORT = "too short to go round the fingers"
BOTH_HALVES = "a ball cannot feed both halves: one is measured off first"
ANOTHER_BALL = "needs another ball of {} in the same rows"


@dataclass(frozen=True)
class Tried:
    """A way of holding yarn, tried with every length of the practice piece.

    `to_wind` is how many pieces it takes; `bad` the lengths for which it is bad, and why.
    """

    supply: str
    to_wind: int
    longest_cm: float
    joins: int
    bad: tuple[tuple[str, str], ...]


@dataclass(frozen=True, eq=False)
class Lesson:
    """A class's practice piece: its plan with a ball of each yarn at hand, and the ways tried."""

    plan: Plan
    techniques: tuple[str, ...]
    students: int
    materials: tuple[Material, ...]
    lengths: tuple[InStitches, ...]
    ways: tuple[Tried, ...]


def make_lesson(
    like: Project, *, techniques: Collection[str] = TECHNIQUES, students: int = 1
) -> Lesson:
    """The lesson of these techniques for so many students, in the gauge of the project `like`."""
    # A slip of the keys would ask the shop for all its yarn.
    if not 1 <= students <= MOST_STUDENTS:
        raise PlanError(f"A class of {students:,} students: give 1 to {MOST_STUDENTS:,}.")
    # A ball of each yarn at hand, else no length could be fed from one, and that way of holding
    # yarn is to be tried as well.
    to_buy = practice_piece(like, techniques)
    yarns = {letter: replace(yarn, balls_in_hand=1) for letter, yarn in to_buy.yarns.items()}
    project = replace(to_buy, yarns=yarns)
    plan = make_plan(project)
    lengths = lengths_in_stitches(plan)
    return Lesson(
        plan=plan,
        techniques=tuple(each for each in TECHNIQUES if each in techniques),
        students=students,
        materials=materials_of(plan, lengths),
        lengths=lengths,
        ways=tuple(_tried(plan, supply) for supply in SUPPLIES),
    )


def _tried(plan: Plan, supply: str) -> Tried:
    """The plan with every length held in one way, by own choice."""
    traced = plan.traced
    # By own choice, for left to itself the plan never holds a length in a way that is bad for it,
    # and a class is to feel why.
    choices = [choice_at(traced, "supply", run, supply) for run in traced.first_run.tolist()]
    held = make_plan(replace(plan.project, choices=tuple(choices))).held
    bad = []
    for each in held:
        reason = _against(each, supply)
        if reason:
            bad.append((each.part.title, reason))
    return Tried(
        supply=supply,
        to_wind=sum(1 + each.refills for each in held),
        longest_cm=max(each.part.wound_cm for each in held),
        joins=sum(each.refills for each in held),
        bad=tuple(bad),
    )


def _against(held: Held, supply: str) -> str:
    """What speaks against holding a part in a way; "" where nothing does."""
    part = held.part
    if supply == BALL and not any(stage.ball for stage in held.stages):
        return ANOTHER_BALL.format(part.yarn) if part.is_whole else BOTH_HALVES
    # The plan takes any own choice as it is; that it cannot be done is said only here.
    if supply == BUTTERFLY and part.wound_cm < SHORTEST_BUTTERFLY_CM:
        return TOO_SHORT
    return held.against
