"""The winding list: what to wind, how long, in the order it is needed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
import pandas as pd

from planner.piece import BALL, LOOSE, PARTS, Habits, Yarn, part_title
from planner.strands import Strands
from planner.supplies.held import Held
from planner.supplies.tables import table_of
from planner.units import CM_PER, LISTED_UNIT, ROUNDING_ERROR, rounded_up, show

# What is embroidered afterwards has a length of its own, which hangs from no row.
TO_EMBROIDER = "to embroider"
NOT_WOUND = (BALL, LOOSE)  # these have no wraps
CAST_ON = "cast-on"  # the name of a length that is cast on with and then cut
# A refill is joined somewhere in the row in which the piece before it runs out: say, half-way.
IN_MID_ROW = 0.5


@dataclass(frozen=True)
class Piece:
    """One piece of yarn: a part of a strand, a whole length begun from its middle, or a refill.

    Or what is measured off a ball in mid-strand: then it is wound `before_row`, from 0. What is
    wanted while its ball is in use is cut off `cut_before` an earlier row, from 0.

    `part` is the title of its part, "W7" or "W7a". `row` is the worked row, from 0, in which it is
    first needed; `stitch` the stitch, from 1 at the right, where that is known, and
    `place` that place in words; `order` its place
    in the order of need. It hangs from `begins` to before `done`, worked rows from 0: a piece of
    rows 2 to 6 begins at 2 and is done at 7. `refill` numbers the refills of its part, 0 for the
    first piece; `ball` the balls of its yarn from 1, 0 if it is wound. `halves_cm` are the two
    halves of a length begun from its middle, the one that is worked first before the other.
    `rule_cm` is the rule of three, None for what is less than a part, and for what is embroidered.
    """

    label: str
    strand: str
    part: str
    yarn: str
    supply: str
    length_cm: float
    halves_cm: tuple[float, float] | None
    rule_cm: float | None
    row: int
    side: str
    stitch: int | None
    order: float
    refill: int
    begins: float
    done: float
    ball: int = 0
    before_row: int | None = None
    cut_before: int | None = None
    place: str = ""

    def to_measure_cm(self, units: str) -> float:
        """What to measure off, rounded up; of a length begun from its middle each half is.

        Rounded together, the halves might leave one of them short.
        """
        return sum(rounded_up(each, units) for each in self.halves_cm or (self.length_cm,))

    def begun_in_words(self, units: str) -> str:
        """How far from one end a length is begun, in words; "" if it is begun at its end."""
        if self.halves_cm is None:
            return ""
        begun = f", begun {show(rounded_up(self.halves_cm[0], units), units)} from one end"
        # What is wound up has no middle to begin from.
        return begun if self.supply == LOOSE else f"{begun}, each half wound from its end"

    @property
    def title(self) -> str:
        """Its label; of a length begun from its middle, which half is worked with which end."""
        if self.halves_cm is None:
            return self.label
        first, second = (part_title(self.strand, half) for half in PARTS[1:])
        return f"{self.label} ({first} with that end, {second} with the other)"

    @property
    def is_first(self) -> bool:
        """Whether its part begins with it."""
        return not self.refill and self.before_row is None

    @property
    def ready_row(self) -> int:
        """The worked row, from 0, before which the hand must have it: wound, cut off, laid out."""
        return self.row if self.cut_before is None else self.cut_before

    @property
    def from_row(self) -> int:
        """The first worked row, from 1, in which it hangs. What is embroidered hangs in none."""
        return int(self.begins) + 1

    @property
    def to_row(self) -> int:
        """The last worked row, from 1, in which it hangs."""
        # Done half-way through a row, it hangs in that row still.
        return math.ceil(self.done)


def hanging_pieces(strands: Strands, held: Sequence[Held]) -> list[Piece]:
    """Each piece as it hangs: each stage of each part, refills and what is measured off included.

    Both halves of a strand begun from its middle hang from its first row on.
    """
    pieces = []
    first_runs = strands.first_run.tolist()
    first_stitches = strands.stitch_number(strands.first_run).tolist()
    places = _places(strands)
    for each in held:
        strand = each.part.strand
        begun = (first_runs[strand], first_stitches[strand], places[strand])
        pieces += _pieces_of_part(strands, each, begun)
    return pieces


def _places(strands: Strands) -> list[str]:
    """Between which strands of its row each strand begins, or within which, in working order."""
    names = [strands.labels[strand] for strand in strands.of_run.tolist()]
    rows = strands.runs.row.tolist()
    places = []
    for run in strands.first_run.tolist():
        is_first = run == 0 or rows[run - 1] != rows[run]
        is_last = run + 1 == len(rows) or rows[run + 1] != rows[run]
        if is_first and is_last:
            places.append("the whole row")
        elif is_first:
            places.append(f"first, before {names[run + 1]}")
        elif is_last:
            places.append(f"last, after {names[run - 1]}")
        elif names[run - 1] == names[run + 1]:
            places.append(f"within {names[run - 1]}")
        else:
            places.append(f"between {names[run - 1]} and {names[run + 1]}")
    return places


def _pieces_of_part(strands: Strands, held: Held, begun: tuple[int, int, str]) -> list[Piece]:
    """The pieces in which a part is held, one after the other.

    `begun` are the run and the stitch with which its strand begins, and its place in words.
    """
    part, stages = held.part, held.stages
    # A half that is taken up later is wound off all the same when its strand is begun.
    begun_with, first_stitch, first_place = begun
    pieces = []
    for number, stage in enumerate(stages):
        row, label, begins = stage.row, part.title, float(stage.row)
        stitch, order, place = None, float(begun_with), ""
        if not number:
            stitch, place = first_stitch, first_place
        elif stage.joined:
            label = f"{part.title} refill {number}"
            begins += IN_MID_ROW
            # A refill comes after all that starts in its row.
            order = np.searchsorted(strands.runs.row, row + 1, "left") - 0.5
        else:
            label = f"{part.title} from row {row + 1}"
            order = np.searchsorted(strands.runs.row, row, "left") - 0.5
        pieces.append(
            Piece(
                label=label,
                strand=part.label,
                part=part.title,
                yarn=part.yarn,
                supply=stage.supply,
                length_cm=stage.length_cm,
                halves_cm=None,
                rule_cm=part.rule_cm if len(stages) == held.refills + 1 and not number else None,
                row=row,
                side=strands.how.side(row),
                stitch=stitch,
                place=place,
                order=order,
                refill=number if stage.joined else 0,
                begins=begins,
                done=part.last_row + 1,
                ball=stage.ball,
                before_row=None if stage.joined or not number else row,
            )
        )
    # Each is done with when the next begins.
    for number, following in enumerate(pieces[1:]):
        pieces[number] = replace(pieces[number], done=following.begins)
    return pieces


def winding_pieces(strands: Strands, held: Sequence[Held]) -> list[Piece]:
    """Each piece to wind (or ball to lay out), in the order of need.

    The halves of a strand begun from its middle are one length; only if one half stays on the ball
    is the other a piece of its own, wound off without cutting.
    """
    to_wind = []
    hanging = hanging_pieces(strands, held)
    # The pieces of a strand stand side by side, for its parts do.
    for _, of_strand in groupby(hanging, key=lambda piece: piece.strand):
        pieces = list(of_strand)
        first_pieces = [piece for piece in pieces if piece.is_first]
        from_ball = [piece for piece in first_pieces if piece.supply == BALL]
        if len(first_pieces) == 2 and not from_ball:
            first_pieces = [_begun_from_middle(*first_pieces)]
        to_wind += first_pieces
        to_wind += [piece for piece in pieces if not piece.is_first]
    return sorted(to_wind, key=lambda piece: piece.order)


def _begun_from_middle(half: Piece, second: Piece) -> Piece:
    """The one length that the two halves are."""
    # Two alike are named once, "butterfly and bobbin" in the order of the halves.
    supplies = dict.fromkeys((half.supply, second.supply))
    return replace(
        half,
        label=half.strand,
        supply=" and ".join(supplies),
        length_cm=half.length_cm + second.length_cm,
        halves_cm=(half.length_cm, second.length_cm),
        rule_cm=(half.rule_cm or 0) + (second.rule_cm or 0),
    )


def alike_pieces(pieces: Sequence[Piece], units: str) -> list[list[Piece]]:
    """The pieces in lines, in the order of first need: those that are wound alike on one line."""
    # Told apart by what is measured off: nobody can tell two pieces apart that are measured alike.
    lines: dict[tuple[object, ...], list[Piece]] = {}
    for place, piece in enumerate(pieces):
        # Each ball is a line of its own: it is laid out, not wound by the dozen.
        # So is what is not to be wound beforehand.
        ball = place if piece.supply == BALL or piece.before_row is not None else None
        measured = (piece.to_measure_cm(units), piece.begun_in_words(units))
        wound = (piece.yarn, piece.supply, *measured, piece.cut_before)
        lines.setdefault((*wound, ball), []).append(piece)
    return list(lines.values())


def wraps_of(length_cm: float, habits: Habits) -> int:
    """How often so much yarn goes round what the knitter winds round."""
    return math.ceil(length_cm / habits.wrap_cm - ROUNDING_ERROR)


def winding_list(
    pieces: Sequence[Piece], yarns: Mapping[str, Yarn], habits: Habits, units: str
) -> pd.DataFrame:
    """One row a line, in the order of first need: alike pieces together, rounded up.

    `line` is what to read: "8 × B, 0.95 m: B1, B2 …"; in yards lengths are listed in whole inches.
    `wraps` is how often what is wound goes round something whose once-round is `habits.wrap_cm`. A
    length begun from its middle says how far from one end that lies, and its halves have their
    names. Row and side are those before which the first piece of the line must be ready, and
    place (between which strands) is where it is begun.
    """
    balls = balls_of_yarns(pieces, yarns)
    listed = []
    for group in alike_pieces(pieces, units):
        letter = group[0].yarn
        listed.append(_line(group, yarns[letter], habits, units, balls=balls[letter]))
    table = table_of(listed, list(listed[0]), {"wraps": "Int64"})
    rule = f"rule_of_three_{LISTED_UNIT[units]}"
    table[rule] = table[rule].round(2)
    return table


def balls_of_yarns(pieces: Sequence[Piece], yarns: Mapping[str, Yarn]) -> dict[str, int]:
    """How many balls there are of each yarn, as far as the plan uses them."""
    balls = {letter: len(yarn.balls) for letter, yarn in yarns.items()}
    for piece in pieces:
        balls[piece.yarn] = max(balls[piece.yarn], piece.ball)
    return balls


def which_ball(ball: int, yarn: Yarn, balls: int) -> str:
    """Which of so many balls of its yarn a strand is fed from, counted from 1, in words."""
    # The only ball, or one that nobody has, needs no number.
    if not ball or balls == 1:
        return BALL
    if ball > len(yarn.balls):
        return f"from ball {ball} (to be bought)"
    share = yarn.balls[ball - 1]
    if share >= 1:
        return f"from ball {ball}"
    # A ball that was weighed is known by its weight.
    grams = yarn.grams_per_ball
    what = f"{share * grams:.3g} g" if grams and yarn.part_balls_g else f"{share:.2g} of a ball"
    return f"from ball {ball} ({what})"


def _line(
    group: Sequence[Piece], yarn: Yarn, habits: Habits, units: str, *, balls: int
) -> dict[str, object]:
    """One line of the winding list, for pieces of one yarn, supply and measured length.

    `balls` is how many balls of the yarn there are, as far as the plan uses them.
    """
    first, unit = group[0], LISTED_UNIT[units]
    length_cm = first.to_measure_cm(units)
    unit_cm = float(CM_PER[unit])
    measured = show(length_cm, units) + first.begun_in_words(units)
    titles = ", ".join(piece.title for piece in group)
    from_ball = first.supply == BALL
    if from_ball:
        line = f"{titles}: {which_ball(first.ball, yarn, balls)}, {measured}"
    elif first.before_row is not None:
        line = f"{titles}: {measured}, measured off its ball then, not before"
    else:
        line = f"{len(group)} × {yarn.letter}, {measured}: {titles}"
    # Of what is really wound, so the rounded length, as for the wraps.
    weight_g = yarn.grams(length_cm)
    # The longest of the line, as the planned length is; refills have no rule of their own.
    by_rule = [piece.rule_cm for piece in group if piece.rule_cm is not None]
    rule = max(by_rule) / unit_cm if by_rule else math.nan
    return {
        "line": line,
        "pieces": len(group),
        "labels": ", ".join(piece.label for piece in group),
        "yarn": yarn.letter,
        "name": yarn.name,
        "supply": first.supply,
        f"length_{unit}": round(length_cm / unit_cm, 2),
        "weight_g": math.nan if weight_g is None else round(weight_g, 1),
        "wraps": pd.NA if first.supply in NOT_WOUND else wraps_of(length_cm, habits),
        f"rule_of_three_{unit}": rule,
        "first_row": first.ready_row + 1,
        "first_side": first.side,
        "place": first.place,
    }
