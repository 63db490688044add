"""Enough: whether there is enough of a yarn, by the shopping list, the basket and the chance.

The three count what was in hand at cast-on, balls begun included, and all strands of the piece,
those begun since too. They ask different things of it, so that one may say "nothing to buy" where
another says "buy 1". Wherever that happens each says what the other says, and why.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.buying.scraps import Basket, fill_baskets
from planner.knitting import YarnLasts, how_yarns_last
from planner.plan import Plan
from planner.supplies import YarnNeeded
from planner.units import counted, show_total

LIST, BASKET, LASTS = VIEWS = ("the shopping list", "the basket", '"Will it last"')
WHERE = {LIST: "notebook 3", BASKET: "notebook 5", LASTS: "notebook 4"}


@dataclass(frozen=True)
class Enough:
    """What the shopping list, the basket and the chance of lasting say of one yarn.

    `basket` is None where nobody has fitted lengths to what is in hand.
    """

    needed: YarnNeeded
    lasts: YarnLasts
    basket: Basket | None = None

    def says(self, view: str) -> str:
        """What one of the three says, in a few words; "" where it says nothing."""
        # Where a ball's length is not known, all of them say so.
        if self.needed.to_buy is None:
            return ""
        if view == LIST:
            return _to_buy(self.needed.to_buy)
        if view == LASTS:
            return f"the yarn in hand lasts with {self.lasts.percent} %"
        if self.basket is None:
            return ""
        joined = ", some strands joined" if self.basket.too_long else ""
        return f"{_to_buy(self.basket.buy)}{joined}"

    def to_buy(self, view: str) -> int | None:
        """Balls to buy by one of the three; None where it does not count them."""
        if view == LIST:
            return self.needed.to_buy
        return self.basket.buy if view == BASKET and self.basket and self.basket.fit else None

    def is_enough(self, view: str) -> bool:
        """Whether what is in hand is enough by one of the three."""
        if view == LASTS:
            return self.lasts.is_likely
        return not self.to_buy(view)

    def differs(self, view: str, other: str) -> bool:
        """Whether two of the three say what sounds like a contradiction."""
        if not self.says(view) or not self.says(other):
            return False
        if LASTS in (view, other):
            return self.is_enough(view) != self.is_enough(other)
        return self.to_buy(view) != self.to_buy(other)

    def why_others_differ(self, view: str, units: str) -> list[str]:
        """A sentence for each of the others that says otherwise: what it says, what it counts."""
        told = []
        for other in VIEWS:
            if other != view and self.differs(view, other):
                told.append(
                    f"{self.needed.yarn.title}: {other} ({WHERE[other]}) says: "
                    f"{self.says(other)}. {self._counts(other, units)}"
                )
        return told

    def _counts(self, view: str, units: str) -> str:
        """What one of the three counts, in a sentence."""
        if view == LASTS:
            return (
                "It asks how likely that is enough, counting balls as their bands say and what the "
                "stitches likely take, joins allowed, nothing to spare."
            )
        if view == BASKET:
            return (
                "It lays each strand whole, without a join, on one scrap or ball, counting a scrap "
                "at the least it may hold, nothing to spare."
            )
        beside = {"for a swatch": self.needed.swatch_cm, "to spare": self.needed.spare_cm}
        added = [f"{show_total(cm, units)} {what}" for what, cm in beside.items() if cm]
        more = f", adds {' and '.join(added)}," if added else ""
        return (
            f"It adds up the lengths to measure off{more} and counts balls as short as their bands "
            "may be wrong, joins allowed."
        )


def _to_buy(balls: int) -> str:
    return f"buy {counted(balls, 'ball')}" if balls else "nothing to buy"


def enough_of(plan: Plan, baskets: Sequence[Basket] | None = None) -> list[Enough]:
    """Whether there is enough of each yarn, in the order of letters, with baskets filled or not."""
    filled = fill_baskets(plan) if baskets is None else baskets
    basket_of = {basket.yarn.letter: basket for basket in filled}
    lasts_of = {each.letter: each for each in how_yarns_last(plan, plan.project.progress)}
    found = []
    for needed in plan.needed:
        letter = needed.yarn.letter
        found.append(Enough(needed, lasts_of[letter], basket_of.get(letter)))
    return found
