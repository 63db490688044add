"""A sketch of how a hand clears the balls' yarns.

The yarns as the knitter sees them, from the needle down to the table, and the way of the ball that
she passes round another's yarn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from planner.colour import ink_on
from planner.pictures.canvas import INK, halo, in_style, outline, yarn_colours
from planner.piece import PARTS, part_title
from planner.plan import Plan
from planner.twists import BallAdvice, Move

# Heights in a sketch of moves: the table, where a ball goes round a yarn, and the needle.
AT_TABLE, AT_LOOP, AT_NEEDLE = 0.0, 2.3, 2.8
BENDS = 0.3, 1.9  # between these a yarn may lean
LOOP_WIDE, LOOP_HIGH = 0.32, 0.13  # half the width and half the height of a way round a yarn


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


@in_style
def draw_moves(plan: Plan, advice: BallAdvice) -> Figure:
    """The hand moves after a row, one panel a move, as the knitter sees them from her seat."""
    moves = advice.moves
    wide = 0.62 * len(advice.needle) + 0.7
    figure = Figure(figsize=(max(1.6, wide) * len(moves), 2.3), layout="constrained")
    for number, move in enumerate(moves, start=1):
        ax = figure.add_subplot(1, len(moves), number)
        _draw_move(ax, advice, move, ball_colours(plan))
        times = abs(move.turns)
        often = f"{times} ×" if times > 1 else ""
        # The moves are made in this order.
        order = f"{number}." if len(moves) > 1 else ""
        ax.set_title(f"{order} {often}".strip(), size=9)
    return figure


def seen_from_her_seat(advice: BallAdvice, order: Sequence[str]) -> dict[str, float]:
    """How far to the right each yarn is, of an order from the side where rows begin."""
    places = range(len(order))
    if advice.words.first == "right":
        places = places[::-1]
    return {ball: float(place) for ball, place in zip(order, places, strict=True)}


def goes_right_in_front(advice: BallAdvice, move: Move) -> bool:
    """Whether what goes round goes to the right on the side that is nearer to the knitter."""
    if move.ball:
        # Anticlockwise, seen from above: to the right in front, and to the left behind.
        return advice.words.way_round(move.turns) == "anticlockwise"
    # The edge that goes away goes behind, and the other comes in front to its place.
    return advice.words.edge_away(move.turns) == "right"


def _draw_move(ax: Axes, advice: BallAdvice, move: Move, colours: Mapping[str, str]) -> None:
    """One move: the yarns, and the way round one of them, or round all at the needle."""
    at_needle = seen_from_her_seat(advice, advice.needle)
    at_table = seen_from_her_seat(advice, advice.lies)
    for ball in advice.lies:
        _draw_yarn(ax, at_table[ball], at_needle[ball], colours[ball])
        size = "bold" if ball == move.ball else "normal"
        ax.plot(
            at_table[ball], AT_TABLE, "o", color=colours[ball], markersize=11, mec=INK, zorder=6
        )
        ax.text(at_table[ball], -0.32, ball, ha="center", va="top", size=8, weight=size)
    last = len(advice.needle) - 1
    ax.plot([-0.6, last + 0.6], [AT_NEEDLE] * 2, color=INK, linewidth=4, solid_capstyle="round")
    rightwards = goes_right_in_front(advice, move)
    if move.ball:
        middle, start = at_needle[move.other], at_needle[move.ball]
        side = 1 if start > middle else -1
        # The ball is led up beside its own yarn, in front of what hangs between, and back.
        beside = middle + side * LOOP_WIDE
        ax.plot([start, beside], [AT_LOOP] * 2, color=INK, linewidth=1.2, zorder=7)
        _draw_ball(ax, start, AT_LOOP, colours[move.ball], size=7)
        _draw_way_round(ax, middle, LOOP_WIDE, rightwards=rightwards)
    else:
        _draw_way_round(ax, last / 2, last / 2 + 0.35, rightwards=rightwards)
    ax.set_xlim(-0.8, last + 0.8)
    ax.set_ylim(-0.75, AT_NEEDLE + 0.2)
    ax.set(xticks=[], yticks=[], frame_on=False)


def _draw_ball(ax: Axes, x: float, y: float, colour: str, *, size: float) -> None:
    ax.plot(x, y, "o", color=colour, markersize=size, markeredgecolor=INK, zorder=8)


def _draw_yarn(ax: Axes, at_table: float, at_needle: float, colour: str) -> None:
    """A yarn from its ball to the needle. How it lies round others is no matter here."""
    rim = "black" if ink_on(colour) == "black" else colour
    # Upright where a ball may go round it.
    ax.plot(
        [at_table, at_table, at_needle, at_needle],
        [AT_TABLE, *BENDS, AT_NEEDLE],
        color=colour,
        linewidth=2.2,
        solid_joinstyle="round",
        path_effects=outline(3.2, rim),
        zorder=4,
    )


def _draw_way_round(ax: Axes, middle: float, wide: float, *, rightwards: bool) -> None:
    """A way round a yarn: the far half behind it, the near half in front, with an arrow."""
    angle = np.linspace(0, np.pi, 40)
    across, up = middle + wide * np.cos(angle), LOOP_HIGH * np.sin(angle)
    ax.plot(across, AT_LOOP + up, color=INK, linewidth=1.2, zorder=3)
    # From the left to the right, as it is seen, is from the end of the angles to their beginning.
    step = -1 if rightwards else 1
    near = np.column_stack([across, AT_LOOP - up])[::step]
    ax.plot(near[:, 0], near[:, 1], color=INK, linewidth=1.2, path_effects=halo(3), zorder=7)
    tip = len(near) * 3 // 4
    arrow = {"arrowstyle": "-|>", "color": INK, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 11}
    ax.annotate("", near[tip], near[tip - 4], arrowprops=arrow, zorder=8)
