"""Results: what a plan comes to in a line, and what the last change has made of it.

    33 strands · 66 ends to sew in · at most 9 hang at once · 169.3 m of yarn · 1 ball to buy
    33 → 30 strands · 66 → 60 ends to sew in · at most 9 hang at once · 169.3 → 171.0 m of yarn · …

The first line stands above the plan. The second stands beside each form that changes it.
"""

from __future__ import annotations

import html
from collections import Counter
from collections.abc import Sequence
from typing import Any, NamedTuple

from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE
from planner.plan import Plan
from planner.supplies import yarns_not_known
from planner.units import CM_PER, LONG_UNIT, half_up
from planner.workbook.desk import Desk
from planner.workbook.panes import Pane

# How a piece of yarn is held, as it is said of one and of several.
HELD = {
    LOOSE: ("{} loose strand", "{} loose strands"),
    BUTTERFLY: ("{} butterfly", "{} butterflies"),
    BOBBIN: ("{} bobbin", "{} bobbins"),
    BALL: ("{} from the ball", "{} from the ball"),
}
BETWEEN = " · "
MOST_NAMED = 4  # yarns that have their letters in the line
AS_BEFORE = "Unchanged: "


class Figure(NamedTuple):
    """One figure of a result as it is shown, with words that have a place for it.

    What is not `always` shown is said only where it changes; `none` is what is said of 0.
    """

    number: str
    words: str
    always: bool = True
    none: str = ""

    def __str__(self) -> str:
        if self.none and self.number == "0":
            return self.none
        return self.words.format(self.number)


Result = dict[str, Figure]


def result_of(plan: Plan) -> Result:
    """What a plan comes to, each figure by a name of its own."""
    unit = LONG_UNIT[plan.project.units]
    metres = half_up(plan.yarn_cm / float(CM_PER[unit]), 1)
    figures = {
        "strands": _counted(plan.traced.count, "{} strand", "{} strands"),
        "ends": _counted(plan.ends_in_all, "{} end to sew in", "{} ends to sew in"),
        "at once": Figure(str(most_at_once(plan)), "at most {} hang at once"),
        "yarn": Figure(f"{metres:,.1f}", f"{{}} {unit} of yarn, margin and tails in it"),
        "to buy": _to_buy(plan),
    }
    for supply, number in pieces_held(plan).items():
        one, several = HELD[supply]
        figures[supply] = _counted(number, one, several, always=False)
    return figures


def _to_buy(plan: Plan) -> Figure:
    """How many balls are to be bought; never "nothing" where of some yarn nobody can say."""
    balls = sum(each.to_buy or 0 for each in plan.needed)
    unknown = yarns_not_known(plan.needed)
    if not unknown:
        return _counted(balls, "{} ball to buy", "{} balls to buy", none="nothing to buy")
    which = of_yarns(unknown)
    rest = f" (of {which}: not known)"
    none = f"balls to buy of {which}: not known"
    return _counted(balls, f"{{}} ball to buy{rest}", f"{{}} balls to buy{rest}", none=none)


def of_yarns(letters: Sequence[str]) -> str:
    """Yarns by their letters, if they are few: "A, C", "12 yarns"."""
    return ", ".join(letters) if len(letters) <= MOST_NAMED else f"{len(letters)} yarns"


def _counted(number: int, one: str, several: str, **more: Any) -> Figure:
    return Figure(f"{number:,}", one if number == 1 else several, **more)


def most_at_once(plan: Plan) -> int:
    """The most lengths that hang in any row."""
    return max(load.live for load in plan.loads)


def pieces_held(plan: Plan) -> dict[str, int]:
    """How many pieces of yarn are held in each way, those held in none among them."""
    counts = Counter(piece.supply for piece in plan.pieces)
    return {supply: counts[supply] for supply in HELD}


def result_html(plan: Plan) -> str:
    """What a plan comes to, in a line."""
    figures = result_of(plan).values()
    return BETWEEN.join(html.escape(str(figure)) for figure in figures if figure.always)


def change_html(before: Result, after: Result) -> str:
    """What has become of a result, in a line; what is another figure now stands out."""
    shown, changed = [], False
    for name, now in after.items():
        was = before[name].number
        if was != now.number:
            words = now.words.format(f"{was} → {now.number}")
            shown.append(f"<b>{html.escape(words)}</b>")
            changed = True
        elif now.always:
            shown.append(html.escape(str(now)))
    line = BETWEEN.join(shown)
    return line if changed else f"{AS_BEFORE}{line}"


class _LastChange:
    """What the pane says: the result, and after a change what it was before."""

    def __init__(self, plan: Plan):
        self.begin_with(plan)

    def begin_with(self, plan: Plan) -> None:
        """Say what this plan comes to, whatever was before."""
        self._project, self._result = plan.project, result_of(plan)
        self._words = result_html(plan)

    def __call__(self, plan: Plan) -> str:
        before, self._project = self._project, plan.project
        # In other units all figures are others, and nothing has changed.
        if before.units != plan.project.units:
            self.begin_with(plan)
        # What only shows the same once more leaves the change to be read.
        elif before != plan.project:
            result = result_of(plan)
            self._words = change_html(self._result, result)
            self._result = result
        # As a status it is read out when it changes.
        return f'<span role="status">{self._words}</span>'


def result_pane(desk: Desk) -> Pane:
    """What the plan comes to, to stand beside a form: after each change, before → after."""
    said = _LastChange(desk.plan)
    desk.on_arrival(lambda: said.begin_with(desk.plan))
    pane = desk.pane(said)
    pane.add_class("plan-result")
    return pane


def headline_pane(desk: Desk) -> Pane:
    """What the plan comes to, to stand above it."""
    pane = desk.pane(result_html)
    pane.add_class("plan-headline")
    return pane
