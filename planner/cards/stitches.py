"""Stitches: whether a row is knitted or purled."""

from __future__ import annotations

from planner.piece import Construction

KNIT, PURL = "knit", "purl"


def stitch_of(how: Construction, row: int) -> str:
    """Whether a worked row, from 0, is knitted or purled: "knit" or "purl"."""
    if how.fabric == "garter" and not how.is_turned:
        # Never turned, the second round of a ridge is purled instead.
        return PURL if row % 2 else KNIT
    return stitch_on(how, how.side(row))


def stitch_on(how: Construction, side: str) -> str:
    """What is knit or purl on this side ("RS", "WS") of the work, where that is turned."""
    return PURL if side == "WS" and how.fabric == "stockinette" else KNIT
