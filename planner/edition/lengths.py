"""Lengths in stitches of yarn, so that each reader multiplies by her own centimetres to a stitch.

A length is so many stitches of yarn, and beside them what does not hang on the hand: yarn carried,
cast on or bound off with, in widths of a stitch, and the tails. The designer's margin stands apart,
for a reader adds her own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from planner.plan import Plan
from planner.supplies import (
    CAST_ON,
    TO_EMBROIDER,
    Held,
    Piece,
    fixed_lengths,
    run_widths,
)
from planner.units import rounded_up

MIDDLE_OF = "cut as one with {}"


@dataclass(frozen=True)
class InStitches:
    """What is measured off for one piece of yarn.

    `stitches` of yarn, `widths` of a stitch beside them, so many `tails`; `margin_cm` is the
    designer's own and `length_cm` all of it by her figure, as the plan has it. `row` is the worked
    row, from 1, before which it is wanted, 0 for what is cast on with; `note` says where it comes
    from if that is not a ball's end.
    """

    label: str
    yarn: str
    supply: str
    row: int
    stitches: float
    widths: float
    tails: int
    margin_cm: float
    length_cm: float
    note: str = ""

    def measured_cm(self, units: str) -> float:
        """What the designer measures off, rounded up as her winding list has it."""
        return rounded_up(self.length_cm, units)


def lengths_in_stitches(plan: Plan) -> tuple[InStitches, ...]:
    """Each piece of the winding list, both halves of what is begun from its middle apart."""
    shares = _Shares(plan)
    of_part = {each.part.title: each for each in plan.held}
    found: list[InStitches] = []
    for piece in plan.pieces:
        if piece.label == CAST_ON:
            found.append(shares.cast_on(piece))
        elif piece.supply == TO_EMBROIDER:
            found.append(shares.embroidered(piece))
        elif piece.halves_cm is not None:
            # Cut as one, but each half is worked by itself, and a reader must know where to fold.
            halves = [each for each in plan.held if each.part.label == piece.strand]
            titles = [half.part.title for half in halves]
            for half, other in zip(halves, titles[::-1], strict=True):
                found.append(shares.stage(half, 0, note=MIDDLE_OF.format(other)))
        else:
            held = of_part[piece.part]
            note = _origin(piece)
            found.append(shares.stage(held, _stage_of(held, piece), note=note))
    return tuple(found)


def _stage_of(held: Held, piece: Piece) -> int:
    """Which stage of its part a piece is."""
    if piece.refill:
        return piece.refill
    return 0 if piece.before_row is None else len(held.stages) - 1


def _origin(piece: Piece) -> str:
    """Where a piece comes from, if that is not the end of a ball."""
    if piece.before_row is not None:
        return f"off the ball of {piece.part}, in its row"
    # While it is wanted its ball feeds another length.
    early = ""
    if piece.cut_before is not None:
        early = f"cut off before row {piece.cut_before + 1}"
    if piece.refill:
        joined = "joined where the one before ends"
        return f"{early}, {joined}" if early else joined
    return early


class _Shares:
    """What the pieces of a plan hold, share by share."""

    def __init__(self, plan: Plan):
        self.plan = plan
        self.stitch_cm = plan.project.gauge.stitch_cm
        # As widths, so that a stitch counts one whatever the designer's own figure is.
        self.stitches = run_widths(plan.traced) / self.stitch_cm
        self.widths = fixed_lengths(plan.traced, plan.project.allow) / self.stitch_cm

    def stage(self, held: Held, number: int, *, note: str) -> InStitches:
        """A stage: all of a part, what is measured off later, or a piece that is joined."""
        part, stage = held.part, held.stages[number]
        tails = list(_tails(held))
        share = self._share_of_stages(held)[number]
        stitches, widths, margin_cm = share
        return InStitches(
            label=_label(held, number),
            yarn=part.yarn,
            supply=stage.supply,
            row=stage.row + 1,
            stitches=stitches,
            widths=widths,
            tails=tails[number],
            margin_cm=margin_cm,
            length_cm=stage.length_cm,
            note=note,
        )

    def _share_of_stages(self, held: Held) -> list[tuple[float, float, float]]:
        """Stitches, widths and margin, cm, of each stage of a part."""
        part = held.part
        stitches = self.stitches[part.runs]
        widths = self.widths[part.runs]
        whole = np.array([stitches.sum(), widths.sum(), part.margin_cm])
        later = held.measured_off
        if later is not None:
            # What is wound in mid-strand works all from its row on; the ball worked the rest.
            rows = self.plan.traced.runs.row[part.runs]
            after = rows >= later.row
            # The margin belongs to the whole part, so each piece has it by its share of the
            # stitches.
            share = stitches[after].sum() / stitches.sum()
            rest = np.array([stitches[after].sum(), widths[after].sum(), part.margin_cm * share])
            return [_three(whole - rest), _three(rest)]
        # Pieces that are joined change over wherever one runs out.
        tail_cm = self.plan.project.allow.tail_cm
        # Tails do no work: without them the lengths tell how the stitches are shared.
        works_cm = []
        for stage, tails in zip(held.stages, _tails(held), strict=True):
            works_cm.append(stage.length_cm - tails * tail_cm)
        return [_three(whole * cm / sum(works_cm)) for cm in works_cm]

    def cast_on(self, piece: Piece) -> InStitches:
        """A length that all stitches are cast on with."""
        widths_cm = piece.length_cm - 2 * self.plan.project.allow.tail_cm
        return InStitches(
            label="cast-on",
            yarn=piece.yarn,
            supply=piece.supply,
            row=0,
            stitches=0,
            widths=widths_cm / self.stitch_cm,
            tails=2,
            margin_cm=0,
            length_cm=piece.length_cm,
        )

    def embroidered(self, piece: Piece) -> InStitches:
        """A length to embroider with; a duplicate stitch counts as a little more than one."""
        embroidery, allow = self.plan.to_embroider, self.plan.project.allow
        places = [each.label for each in embroidery.pieces(self.plan.project.how)]
        knitted = float(embroidery.stitches[places.index(piece.label)])
        # The yarn of a duplicate stitch also goes round the one beneath it.
        stitches = knitted * allow.embroider_factor
        plain_cm = stitches * self.cm_of(piece.yarn) + 2 * allow.tail_cm
        return InStitches(
            label=piece.label,
            yarn=piece.yarn,
            supply=piece.supply,
            row=piece.row + 1,
            stitches=stitches,
            widths=0,
            tails=2,
            margin_cm=piece.length_cm - plain_cm,
            length_cm=piece.length_cm,
            note=f"{knitted:g} stitches embroidered after blocking",
        )

    def cm_of(self, letter: str) -> float:
        """The designer's centimetres of yarn in one stitch."""
        return self.plan.multipliers[letter].value * self.stitch_cm


def _label(held: Held, number: int) -> str:
    stage, title = held.stages[number], held.part.title
    if not number:
        return title
    return f"{title} refill {number}" if stage.joined else f"{title} from row {stage.row + 1}"


def _tails(held: Held) -> Iterator[int]:
    """How many tails each stage of a part has."""
    last = len(held.stages) - 1
    for number, stage in enumerate(held.stages):
        following = held.stages[number + 1] if number < last else None
        # A half begins where the other does; what is measured off goes on from its ball.
        goes_on = not held.part.is_whole if not number else not stage.joined
        ends_apart = following is None or following.joined
        yield int(not goes_on) + int(ends_apart)


def _three(shares: Sequence[float] | np.ndarray) -> tuple[float, float, float]:
    stitches, widths, margin_cm = (float(share) for share in shares)
    return stitches, widths, margin_cm
