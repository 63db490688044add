"""A picture of the balls' yarns: from the needle down to the table, crossing by crossing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from planner.colour import ink_on
from planner.pictures.canvas import halo, in_style, outline, yarn_colours
from planner.piece import PARTS, part_title
from planner.plan import Plan
from planner.twists import Tangle, as_word, reduce_word

# A step, and a bend from 0 to 1 in it: level at both ends, so that one bend goes on into the next.
STEP = np.linspace(0, 1, 12)
BEND = 3 * STEP**2 - 2 * STEP**3


@dataclass(frozen=True)
class Stretch:
    """A yarn over one step from table to needle, between two places in the order of the yarns."""

    ball: str
    step: int
    start: int
    stop: int
    in_front: bool


@in_style
def draw_tangle(plan: Plan, tangle: Tangle) -> Figure:
    """The yarns after a row and its turn, with every crossing that does not cancel.

    The needle is at the top, the balls on the table at the bottom; the yarn that passes in front
    is drawn whole.
    """
    table = tangle.table
    word = reduce_word(as_word(table, tangle.crossings))
    stretches, needle = follow(table, word)
    steps = max(len(word), 1)
    width = max(3.5, 1.1 * len(table) + 1)
    height = 1.6 + 0.32 * steps
    figure = Figure(figsize=(width, height), layout="constrained")
    ax = figure.add_subplot()
    _draw_yarns(ax, stretches, ball_colours(plan))
    # Named at both ends, since the order is another.
    for place, ball in enumerate(table):
        ax.text(place, -0.15, f"● {ball}", ha="center", va="top", size=9)
    for place, ball in enumerate(needle):
        ax.text(place, steps + 0.1, ball, ha="center", va="bottom", size=9)
    ax.set_xlim(-0.6, len(table) - 0.4)
    ax.set_ylim(-0.6, steps + 0.5)
    # Only the order of the yarns means something, not how far apart they are.
    ax.set(xticks=[], yticks=[], frame_on=False)
    turn = tangle.turn or "not at all"
    ax.set_title(f"After row {tangle.row}, turned {turn}", size=10)
    ax.set_ylabel("table                needle", size=8)
    return figure


def ball_colours(plan: Plan) -> dict[str, str]:
    """The colour of each strand, and of each half of a strand, by the name of its ball."""
    strands, colours = plan.traced, yarn_colours(plan)
    by_ball: dict[str, str] = {}
    for label, yarn in zip(strands.labels, strands.yarn, strict=True):
        colour = colours[yarn]
        by_ball[label] = colour
        # Each half of a strand begun from its middle may have a ball of its own.
        for half in PARTS[1:]:
            by_ball[part_title(label, half)] = colour
    return by_ball


def follow(table: Sequence[str], word: Sequence[int]) -> tuple[list[Stretch], list[str]]:
    """Every yarn step by step through a braid word, and the order in which they come to the needle.

    The word is as `as_word` makes it; without a crossing there is one step, straight up. In each
    step those that cross come last, and the one in front after the one behind.
    """
    order = list(table)
    stretches = []
    for step, letter in enumerate(word or [0]):
        crossing = _places_crossing(letter)
        still = set(range(len(order))).difference(crossing)
        for place in (*sorted(still), *crossing):
            stop = place
            if place in crossing:
                stop = sum(crossing) - place  # the place of the other one
            in_front = place in crossing[1:]
            stretch = Stretch(order[place], step, place, stop, in_front)
            stretches.append(stretch)
        if crossing:
            left = min(crossing)
            order[left : left + 2] = reversed(order[left : left + 2])
    return stretches, order


def _places_crossing(letter: int) -> tuple[int, ...]:
    """The two places that a letter ±i of a braid word exchanges, the one behind first; 0 has none.

    Letters count places from 1. The yarn on the left passes in front where the sign is more than 0.
    """
    if not letter:
        return ()
    left = abs(letter) - 1
    right = left + 1
    return (right, left) if letter > 0 else (left, right)


def _draw_yarns(
    ax: Axes,
    stretches: Iterable[Stretch],
    colours: Mapping[str, str],
) -> None:
    for stretch in stretches:
        colour = colours[stretch.ball]
        # Pale yarns have a black rim, so that they show on white.
        rim = "black" if ink_on(colour) == "black" else colour
        # The gap in the yarn behind shows which passes in front.
        gap = halo(8) if stretch.in_front else []
        aside = stretch.stop - stretch.start
        ax.plot(
            stretch.start + aside * BEND,
            stretch.step + STEP,
            color=colour,
            linewidth=3,
            path_effects=[*gap, *outline(4.2, rim)],
            zorder=4 if stretch.in_front else 3,
        )
