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
    feeding: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for each in held:
        if each.supply == BALL:
            feeding[each.part.yarn].append((each.part.hangs_from, each.on_ball_until()))
    earlier = {}
    for piece in pieces:
        if piece.supply == BALL or not piece.is_first or piece.stitch is None:
            continue
        fed, row = feeding[piece.yarn], piece.row
        # A strand that begins in the same row takes its ball after the piece is cut.
        while row and sum(begin < row < end for begin, end in fed) >= max(balls[piece.yarn], 1):
            row -= 1
        if row < piece.row:
            earlier[piece.label] = row
    return earlier
