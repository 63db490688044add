"""Ways: for each stretch of rows the four ways of holding the yarns and the suggested mix, side by side."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, SUPPLIES, Allowances, Habits, Yarn
from planner.strands import Strands
from planner.supplies.choose import capacity_cm, part_rows, pieces_needed
from planner.units import counted

SHORTEST_STRETCH = 6  # worked rows; shorter ones join the stretch before them


def stretches(live: np.ndarray, habits: Habits) -> list[tuple[int, int, str]]:
    """Stretches of rows that are alike in how full they are: first and last worked row (from 0) and the word for it."""
    words = [habits.word(int(n)) for n in live]
    found: list[list] = []
    for row, word in enumerate(words):
        if found and found[-1][2] == word:
            found[-1][1] = row
        else:
            found.append([row, row, word])
    merged: list[list] = []
    for first, last, word in found:
        if merged and (
            last - first + 1 < SHORTEST_STRETCH
            or merged[-1][1] - merged[-1][0] + 1 < SHORTEST_STRETCH
        ):
            merged[-1][1] = last
        else:
            merged.append([first, last, word])
    return [
        (first, last, habits.word(int(live[first : last + 1].max()))) for first, last, _ in merged
    ]


def compare_ways(
    strands: Strands,
    supplies: pd.DataFrame,
    yarns: Mapping[str, Yarn],
    habits: Habits,
    allow: Allowances,
    *,
    balls: Mapping[str, int],
) -> pd.DataFrame:
    """One row a stretch and way: pieces to wind, most hanging, balls on the table, narrowest area, refills, reasons."""
    _, at = part_rows(strands)
    length, letters = supplies.wound_cm.to_numpy(), supplies.yarn.tolist()
    pieces = {
        way: np.array(
            [
                pieces_needed(
                    x, capacity_cm(habits, way, yarns[y], allow.label_error), allow.tail_cm
                )
                for x, y in zip(length, letters, strict=True)
            ]
        )
        for way in SUPPLIES
    }
    suggested = supplies.supply.to_numpy()
    out = []
    for first, last, word in stretches(strands.live, habits):
        here = ((at["first"] <= last) & (at["last"] >= first)).to_numpy()
        for way in (*SUPPLIES, "suggested mix"):
            kinds = (
                suggested if way == "suggested mix" else np.full(len(supplies), way, dtype=object)
            )
            on_ball = here & (kinds == BALL)
            wound = here & ~on_ball
            number = supplies.refills.to_numpy() + 1 if way == "suggested mix" else pieces[way]
            hanging, laid = (
                _in_rows(at, wound, first, last).max(),
                _balls(at, on_ball, letters, habits, first, last),
            )
            refills = int((number[here] - 1).sum())
            # The halves of a strand begun from its middle are wound in one piece.
            to_wind = len(set(supplies.strand[wound])) + int((number[wound] - 1).sum())
            narrowest = int(at.narrowest[here].min())
            short = {y: n for y, n in laid.items() if n > balls[y]}
            good, bad = _reasons(way, narrowest, int(hanging), laid, short, refills, habits, balls)
            out.append(
                {
                    "rows": f"{first + 1}–{last + 1}",
                    "load": word,
                    "way": way
                    if way == "suggested mix"
                    else f"all {way}"
                    if way == BALL
                    else f"each a {way}",
                    "pieces_to_wind": to_wind,
                    "most_hanging": int(hanging),
                    "balls_on_table": laid.at_once,
                    "narrowest_stitches": narrowest,
                    "refills": refills,
                    "for": good,
                    "against": bad,
                }
            )
    return pd.DataFrame(out)


def _in_rows(at: pd.DataFrame, some: np.ndarray, first: int, last: int) -> np.ndarray:
    """How many of these parts are live in each row of the stretch."""
    change = np.zeros(last - first + 2, dtype=int)
    np.add.at(change, np.maximum(at["first"].to_numpy()[some] - first, 0), 1)
    np.add.at(change, np.minimum(at["last"].to_numpy()[some] - first, last - first) + 1, -1)
    return np.cumsum(change)[:-1]


class _Laid(dict):
    """Most balls of each yarn on the table in one row of a stretch; `at_once` is the most of all yarns together."""

    at_once = 0


def _balls(
    at: pd.DataFrame, on_ball: np.ndarray, letters: list[str], habits: Habits, first: int, last: int
) -> _Laid:
    laid, together = _Laid(), np.zeros(last - first + 1, dtype=int)
    for yarn in sorted({y for y, on in zip(letters, on_ball, strict=True) if on}):
        fed = _in_rows(at, on_ball & (np.array(letters, dtype=object) == yarn), first, last)
        needed = -(-fed // (2 if habits.both_ends else 1))
        laid[yarn] = int(needed.max())
        together += needed
    laid.at_once = int(together.max())
    return laid


def _reasons(
    way, narrowest, hanging, laid, short, refills, habits: Habits, balls
) -> tuple[str, str]:
    """What speaks for a way and what against it, in words."""
    good, bad = [], []
    narrow = narrowest <= habits.narrow_stitches
    if way == LOOSE:
        good.append("nothing to wind up; each is drawn free of the others")
    elif way == BUTTERFLY:
        good.append(
            "no weight on the work"
            + (f", good at {counted(narrowest, 'stitch')}" if narrow else "")
        )
        bad.append("cannot be rewound")
    elif way == BOBBIN:
        good.append("holds the most of what is wound, and is rewound as you go")
        if narrow:
            bad.append(f"swings on areas of {counted(narrowest, 'stitch')}")
        if not habits.rewinding:
            bad.append("you would rather not rewind")
    elif way == BALL:
        good.append("nothing to wind, nothing to run short")
    else:
        good.append("each part as its length and your ways ask")
    if way in (LOOSE, BUTTERFLY) and not refills:
        good.append("all fit in one piece each")
    room = habits.balls_on_table if habits.table else 0
    if laid.at_once > room:
        bad.append(f"{laid.at_once} balls at once, you have room for {room}")
    if short:
        bad.append(
            "not enough balls: "
            + ", ".join(
                f"{n} of {yarn} at once, {balls[yarn]} to be had" for yarn, n in short.items()
            )
        )
    if refills:
        bad.append(counted(refills, "refill"))
    if hanging > habits.crowded:
        bad.append(f"{hanging} hang at once")
    return "; ".join(good), "; ".join(bad)
