"""What is offered and what is decided, as the page shows it: in words, by its stitches and price.

Plain functions of a plan and its offers; they know no widgets.
"""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from planner.choices import (
    BY_ITSELF,
    NO_SOURCE,
    REFUSED,
    Offer,
    Price,
    Spots,
    choice_in_words,
    offer_table,
)
from planner.errors import PlanError
from planner.folder import choices_as_taken
from planner.piece import OwnChoice, Project
from planner.plan import Plan
from planner.strands import Strands
from planner.units import LONG_UNIT, counted, half_up, show_total, stretches
from planner.workbook.panes import table_html

DECIDED = ("embroider", "carry", "middle")  # what is decided about offers, not about supplies
AFTER_BLOCKING = "What is embroidered is worked last, after blocking."
MARKED = "▲ is a caution."
HOW_KNOWN = (
    '<details class="plan-note"><summary>How well is this known?</summary>What is said of '
    "embroidery is common practice: no published source says it.</details>"
)

Item = dict[str, Any]  # an offer or a decision as the browser gets it


@dataclass(frozen=True)
class Figures:
    """What a plan comes to: strands, ends, most at once, stitches carried, and yarn in cm."""

    strands: int
    ends: int
    live: int
    carried: float
    yarn_cm: float

    @classmethod
    def of(cls, plan: Plan) -> Figures:
        """What this plan comes to, refills included."""
        return cls(
            plan.traced.count,
            plan.ends_in_all,
            int(plan.traced.live.max()),
            plan.traced.carried_stitches,
            plan.yarn_cm,
        )

    def after(self, price: Price) -> Figures:
        """What it comes to with what has this price."""
        sums = []
        for field in fields(self):
            sums.append(getattr(self, field.name) + getattr(price, field.name))
        return Figures(*sums)

    def shown(self, units: str) -> list[str]:
        """Each of them as it is shown, in the order of the fields."""
        carried = f"{half_up(self.carried):,.0f}"
        # No more than is known: how the strands will be held is not priced.
        yarn, _ = show_total(self.yarn_cm, units).split()
        return [f"{self.strands:,}", f"{self.ends:,}", str(self.live), carried, yarn]


# How each of the figures is named, behind it.
NAMES_IN_TABLE = {
    "live": "most_at_once",
    "embroidered": "stitches_to_embroider",
    "carried": "carried_stitches",
}
NAMES = ("strands", "ends", "most at once", "stitches carried", "{} of yarn")


def without_grade(words: str) -> str:
    """Words of a caution without how well it is known, which is told apart on a screen."""
    return words.replace(f" ({NO_SOURCE})", "")


def names_of_figures(units: str) -> list[str]:
    """What stands behind each of the figures."""
    return [name.format(LONG_UNIT[units]) for name in NAMES]


def before_and_after(before: Figures, after: Figures, units: str) -> str:
    """What changes, in words: "33 → 27 strands · 66 → 60 ends"."""
    changes = []
    shown = names_of_figures(units), before.shown(units), after.shown(units)
    for name, then, now in zip(*shown, strict=True):
        if then != now:
            changes.append(f"{then} → {now} {name}")
    return " · ".join(changes)


# ---- decisions


@dataclass(frozen=True)
class Decision:
    """Choices that were taken, or refused, together."""

    what: str
    choices: tuple[OwnChoice, ...]

    @property
    def is_refused(self) -> bool:
        return self.choices[0].choice == REFUSED


def decisions(project: Project, strands: Strands) -> list[Decision]:
    """What was decided about offers, oldest first; what was taken together is together."""
    held = [choice for choice in project.choices if choice.about in DECIDED]
    found = []
    left = list(held)
    for words, taken in _as_taken(project):
        for is_refused in (False, True):
            choices = tuple(
                choice
                for choice in taken
                if choice in left and (choice.choice == REFUSED) == is_refused
            )
            if choices:
                left = [choice for choice in left if choice not in choices]
                found.append(Decision(words or choice_in_words(choices[0], strands), choices))
    # What the file does not say is shown one by one.
    found += [Decision(choice_in_words(choice, strands), (choice,)) for choice in left]
    return sorted(found, key=lambda decision: held.index(decision.choices[0]))


def _as_taken(project: Project) -> list[tuple[str, tuple[OwnChoice, ...]]]:
    if project.folder is None:
        return []
    try:
        return choices_as_taken(project.folder / "choices.csv")
    except (PlanError, OSError):
        return []  # what is wrong with the file is said where the piece is opened


def choices_to_accept(offer: Offer, ground: str) -> tuple[OwnChoice, ...]:
    """The choices that accept an offer, what is embroidered being knitted in this ground."""
    if offer.about != "embroider" or ground == BY_ITSELF:
        return offer.choices
    return tuple(replace(choice, choice=ground) for choice in offer.choices)


# ---- for the browser


def key_of(choices: Sequence[OwnChoice]) -> str:
    """What tells choices that are made together from all others."""
    first = choices[0]
    place = f"{first.about} {first.yarn} {first.row} {first.stitch} {first.part}"
    return f"{place} {len(choices)}"


def spot_of(choices: Iterable[OwnChoice], spots: Spots) -> Item:
    """The stitches of choices as stretches of cells, and the ways of carries."""
    parts = []
    ways = []
    for choice in choices:
        parts += stretches_of(spots.cells(choice))
        way = spots.way(choice)
        if way is not None:
            ways.append(list(way))
    return {"parts": parts, "ways": ways}


def stretches_of(cells: np.ndarray) -> list[list[int]]:
    """Rising cells as stretches: where each begins, and how many cells it has."""
    if not len(cells):
        return []
    breaks = np.flatnonzero(np.diff(cells) > 1) + 1
    begins = np.append(0, breaks)
    lengths = np.diff(np.append(begins, len(cells)))
    return np.column_stack((cells[begins], lengths)).tolist()


def offered(offers: Sequence[Offer], plan: Plan, spots: Spots) -> list[Item]:
    """Offers as the browser gets them, best first."""
    units = plan.project.units
    now = Figures.of(plan)
    items = []
    for offer in offers:
        after = now.after(offer.price)
        item = {
            "key": key_of(offer.choices),
            "about": offer.about,
            "what": offer.what,
            "change": before_and_after(now, after, units),
            "mind": offer.mind,
            "after": after.shown(units),
        }
        items.append(item | spot_of(offer.choices, spots))
    return items


def decided_items(decided: Iterable[Decision], spots: Spots) -> list[Item]:
    """Decisions as the browser gets them."""
    items = []
    for decision in decided:
        many = len(decision.choices)
        item = {
            "key": key_of(decision.choices),
            "about": decision.choices[0].about,
            "what": decision.what,
            "change": f"{many} places" if many > 1 else "",
            "mind": "",
            "after": [],
        }
        items.append(item | spot_of(decision.choices, spots))
    return items


# ---- in words


def too_many_in_words(strands: Strands, most: int) -> str:
    """Where more hangs at once than is wanted; "" where nothing does."""
    above = np.flatnonzero(strands.live > most) + 1
    if not len(above):
        return ""
    rows = ", ".join(stretches(above.tolist()))
    return f"More than {most} at once in {strands.how.row_word}s {rows}."


def offers_html(project: Project, offers: Sequence[Offer]) -> str:
    """The offers as a table, for a saved notebook: what each would change, best first."""
    # A column in which nothing stands is left out.
    table = offer_table(list(offers), project.units)
    table = table.drop(columns=["about", "rows_above"]).rename(columns=NAMES_IN_TABLE)
    words = f"{counted(len(offers), 'offer')}, best first; fewer is written with a minus."
    return f"{html.escape(words)}{table_html(table, first=8)}"
