"""Ways: the four ways of holding the yarns and the suggested mix, for each stretch of rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, SUPPLIES, Habits, Project
from planner.strands import Strands
from planner.supplies.balls import balls_for
from planner.supplies.choose import Held
from planner.supplies.habits import capacity_cm, pieces_needed
from planner.supplies.lengths import Part
from planner.units import counted

SHORTEST_STRETCH = 6  # worked rows; shorter ones join the stretch before them
MIX = "suggested mix"


@dataclass(frozen=True)
class Stretch:
    """Rows that are alike in how full they are: first and last worked row, from 0, and the word."""

    first: int
    last: int
    load: str

    @property
    def length(self) -> int:
        return self.last - self.first + 1

    def holds(self, part: Part) -> bool:
        """Whether a part lives in any of its rows."""
        return part.first_row <= self.last and part.last_row >= self.first


@dataclass(frozen=True)
class Way:
    """One way of holding all that lives in a stretch of rows, counted up.

    `balls` are the most balls of each yarn on the table in one row, `balls_at_once` the most of all
    yarns together. `narrowest` is the narrowest area, in stitches.
    """

    stretch: Stretch
    name: str
    to_wind: int
    most_hanging: int
    balls: Mapping[str, int]
    balls_at_once: int
    narrowest: int
    refills: int

    @property
    def title(self) -> str:
        if self.name == MIX:
            return MIX
        return f"all {self.name}" if self.name == BALL else f"each a {self.name}"


def find_stretches(live: np.ndarray, habits: Habits) -> list[Stretch]:
    """The piece in stretches of rows that are alike in how full they are.

    `live` is how many strands live in each worked row.
    """
    words = [habits.word(int(strands)) for strands in live]
    changes = [row for row in range(1, len(words)) if words[row] != words[row - 1]]
    alike = zip([0, *changes], [*(row - 1 for row in changes), len(words) - 1], strict=True)

    # A short stretch is no stretch of its own to plan for: it joins the one before it.
    merged: list[list[int]] = []
    for first, last in alike:
        is_short = last - first + 1 < SHORTEST_STRETCH
        after_short = bool(merged) and merged[-1][1] - merged[-1][0] + 1 < SHORTEST_STRETCH
        if merged and (is_short or after_short):
            merged[-1][1] = last
        else:
            merged.append([first, last])
    return [
        Stretch(first, last, habits.word(int(live[first : last + 1].max())))
        for first, last in merged
    ]


def compare_ways(
    strands: Strands, held: Sequence[Held], project: Project, *, balls: Mapping[str, int]
) -> pd.DataFrame:
    """One row a stretch and way: pieces to wind, most hanging, balls on the table, refills,
    reasons.

    `balls` says how many of each yarn are in hand or to be bought.
    """
    lines = []
    for stretch in find_stretches(strands.live, project.habits):
        in_stretch = [each for each in held if stretch.holds(each.part)]
        for name in (*SUPPLIES, MIX):
            way = _count_up(name, stretch, in_stretch, project)
            good, bad = _reasons(way, project.habits, balls)
            lines.append(
                {
                    "rows": f"{stretch.first + 1}–{stretch.last + 1}",
                    "load": stretch.load,
                    "way": way.title,
                    "pieces_to_wind": way.to_wind,
                    "most_hanging": way.most_hanging,
                    "balls_on_table": way.balls_at_once,
                    "narrowest_stitches": way.narrowest,
                    "refills": way.refills,
                    "for": good,
                    "against": bad,
                }
            )
    return pd.DataFrame(lines)


def _count_up(name: str, stretch: Stretch, in_stretch: Sequence[Held], project: Project) -> Way:
    """What it takes to hold these parts this way in these rows."""
    habits, allow, yarns = project.habits, project.allow, project.all_yarns
    wound, on_ball, refills, refills_wound = [], [], 0, 0
    for each in in_stretch:
        part, supply = each.part, each.supply if name == MIX else name
        if name == MIX:
            more = each.refills
        else:
            capacity = capacity_cm(habits, supply, yarns[part.yarn], allow.label_error)
            more = pieces_needed(part.wound_cm, capacity, allow.tail_cm) - 1
        refills += more
        if supply == BALL:
            on_ball.append(part)
        else:
            wound.append(part)
            refills_wound += more

    laid = _balls_by_row(on_ball, stretch, habits)
    at_once = np.sum([np.zeros(stretch.length, dtype=int), *laid.values()], axis=0)
    # The halves of a strand begun from its middle are wound in one piece.
    strands_wound = {part.label for part in wound}
    return Way(
        stretch=stretch,
        name=name,
        to_wind=len(strands_wound) + refills_wound,
        most_hanging=int(_live_by_row(wound, stretch).max()),
        balls={letter: int(by_row.max()) for letter, by_row in laid.items()},
        balls_at_once=int(at_once.max()),
        narrowest=min(each.part.narrowest for each in in_stretch),
        refills=refills,
    )


def _live_by_row(parts: Sequence[Part], stretch: Stretch) -> np.ndarray:
    """How many of these parts live in each row of the stretch."""
    change = np.zeros(stretch.length + 1, dtype=int)
    for part in parts:
        change[max(part.first_row, stretch.first) - stretch.first] += 1
        change[min(part.last_row, stretch.last) - stretch.first + 1] -= 1
    return np.cumsum(change)[:-1]


def _balls_by_row(
    on_ball: Sequence[Part], stretch: Stretch, habits: Habits
) -> dict[str, np.ndarray]:
    """Balls of each yarn on the table in each row of the stretch, for these parts."""
    laid = {}
    for letter in sorted({part.yarn for part in on_ball}):
        fed = _live_by_row([part for part in on_ball if part.yarn == letter], stretch)
        laid[letter] = balls_for(fed, habits)
    return laid


def _reasons(way: Way, habits: Habits, balls: Mapping[str, int]) -> tuple[str, str]:
    """What speaks for a way and what against it, in words."""
    good, bad = _of_its_kind(way, habits)
    if way.name in (LOOSE, BUTTERFLY) and not way.refills:
        good.append("all fit in one piece each")

    room = habits.balls_on_table if habits.table else 0
    if way.balls_at_once > room:
        bad.append(f"{way.balls_at_once} balls at once, you have room for {room}")
    too_many = [
        f"{wanted} of {letter} at once, {balls[letter]} to be had"
        for letter, wanted in way.balls.items()
        if wanted > balls[letter]
    ]
    if too_many:
        bad.append("not enough balls: " + ", ".join(too_many))
    if way.refills:
        bad.append(counted(way.refills, "refill"))
    if way.most_hanging > habits.crowded:
        bad.append(f"{way.most_hanging} hang at once")
    return "; ".join(good), "; ".join(bad)


def _of_its_kind(way: Way, habits: Habits) -> tuple[list[str], list[str]]:
    """What speaks for and against a supply of this kind, wherever it hangs."""
    good: list[str] = []
    bad: list[str] = []
    narrow = way.narrowest <= habits.narrow_stitches
    if way.name == LOOSE:
        good.append("nothing to wind up; each is drawn free of the others")
    elif way.name == BUTTERFLY:
        good_at = f", good at {counted(way.narrowest, 'stitch')}" if narrow else ""
        good.append("no weight on the work" + good_at)
        bad.append("cannot be rewound")
    elif way.name == BOBBIN:
        good.append("holds the most of what is wound, and is rewound as you go")
        if narrow:
            bad.append(f"swings on areas of {counted(way.narrowest, 'stitch')}")
        if not habits.rewinding:
            bad.append("you would rather not rewind")
    elif way.name == BALL:
        good.append("nothing to wind, nothing to run short")
    else:
        good.append("each part as its length and your ways ask")
    return good, bad
