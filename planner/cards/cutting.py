"""Cutting: what has to be cut off a ball before the ball is in use, and when it must be ready."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from planner.piece import BALL, Allowances, Yarn
from planner.strands import Strands
from planner.supplies import CAST_ON, Held, Piece, balls_of_yarns, winding_pieces

# In the order of need: after what is joined in the row before, before what is begun in the row.
BEFORE_ITS_ROW = 0.25


def pieces_in_time(
    strands: Strands, held: Sequence[Held], yarns: Mapping[str, Yarn]
) -> list[Piece]:
    """Each piece to wind (or ball to lay out), in the order in which the hand must have it.

    What is wanted while its ball is in use is cut off before (`Piece.cut_before`).
    """
    pieces = winding_pieces(strands, held)
    balls = balls_of_yarns(pieces, yarns)
    early = _rows_to_cut_before(pieces, held, balls)
    rows = np.arange(strands.runs.rows)
    first_run = np.searchsorted(strands.runs.row, rows).tolist()
    for place, row in early.items():
        piece = pieces[place]
        order = first_run[row] - BEFORE_ITS_ROW
        begins = f"begins in {strands.how.row_name(piece.row)}"
        between = f", {piece.place}" if piece.place else ""
        where = f"cut off before its ball is in use; {begins}{between}"
        side = strands.how.side(row)
        pieces[place] = replace(piece, cut_before=row, side=side, order=order, place=where)
    return sorted(pieces, key=lambda piece: piece.order)


def _rows_to_cut_before(
    pieces: Sequence[Piece], held: Sequence[Held], balls: Mapping[str, int]
) -> dict[int, int]:
    """The worked row, from 0, before which a piece is cut off, by its number, if that is earlier.

    A piece that is wanted while all `balls` of its yarn feed other strands is cut off before the
    last of them is begun.
    """
    # By yarn, the rows from which and until which balls feed its strands.
    feeding: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for each in held:
        if each.supply == BALL:
            part = each.part
            feeding[part.yarn].append((part.hangs_from, each.on_ball_until()))
    earlier = {}
    for number, piece in enumerate(pieces):
        # What is measured off its own ball in mid-strand is not wanted before.
        if piece.supply == BALL or piece.before_row is not None:
            continue
        # A yarn of which no ball is known is cut from one all the same.
        most = max(balls[piece.yarn], 1)
        row = piece.row
        while row and _in_use(feeding[piece.yarn], row) >= most:
            row -= 1
        if row < piece.row:
            earlier[number] = row
    return earlier


def _in_use(feeding: Sequence[tuple[int, int]], row: int) -> int:
    """How many balls feed strands when a row is begun."""
    # A strand that begins in the same row takes its ball after the piece is cut.
    return sum(begin < row < end for begin, end in feeding)


def ready_before(piece: Piece, allow: Allowances) -> str:
    """What a piece must be ready before: the number of a worked row, or the "cast-on"."""
    # A refill of the first row is joined when that is worked.
    is_joined_then = piece.refill and piece.cut_before is None
    from_first_row = not piece.ready_row and not is_joined_then
    if piece.label == CAST_ON or (allow.section_cast_on and from_first_row):
        return CAST_ON
    return str(piece.ready_row + 1)
