"""Cutting: what has to be cut off a ball before the ball is in use."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from planner.piece import BALL
from planner.supplies import Held, Piece


def rows_to_cut_before(
    pieces: Sequence[Piece], held: Sequence[Held], balls: Mapping[str, int]
) -> dict[str, int]:
    """The worked row, from 0, before which a piece is cut off, by its label, if that is earlier.

    A piece that is wanted while all `balls` of its yarn feed other strands is cut off before the
    last of them is begun.
    """
    # By yarn, the rows from which and until which balls feed its strands.
    feeding: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for each in held:
        if each.supply == BALL:
            part = each.part
            feeding[part.yarn].append((part.hangs_from, each.on_ball_until()))
    cut_before = {}
    for piece in pieces:
        if piece.supply == BALL or not piece.is_first or piece.stitch is None:
            continue
        # A yarn of which no ball is known is cut from one all the same.
        most = max(balls[piece.yarn], 1)
        row = piece.row
        while row and _in_use(feeding[piece.yarn], row) >= most:
            row -= 1
        if row < piece.row:
            cut_before[piece.label] = row
    return cut_before


def _in_use(feeding: Sequence[tuple[int, int]], row: int) -> int:
    """How many balls feed strands when a row is begun."""
    # A strand that begins in the same row takes its ball after the piece is cut.
    return sum(begin < row < end for begin, end in feeding)
