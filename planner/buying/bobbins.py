"""Bobbins: how few will do, when each is wound, what feeds two at a time, and what left-overs save.

Pieces that hang in the same row need a bobbin each. Handed out in the order of need, exactly as
many bobbins are needed as pieces hang at one time. A stop to wind is put off until a piece is
wanted that is not wound, and then every empty bobbin is wound: no other way takes fewer stops.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import pandas as pd

from planner.errors import PlanError
from planner.multiplier import Multiplier
from planner.piece import BALL, BOBBIN, SUPPLIES
from planner.plan import Plan
from planner.supplies import Held, Piece, capacity_cm, hanging_pieces, pieces_needed
from planner.units import counted, shown

SURE = 0.75  # judgement: a left-over is counted on if it is long enough three times in four


def pieces_of(plan: Plan) -> list[Piece]:
    """Every piece of a plan as it hangs, in the order of need (see `hanging_pieces`)."""
    pieces = hanging_pieces(plan.traced, plan.held, plan.project.allow)
    return sorted(pieces, key=lambda piece: (piece.begins, piece.order))


def _of_kinds(plan: Plan, kinds: Sequence[str]) -> list[Piece]:
    return [piece for piece in pieces_of(plan) if piece.supply in kinds]


def most_at_once(pieces: Sequence[Piece]) -> int:
    """The most of these pieces that hang at one time."""
    begun = sorted(pieces, key=lambda piece: piece.begins)
    most = 0
    for number, piece in enumerate(begun):
        still_hanging = sum(other.done > piece.begins for other in begun[:number])
        most = max(most, 1 + still_hanging)
    return most


@dataclass(frozen=True)
class OnBobbin:
    """A piece, the bobbin that carries it (from 1), and when that is wound.

    `stop` is 0 where it is wound before the start, else the row, from 0, before which the knitter
    stops to wind (and a half: within the row).
    """

    piece: Piece
    bobbin: int
    stop: float

    @property
    def when(self) -> str:
        return _when(self.stop)


def _when(stop: float) -> str:
    """When one stops to wind, in words."""
    if not stop:
        return "before you start"
    row = math.floor(stop) + 1
    return f"before row {row}" if stop == int(stop) else f"in row {row}"


def hand_out(pieces: Sequence[Piece], owned: int) -> list[OnBobbin]:
    """The pieces, in the order of need, on so many bobbins, with as few stops to wind as can be.

    A bobbin goes on with its own strand where it can, else with its own yarn. Raises PlanError
    where more hang at once.
    """
    at_once = most_at_once(pieces)
    if owned < at_once:
        raise PlanError(
            f"{counted(owned, 'bobbin')} will not do: {at_once} hang at once. Own at least so many."
        )
    done = [0.0] * owned
    carries = [("", "")] * owned  # the yarn and the strand on each
    handed_out = []
    stop = 0.0
    for piece in sorted(pieces, key=lambda piece: piece.begins):
        # At a stop every empty bobbin could be wound: another is made only when none is left.
        if not any(free_from <= stop for free_from in done):
            stop = piece.begins
        empty = [bobbin for bobbin in range(owned) if done[bobbin] <= stop]

        def least_change(bobbin: int, piece: Piece = piece) -> tuple[bool, bool, int]:
            yarn, strand = carries[bobbin]
            return strand != piece.strand, yarn != piece.yarn, bobbin

        bobbin = min(empty, key=least_change)
        done[bobbin] = piece.done
        carries[bobbin] = (piece.yarn, piece.strand)
        handed_out.append(OnBobbin(piece, bobbin + 1, stop))
    return handed_out


def bobbin_table(
    plan: Plan, *, kinds: tuple[str, ...] = (BOBBIN,), owned: int | None = None
) -> pd.DataFrame:
    """One row a piece, by bobbin: what each carries, in which rows, when it is wound.

    As few bobbins as can be unless `owned` says how many there are. With `kinds` butterflies may be
    held on bobbins too.
    """
    pieces = _of_kinds(plan, kinds)
    handed_out = hand_out(pieces, most_at_once(pieces) if owned is None else owned)
    handed_out.sort(key=lambda on: (on.bobbin, on.piece.begins))
    columns = ["bobbin", "piece", "yarn", "length_cm", "from_row", "to_row", "wind"]
    lines = [
        (
            on.bobbin,
            on.piece.label,
            on.piece.yarn,
            on.piece.length_cm,
            on.piece.from_row,
            on.piece.to_row,
            on.when,
        )
        for on in handed_out
    ]
    return shown(pd.DataFrame(lines, columns=columns), plan.project.units)


def winding_stops(plan: Plan, *, kinds: tuple[str, ...] = (BOBBIN,)) -> pd.DataFrame:
    """One row a number of bobbins: the stops to wind that they take, and when they come.

    From the fewest bobbins that will do to one for each piece.
    """
    pieces = _of_kinds(plan, kinds)
    lines = []
    for owned in range(max(1, most_at_once(pieces)), len(pieces) + 1):
        stops = [on.stop for on in hand_out(pieces, owned) if on.stop]
        different = list(dict.fromkeys(stops))
        when = ", ".join(map(_when, different)) or "all before you start"
        lines.append((owned, len(different), when))
    return pd.DataFrame(lines, columns=["bobbins", "stops_to_wind", "when"])


@dataclass
class BothEnds:
    """A ball that may feed two strands at a time: what hangs on its outside and its inside end."""

    outside: list[Piece] = field(default_factory=list)
    inside: list[Piece] = field(default_factory=list)

    @property
    def ends(self) -> dict[str, list[Piece]]:
        return {"outside": self.outside, "inside": self.inside}

    def fed_cm(self) -> float:
        """All that it feeds, cm."""
        return sum(piece.length_cm for piece in (*self.outside, *self.inside))

    def free_end(self, piece: Piece) -> list[Piece] | None:
        """An end on which nothing else hangs while this piece does; None if there is none."""
        for end in (self.outside, self.inside):
            if all(p.done <= piece.begins or piece.done <= p.begins for p in end):
                return end
        return None


def both_ends(plan: Plan) -> pd.DataFrame:
    """One row a strand fed from a ball that feeds two at a time, and what that saves.

    One strand comes from the outside end and one from the inside. The second end also takes strands
    that would be wound on bobbins, longest first, while the ball lasts.
    """
    project = plan.project
    pieces = pieces_of(plan)
    refilled = {piece.strand for piece in pieces if piece.refill}  # no ball to share: it runs out
    by_yarn: dict[str, list[Piece]] = {}
    for piece in pieces:
        if piece.strand not in refilled:
            by_yarn.setdefault(piece.yarn, []).append(piece)

    lines = []
    for letter, of_yarn in by_yarn.items():
        holds_cm = capacity_cm(
            project.habits, BALL, project.all_yarns[letter], project.allow.label_error
        )
        for number, ball in enumerate(_share_ends(of_yarn, holds_cm), start=1):
            if not ball.inside:
                continue  # one end alone saves nothing
            for end, on_end in ball.ends.items():
                for piece in sorted(on_end, key=lambda piece: piece.begins):
                    saves = _what_it_saves(piece, end)
                    span = (piece.length_cm, piece.from_row, piece.to_row)
                    lines.append((letter, number, end, piece.label, *span, saves))
    columns = ["yarn", "ball", "end", "strand", "length_cm", "from_row", "to_row", "saves"]
    return shown(pd.DataFrame(lines, columns=columns), project.units)


def _share_ends(pieces: Sequence[Piece], holds_cm: float) -> list[BothEnds]:
    """The balls of one yarn with what hangs on their ends; each holds so much."""
    on_balls = [piece for piece in pieces if piece.supply == BALL]
    on_bobbins = [piece for piece in pieces if piece.supply == BOBBIN]
    on_bobbins.sort(key=lambda piece: -piece.length_cm)
    balls: list[BothEnds] = []
    for piece in (*on_balls, *on_bobbins):
        place = None
        for ball in balls:
            if ball.fed_cm() + piece.length_cm <= holds_cm:
                place = ball.free_end(piece)
            if place is not None:
                break
        if place is None and piece.supply == BALL:
            balls.append(BothEnds())
            place = balls[-1].outside
        if place is not None:
            place.append(piece)
    return balls


def _what_it_saves(piece: Piece, end: str) -> str:
    if piece.supply == BOBBIN:
        return "winding a bobbin"
    return "a ball on the table" if end == "inside" else ""


def splices(plan: Plan) -> pd.DataFrame:
    """One row a yarn and way of holding all its strands that takes joins: their ends, and savings.

    A yarn that felts is spliced and leaves no ends; any other join leaves two. Each join takes two
    tails of yarn.
    """
    project, allow = plan.project, plan.project.allow
    lines = []
    for letter in dict.fromkeys(part.yarn for part in plan.parts):
        yarn = project.all_yarns[letter]
        planned = sum(each.refills for each in plan.held if each.part.yarn == letter)
        joins = {"as planned": planned}
        for kind in SUPPLIES:
            capacity = capacity_cm(project.habits, kind, yarn, allow.label_error)
            lengths = [part.wound_cm for part in plan.parts if part.yarn == letter]
            pieces = [pieces_needed(length, capacity, allow.tail_cm) for length in lengths]
            joins[kind] = sum(pieces) - len(lengths)
        for held, number in joins.items():
            if not number and held != "as planned":
                continue
            ends = 2 * number
            lines.append(
                {
                    "yarn": letter,
                    "felts": "yes" if yarn.feltable else "no",
                    "held": held,
                    "joins": number,
                    "ends_to_sew_in": 0 if yarn.feltable else ends,
                    "ends_saved_by_splicing": ends if yarn.feltable else 0,
                    "more_yarn_cm": ends * allow.tail_cm,
                }
            )
    return shown(pd.DataFrame(lines), project.units)


@dataclass
class LeftOver:
    """What is left over of a wound part that is done with, and how much of it is given away, cm.

    `in_stitches_cm` is what was wound for its stitches, `at_least_cm` what is left of that with the
    chance wanted.
    """

    source: Held
    in_stitches_cm: float
    at_least_cm: float
    given_cm: float = 0.0

    def chance(self, multiplier: Multiplier) -> int:
        """The chance in percent that it is long enough for all that it is given to."""
        for_stitches_cm = self.in_stitches_cm - self.given_cm
        width_cm = self.source.part.width_cm
        return round(100 - 100 * float(multiplier.chance_over(width_cm, for_stitches_cm)[0]))


def reuse_leftovers(plan: Plan, sure: float = SURE) -> pd.DataFrame:
    """One row a strand that need not be wound: what is left over of an earlier one will do.

    What is left over is what was wound less what the stitches take, tails apart. It is not known
    before, so it is counted at its lower end, which it reaches with the chance `sure`;
    `chance_percent` is the chance that it is long enough for all it is given to, margins included.
    In the order of need each strand takes the shortest left-over of its yarn that will do.
    """
    lines = []
    for letter in dict.fromkeys(part.yarn for part in plan.parts):
        multiplier = plan.multipliers[letter]
        left_overs = _left_overs(plan, letter, sure)
        for strand, halves in _wound_strands(plan, letter).items():
            needs_cm = sum(held.part.wound_cm for held in halves)
            begins = min(held.part.first_row for held in halves)
            fits = [
                left
                for left in left_overs
                if left.source.part.last_row < begins
                and left.at_least_cm - left.given_cm >= needs_cm
            ]
            if not fits:
                continue
            left = min(fits, key=lambda left: left.at_least_cm - left.given_cm)
            left.given_cm += needs_cm
            part = left.source.part
            lines.append(
                {
                    "yarn": letter,
                    "strand": strand,
                    "from_row": begins + 1,
                    "needs_cm": needs_cm,
                    "left_over_from": part.title,
                    "done_in_row": part.last_row + 1,
                    "likely_left_cm": part.margin_cm,
                    "at_least_cm": left.at_least_cm,
                    "chance_percent": left.chance(multiplier),
                }
            )
    columns = ["yarn", "strand", "from_row", "needs_cm", "left_over_from", "done_in_row"]
    columns += ["likely_left_cm", "at_least_cm", "chance_percent"]
    return shown(pd.DataFrame(lines, columns=columns), plan.project.units)


def _left_overs(plan: Plan, letter: str, sure: float) -> list[LeftOver]:
    """What is left over of each wound part of a yarn."""
    wound = [held for held in plan.held if held.part.yarn == letter and held.supply != BALL]
    multiplier = plan.multipliers[letter]
    left_overs = []
    for held in wound:
        in_stitches_cm = held.part.stitches_cm
        used_cm = float(multiplier.length_at(held.part.width_cm, sure)[0])
        left_overs.append(LeftOver(held, in_stitches_cm, in_stitches_cm - used_cm))
    return left_overs


def _wound_strands(plan: Plan, letter: str) -> dict[str, list[Held]]:
    """The strands of a yarn that are wound whole, with their parts, in the order of first need."""
    strands: dict[str, list[Held]] = {}
    for held in plan.held:
        if held.part.yarn == letter:
            strands.setdefault(held.part.label, []).append(held)
    return {
        strand: halves
        for strand, halves in strands.items()
        if all(half.supply != BALL for half in halves)
    }
