"""Bobbins: how few will do, when each is wound, what feeds two at a time, and what left-overs save.

Pieces that hang in the same row need a bobbin each. Handed out in the order of need, exactly as
many bobbins are needed as pieces hang at one time. A stop to wind is put off until a piece is
wanted that is not wound, and then every empty bobbin is wound: no other way takes fewer stops.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import pandas as pd

from planner.errors import PlanError
from planner.multiplier import Multiplier
from planner.piece import BALL, BOBBIN
from planner.plan import Plan
from planner.supplies import Held, Piece, fullest_cm, hanging_pieces, pieces_needed
from planner.units import counted, rounded_up, shown, shown_totals, whole_percent

SURE = 0.75  # judgement: a left-over is counted on if it is long enough three times in four
AS_PLANNED = "as planned"

Pieces = Sequence[Piece]
OnEnd = list[Piece]  # what hangs on one end of a ball
Kinds = tuple[str, ...]  # ways of holding a strand
Line = dict[str, object]  # of a table, by its columns


def pieces_of(plan: Plan) -> list[Piece]:
    """Every piece of a plan as it hangs, in the order of need (see `hanging_pieces`)."""
    pieces = hanging_pieces(plan.traced, plan.held)
    # Both halves of a strand begun from its middle hang before the second is worked, so the row in
    # which a piece begins to hang comes first.
    return sorted(pieces, key=lambda piece: (piece.begins, piece.order))


def _of_kinds(plan: Plan, kinds: Kinds) -> list[Piece]:
    """The pieces of a plan that are held in one of these ways, in the order of need."""
    return [piece for piece in pieces_of(plan) if piece.supply in kinds]


def held_of(plan: Plan, letter: str) -> list[Held]:
    """How each part of a yarn is held, in the order of first need."""
    return [held for held in plan.held if held.part.yarn == letter]


def _as_begun(pieces: Pieces) -> list[Piece]:
    """The same pieces in the order in which they begin to hang."""
    return sorted(pieces, key=lambda piece: piece.begins)


def most_at_once(pieces: Pieces) -> int:
    """The most of these pieces that hang at one time."""
    in_order = _as_begun(pieces)
    most = 0
    # A new most is reached only when a piece begins: so it is enough to look then.
    for number, piece in enumerate(in_order):
        begun_before = in_order[:number]
        still_hanging = [before for before in begun_before if before.done > piece.begins]
        most = max(most, 1 + len(still_hanging))
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
        """When it is wound, in words."""
        if not self.stop:
            return "before you start"
        # The knitter counts rows from 1. A refill is due somewhere within its row.
        row_from_0 = math.floor(self.stop)
        word = "before" if self.stop == row_from_0 else "in"
        return f"{word} row {row_from_0 + 1}"


@dataclass
class _Bobbin:
    """A bobbin while it is handed out: what it carried last, and from when on it is empty."""

    number: int
    empty_from: float = 0.0
    yarn: str = ""
    strand: str = ""

    def take(self, piece: Piece) -> None:
        """Note that it carries this piece until the piece is done."""
        self.empty_from = piece.done
        self.yarn = piece.yarn
        self.strand = piece.strand

    def change_for(self, piece: Piece) -> tuple[bool, bool, int]:
        """How much changes on it if it takes this piece, to be compared: the less, the better."""
        # False comes before True: best if it goes on with its strand, second best with its yarn.
        is_new_strand = self.strand != piece.strand
        is_new_yarn = self.yarn != piece.yarn
        return is_new_strand, is_new_yarn, self.number


def hand_out(pieces: Pieces, owned: int) -> list[OnBobbin]:
    """The pieces, in the order of need, on so many bobbins, with as few stops to wind as can be.

    A bobbin goes on with its own strand where it can, else with its own yarn. Raises PlanError
    where more hang at once.
    """
    at_once = most_at_once(pieces)
    if owned < at_once:
        raise PlanError(
            f"{counted(owned, 'bobbin')} will not do: {at_once} hang at once. Own at least so many."
        )
    bobbins = [_Bobbin(number) for number in range(1, owned + 1)]
    handed_out = []
    stop = 0.0
    for piece in _as_begun(pieces):
        # While a bobbin is left that was empty at the last stop, it was wound then. Else another
        # stop is needed: as late as can be, so that most bobbins are empty by then.
        first_empty_from = min(bobbin.empty_from for bobbin in bobbins)
        # What is measured off the ball in mid-strand is wound then: the knitter stops all the same.
        if first_empty_from > stop or piece.before_row is not None:
            stop = piece.begins
        empty = [bobbin for bobbin in bobbins if bobbin.empty_from <= stop]
        bobbin = min(empty, key=lambda bobbin: bobbin.change_for(piece))
        bobbin.take(piece)
        handed_out.append(OnBobbin(piece, bobbin.number, stop))
    return handed_out


def bobbin_table(plan: Plan, *, kinds: Kinds = (BOBBIN,), owned: int | None = None) -> pd.DataFrame:
    """One row a piece, by bobbin: what each carries, in which rows, when it is wound.

    As few bobbins as can be unless `owned` says how many there are. With `kinds` butterflies may be
    held on bobbins too.
    """
    pieces = _of_kinds(plan, kinds)
    if owned is None:
        owned = most_at_once(pieces)
    handed_out = hand_out(pieces, owned)
    # One reads what becomes of each bobbin from the first row to the last.
    handed_out.sort(key=lambda on: (on.bobbin, on.piece.begins))
    lines: list[Line] = []
    units = plan.project.units
    for on in handed_out:
        piece = on.piece
        lines.append(
            {
                "bobbin": on.bobbin,
                "piece": piece.label,
                "yarn": piece.yarn,
                "length_cm": piece.to_measure_cm(units),
                "from_row": piece.from_row,
                "to_row": piece.to_row,
                "wind": on.when,
            }
        )
    # Named again, so that a plan without such pieces has the same columns.
    columns = ["bobbin", "piece", "yarn", "length_cm", "from_row", "to_row", "wind"]
    table = pd.DataFrame(lines, columns=columns)
    return shown(table, units)


def winding_stops(plan: Plan, *, kinds: Kinds = (BOBBIN,)) -> pd.DataFrame:
    """One row a number of bobbins: the stops to wind that they take, and when they come.

    From the fewest bobbins that will do to one for each piece.
    """
    pieces = _of_kinds(plan, kinds)
    fewest = max(1, most_at_once(pieces))
    lines = []
    # With a bobbin for each piece all are wound at the start: more are of no use.
    for owned in range(fewest, len(pieces) + 1):
        handed_out = hand_out(pieces, owned)
        # Several bobbins are wound at one stop; what is wound before the start is no stop.
        stops: dict[float, str] = {}
        for on in handed_out:
            if on.stop:
                stops[on.stop] = on.when
        when = ", ".join(stops.values()) or "all before you start"
        lines.append((owned, len(stops), when))
    return pd.DataFrame(lines, columns=["bobbins", "stops_to_wind", "when"])


@dataclass
class BothEnds:
    """A ball that may feed two strands at a time: what hangs on its outside and its inside end.

    `number` counts the balls of its yarn from 1, 0 if nobody has it; it holds `holds_cm`.
    """

    number: int
    holds_cm: float
    outside: OnEnd = field(default_factory=list)
    inside: OnEnd = field(default_factory=list)

    @property
    def ends(self) -> dict[str, OnEnd]:
        """What hangs on each of its ends, by the end's name."""
        return {"outside": self.outside, "inside": self.inside}

    def fed_cm(self, units: str) -> float:
        """All that it feeds as it is measured off, cm."""
        fed = self.outside + self.inside
        return sum(piece.to_measure_cm(units) for piece in fed)

    def free_end(self, piece: Piece) -> OnEnd | None:
        """An end on which nothing else hangs while this piece does; None if there is none."""
        for end in (self.outside, self.inside):
            if not any(_hang_together(piece, on_end) for on_end in end):
                return end
        return None


def _hang_together(first: Piece, second: Piece) -> bool:
    """Whether there is a row in which both pieces hang."""
    # `done` is the row after the last: one may begin where the other is done.
    later_begins = max(first.begins, second.begins)
    earlier_done = min(first.done, second.done)
    return later_begins < earlier_done


def both_ends(plan: Plan) -> pd.DataFrame:
    """One row a strand fed from a ball that feeds two at a time, and what that saves.

    One strand comes from the outside end and one from the inside. The second end also takes strands
    that would be wound on bobbins, longest first, while the ball lasts.
    """
    project = plan.project
    pieces = pieces_of(plan)
    # A strand that needs refills uses its ball up: it leaves nothing to share.
    refilled = {piece.strand for piece in pieces if piece.refill}
    # What is measured off in mid-strand comes off its own ball.
    later_cm = {piece.part: piece.length_cm for piece in pieces if piece.before_row is not None}
    by_yarn = defaultdict(list)
    for piece in pieces:
        if piece.strand not in refilled and piece.is_first:
            length_cm = piece.length_cm + later_cm.get(piece.part, 0)
            by_yarn[piece.yarn].append(replace(piece, length_cm=length_cm))

    lines = []
    for letter, of_yarn in by_yarn.items():
        for ball in _share_ends(of_yarn, plan.balls[letter], project.units):
            # One end alone saves nothing.
            if ball.inside:
                lines += _lines_of_ball(letter, ball, project.units)
    columns = ["yarn", "ball", "end", "strand", "length_cm", "from_row", "to_row", "saves"]
    table = pd.DataFrame(lines, columns=columns)
    return shown(table, project.units)


def _lines_of_ball(letter: str, ball: BothEnds, units: str) -> list[Line]:
    """What hangs on a ball, a line a piece: its outside end first, each in the order of need."""
    lines = []
    for end, on_end in ball.ends.items():
        for piece in _as_begun(on_end):
            lines.append(
                {
                    "yarn": letter,
                    "ball": ball.number,
                    "end": end,
                    "strand": piece.label,
                    "length_cm": piece.to_measure_cm(units),
                    "from_row": piece.from_row,
                    "to_row": piece.to_row,
                    "saves": _what_it_saves(piece, end),
                }
            )
    return lines


def _share_ends(pieces: Pieces, balls_cm: Sequence[float], units: str) -> list[BothEnds]:
    """The balls of one yarn, of these lengths, with what hangs on their ends."""
    unopened = dict(enumerate(balls_cm, start=1))
    on_balls = [piece for piece in pieces if piece.supply == BALL]
    on_bobbins = [piece for piece in pieces if piece.supply == BOBBIN]
    # The longest first: it saves the most winding.
    on_bobbins.sort(key=lambda piece: -piece.length_cm)
    balls: list[BothEnds] = []
    for piece in (*on_balls, *on_bobbins):
        end = _end_for(piece, balls, units)
        if end is not None:
            end.append(piece)
        elif piece.supply == BALL:
            # It must come from a ball; a bobbin that finds no end stays a bobbin. Where its own
            # feeds others already, it takes the longest that is left.
            number = piece.ball
            if number not in unopened:
                number = max(unopened, key=lambda ball: unopened[ball], default=0)
            holds_cm = unopened.pop(number, 0.0)
            balls.append(BothEnds(number, holds_cm, outside=[piece]))
    return sorted(balls, key=lambda ball: ball.number)


def _end_for(piece: Piece, balls: Sequence[BothEnds], units: str) -> OnEnd | None:
    """An end of a ball that can feed a piece too, of the first ball that has one; else None."""
    for ball in balls:
        with_piece_cm = ball.fed_cm(units) + piece.to_measure_cm(units)
        if with_piece_cm > ball.holds_cm:
            continue
        end = ball.free_end(piece)
        if end is not None:
            return end
    return None


def _what_it_saves(piece: Piece, end: str) -> str:
    """What is saved by feeding a piece from this end of a ball, in words."""
    if piece.supply == BOBBIN:
        return "winding a bobbin"
    return "a ball on the table" if end == "inside" else ""


def splices(plan: Plan) -> pd.DataFrame:
    """One row a yarn and way of holding all its strands that takes joins: their ends, and savings.

    A yarn that felts is spliced and leaves no ends; any other join leaves two. Each join takes two
    tails of yarn.
    """
    project = plan.project
    tail_cm = project.allow.tail_cm
    lines = []
    for letter in _letters(plan):
        # A splice takes as much yarn as a join with two tails; it only leaves no ends.
        felts = project.all_yarns[letter].can_be_spliced
        for held, joins in _joins_by_way(plan, letter).items():
            # The plan has its line even without joins: what saves is seen beside it.
            if not joins and held != AS_PLANNED:
                continue
            ends = 2 * joins
            lines.append(
                {
                    "yarn": letter,
                    "felts": "yes" if felts else "no",
                    "held": held,
                    "joins": joins,
                    "ends_to_sew_in": 0 if felts else ends,
                    "ends_saved_by_splicing": ends if felts else 0,
                    "more_yarn_cm": ends * tail_cm,
                }
            )
    table = pd.DataFrame(lines)
    return shown_totals(table, project.units)


def _letters(plan: Plan) -> list[str]:
    """The yarns of a plan, in the order of first need."""
    letters = [part.yarn for part in plan.parts]
    return list(dict.fromkeys(letters))


def _joins_by_way(plan: Plan, letter: str) -> dict[str, int]:
    """How many joins a yarn takes as planned, and with all its parts held in each of the ways."""
    habits, allow = plan.project.habits, plan.project.allow
    of_yarn = held_of(plan, letter)
    joins = {AS_PLANNED: sum(held.refills for held in of_yarn)}
    # Nothing else has a refill.
    for way in (BOBBIN, BALL):
        longest_cm = max(plan.balls[letter]) if way == BALL else fullest_cm(habits, way)
        joins[way] = 0
        for held in of_yarn:
            pieces = pieces_needed(held.part.wound_cm, longest_cm, allow.tail_cm)
            # Each piece after the first is joined to the one before it.
            joins[way] += pieces - 1
    return joins


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

    @property
    def still_to_give_cm(self) -> float:
        """What may be counted on beside all that it is given to."""
        return self.at_least_cm - self.given_cm

    def will_do(self, needs_cm: float, begins: int) -> bool:
        """Whether a strand that needs so much and begins in this row, from 0, can be of it."""
        is_done_with = self.source.part.last_row < begins
        return is_done_with and self.still_to_give_cm >= needs_cm

    def chance(self, multiplier: Multiplier) -> int:
        """The chance in percent that it is long enough for all that it is given to."""
        # It is, if its own stitches take no more than what is not given away.
        for_stitches_cm = self.in_stitches_cm - self.given_cm
        width_cm = self.source.part.width_cm
        chances_short = multiplier.chance_over(width_cm, for_stitches_cm)
        return whole_percent(1 - float(chances_short[0]), sure=not multiplier.spread)


def reuse_leftovers(plan: Plan, sure: float = SURE) -> pd.DataFrame:
    """One row a strand that need not be wound: what is left over of an earlier one will do.

    What is left over is what was wound less what the stitches take, tails apart. It is not known
    before, so it is counted at its lower end, which it reaches with the chance `sure`;
    `chance_percent` is the chance that it is long enough for all it is given to, margins included.
    In the order of need each strand takes the shortest left-over of its yarn that will do.
    """
    lines = []
    units = plan.project.units
    for letter in _letters(plan):
        multiplier = plan.multipliers[letter]
        left_overs = _left_overs(plan, letter, sure)
        for strand, halves in _wound_strands(plan, letter).items():
            # Its halves are one length, needed when the first of them is, and measured off apart.
            needs_cm = sum(rounded_up(held.part.wound_cm, units) for held in halves)
            begins = min(held.part.first_row for held in halves)
            fits = [left for left in left_overs if left.will_do(needs_cm, begins)]
            if not fits:
                continue
            # The shortest, so that the longer ones stay for strands that need them.
            left = min(fits, key=lambda left: left.still_to_give_cm)
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
    table = pd.DataFrame(lines, columns=columns)
    return shown(table, units)


def _left_overs(plan: Plan, letter: str, sure: float) -> list[LeftOver]:
    """What is left over of each wound part of a yarn."""
    multiplier = plan.multipliers[letter]
    left_overs = []
    for held in held_of(plan, letter):
        part = held.part
        # What is left of a ball stays on the ball.
        if held.supply == BALL:
            continue
        used_cm = multiplier.length_at(part.width_cm, sure)[0]
        left_over = LeftOver(
            source=held,
            in_stitches_cm=part.stitches_cm,
            at_least_cm=part.stitches_cm - float(used_cm),
        )
        left_overs.append(left_over)
    return left_overs


def _wound_strands(plan: Plan, letter: str) -> dict[str, list[Held]]:
    """The strands of a yarn that are wound whole, with their parts, in the order of first need."""
    strands = defaultdict(list)
    for held in held_of(plan, letter):
        strands[held.part.label].append(held)
    # A strand of which one half comes from the ball is not wound: it needs no left-over.
    wound = {}
    for strand, halves in strands.items():
        if all(half.supply != BALL for half in halves):
            wound[strand] = halves
    return wound
