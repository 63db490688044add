"""A sitting at the needles: where to stop, and what has to be wound and laid out until then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from planner.cards import ready_before
from planner.piece import BALL, STOPPED, Entry, rows_worked, standing
from planner.plan import Plan
from planner.supplies import TO_EMBROIDER, Piece, balls_of_yarns, which_ball
from planner.units import show

CUT_OFF = ", cut off before its ball is in use"
GOOD_STOP = "A good row to stop after."  # on the card of such a row
A_SITTING = 12  # rows that are planned for at once, if there is a good row to stop at in them


def good_rows_to_stop(plan: Plan, clear: Sequence[bool]) -> list[int]:
    """The rows, from 1, after which to stop: few lengths hang, and nothing starts next.

    Turned, a row of the wrong side is done by then. `clear` says of each row whether the balls'
    yarns lie clear after it.
    """
    loads, how = plan.loads, plan.traced.how
    # In a piece that is crowded all along, the quietest quarter of its rows must do.
    quietest = sorted(load.live for load in loads)[(len(loads) - 1) // 4]
    few = max(plan.project.habits.comfortable, quietest)
    starts_next = [load.starts for load in loads[1:]] + [0]
    stops = []
    for load, starts in zip(loads, starts_next, strict=True):
        is_back = not how.is_turned or not how.is_right_side(load.row)
        if is_back and clear[load.row] and load.live <= few and not starts:
            stops.append(load.row + 1)
    return stops


def end_of_sitting(plan: Plan, done: int, stops: Sequence[int]) -> int:
    """The row, from 1, after which a sitting ends that begins when so many rows are done.

    It is the last good row to stop at among the next twelve, or else the next one after those.
    """
    later = [row for row in stops if row > done]
    soon = [row for row in later if row <= done + A_SITTING]
    if soon:
        return soon[-1]
    return later[0] if later else plan.traced.runs.rows


class Sitting(NamedTuple):
    """A sitting: how many rows were done when it began, and the row, from 1, at which it ends."""

    begun: int
    until: int


def sitting_now(plan: Plan, log: Sequence[Entry], stops: Sequence[int]) -> Sitting:
    """The sitting that the rows worked lie in; its end stays while rows are marked.

    One follows the other: from the first row on, or from where the knitter noted that she stopped,
    to a planned end.
    """
    done, rows = rows_worked(log), plan.traced.runs.rows
    stopped = {each.rows_done for each in standing(log) if each.what == STOPPED}
    begun, until = 0, end_of_sitting(plan, 0, stops)
    for row in range(1, done + 1):
        if row == until or row in stopped:
            begun, until = row, end_of_sitting(plan, row, stops)
    return Sitting(begun, min(until, rows))


@dataclass(frozen=True)
class Wanted:
    """A length of yarn to have ready before a row, "12", or the "cast-on": its name, its yarn's
    letter, in words how it is held, and how long it is, "" where it is not measured off."""

    before: str
    what: str
    yarn: str
    held: str
    length: str


def is_begun(piece: Piece, done: int) -> bool:
    """Whether the row before which a piece of yarn must be ready is worked, so many being done."""
    return piece.supply != TO_EMBROIDER and piece.ready_row < done


def ready_for_sitting(plan: Plan, done: int, until: int) -> list[Wanted]:
    """What to wind, lay out, measure off and join in the rows after `done` up to `until`.

    Piece by piece, in the order of need.
    """
    units, yarns = plan.project.units, plan.project.all_yarns
    balls = balls_of_yarns(plan.pieces, yarns)
    wanted = []
    for piece in plan.pieces:
        row = piece.ready_row
        if piece.supply == TO_EMBROIDER or not done <= row < until:
            continue
        yarn = yarns[piece.yarn]
        length = show(piece.to_measure_cm(units), units) + piece.begun_in_words(units)
        how = piece.supply
        if piece.supply == BALL:
            # A ball is not measured off.
            how, length = which_ball(piece.ball, yarn, balls[piece.yarn]), ""
        elif piece.before_row is not None:
            how = f"{piece.supply}, off its ball then"
        elif piece.cut_before is not None:
            how = f"{piece.supply}{CUT_OFF}"
        elif piece.refill:
            how = f"{piece.supply}, to join in this row"
        before = ready_before(piece, plan.project.allow)
        wanted.append(Wanted(before, piece.title, piece.yarn, how, length))
    return wanted
