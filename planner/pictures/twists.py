"""A picture of the balls' yarns: from the needle down to the table, crossing by crossing."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from planner.colour import ink_on
from planner.pictures.plan_pictures import in_style
from planner.plan import Plan
from planner.rows import Tangle, as_word, reduce_word

SMOOTH = np.linspace(0, 1, 12)


@in_style
def draw_tangle(plan: Plan, tangle: Tangle) -> Figure:
    """The yarns after a row and its turn, needle at the top and balls on the table at the bottom, with every crossing that
    does not cancel; the yarn that passes in front is drawn whole."""
    word = reduce_word(as_word(tangle.table, tangle.crossings))
    count, steps = len(tangle.table), max(len(word), 1)
    figure = Figure(figsize=(max(3.5, 1.1 * count + 1), 1.6 + 0.32 * steps), layout="constrained")
    ax = figure.add_subplot()
    colours = {yarn.letter: yarn.colour for yarn in plan.project.all_yarns.values()}
    order = list(tangle.table)
    for step, letter in enumerate(word or [0]):
        i, pair = abs(letter) - 1, ()
        if letter:
            pair = (
                (order[i + 1], order[i]) if letter > 0 else (order[i], order[i + 1])
            )  # behind, then in front
        for label in [name for name in order if name not in pair] + list(pair):
            x = order.index(label)
            to = x if label not in pair else (i + 1 if x == i else i)
            bend = x + (to - x) * (3 * SMOOTH**2 - 2 * SMOOTH**3)
            colour = colours[label.rstrip(" abcdefghijklmnopqrstuvwxyz").rstrip("0123456789")]
            outline = (
                "black" if ink_on(colour) == "black" else colour
            )  # so that pale yarns show on white
            in_front = label in pair[1:]
            halo = [withStroke(linewidth=8, foreground="white")] if in_front else []
            halo.append(withStroke(linewidth=4.2, foreground=outline))
            ax.plot(
                bend,
                step + SMOOTH,
                color=colour,
                linewidth=3,
                path_effects=halo,
                zorder=3 + in_front,
            )
        if letter:
            order[i], order[i + 1] = order[i + 1], order[i]
    for x, label in enumerate(tangle.table):
        ax.text(x, -0.15, f"● {label}", ha="center", va="top", size=9)
    for x, label in enumerate(order):
        ax.text(x, steps + 0.1, label, ha="center", va="bottom", size=9)
    ax.set(xlim=(-0.6, count - 0.4), ylim=(-0.6, steps + 0.5), xticks=[], yticks=[])
    for spine in ax.spines.values():
        spine.set_visible(False)
    ax.set_title(f"After row {tangle.row}, turned {tangle.turn or 'not at all'}", size=10)
    ax.set_ylabel("table                needle", size=8)
    return figure
