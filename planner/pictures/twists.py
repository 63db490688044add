"""A picture of the balls' yarns: from the needle down to the table, crossing by crossing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from planner.colour import ink_on
from planner.pictures.canvas import halo, in_style, outline, yarn_colours
from planner.piece import PARTS
from planner.plan import Plan
from planner.rows import Tangle, as_word, reduce_word

STEPS_OF_A_BEND = np.linspace(0, 1, 12)
# From 0 to 1, level at both ends, so that one bend goes over into the next.
BEND = 3 * STEPS_OF_A_BEND**2 - 2 * STEPS_OF_A_BEND**3


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
    word = reduce_word(as_word(tangle.table, tangle.crossings))
    stretches, needle = follow(tangle.table, word)
    count, steps = len(tangle.table), max(len(word), 1)
    figure = Figure(figsize=(max(3.5, 1.1 * count + 1), 1.6 + 0.32 * steps), layout="constrained")
    ax = figure.add_subplot()
    _draw_yarns(ax, stretches, ball_colours(plan))
    for place, ball in enumerate(tangle.table):
        ax.text(place, -0.15, f"● {ball}", ha="center", va="top", size=9)
    for place, ball in enumerate(needle):
        ax.text(place, steps + 0.1, ball, ha="center", va="bottom", size=9)
    ax.set(xlim=(-0.6, count - 0.4), ylim=(-0.6, steps + 0.5), xticks=[], yticks=[])
    for spine in ax.spines.values():
        spine.set_visible(False)
    ax.set_title(f"After row {tangle.row}, turned {tangle.turn or 'not at all'}", size=10)
    ax.set_ylabel("table                needle", size=8)
    return figure


def ball_colours(plan: Plan) -> dict[str, str]:
    """The colour of each strand, and of each half of a strand, by the name of its ball."""
    strands, colours = plan.traced, yarn_colours(plan)
    by_ball = {}
    for label, yarn in zip(strands.labels, strands.yarn.tolist(), strict=True):
        names = (label, *(f"{label} {half}" for half in PARTS[1:]))
        by_ball |= dict.fromkeys(names, colours[yarn])
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
        still = [place for place in range(len(order)) if place not in crossing]
        for place in (*still, *crossing):
            # The two that cross change places.
            stop = sum(crossing) - place if place in crossing else place
            in_front = place in crossing[1:]
            stretches.append(Stretch(order[place], step, place, stop, in_front))
        if crossing:
            behind, front = crossing
            order[behind], order[front] = order[front], order[behind]
    return stretches, order


def _places_crossing(letter: int) -> tuple[int, ...]:
    """The two places that a letter ±i of a braid word exchanges, the one behind first; 0 has none.

    Letters count places from 1. The yarn on the left passes in front where the sign is more than 0.
    """
    if not letter:
        return ()
    left = abs(letter) - 1
    return (left + 1, left) if letter > 0 else (left, left + 1)


def _draw_yarns(ax: Axes, stretches: Iterable[Stretch], colours: Mapping[str, str]) -> None:
    for stretch in stretches:
        colour = colours[stretch.ball]
        # Pale yarns have a black rim, so that they show on white.
        rim = outline(4.2, "black" if ink_on(colour) == "black" else colour)
        gap = halo(8) if stretch.in_front else []
        ax.plot(
            stretch.start + (stretch.stop - stretch.start) * BEND,
            stretch.step + STEPS_OF_A_BEND,
            color=colour,
            linewidth=3,
            path_effects=[*gap, *rim],
            zorder=4 if stretch.in_front else 3,
        )
