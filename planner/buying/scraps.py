"""Scraps: what is in the basket, and which strand lies on which part ball, without a join.

What is in hand stands in one place, with the yarns: balls counted, and balls begun by their weight.
A scrap is counted at the lower end of what it may hold, a strand at the upper end of what it may
take, which is what is wound for it; so what fits here fits on the needles.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from planner.buying.fitting import IN_HAND, NEW, SCRAP, Fit, Holder, Length, best_fit
from planner.buying.lots import pieces_of_one_length
from planner.buying.weights import weighed
from planner.piece import BALL, Yarn, rows_worked
from planner.plan import Plan
from planner.units import counted, rounded_down, shown

WHOLE = 1 - 1e-9  # of a ball
STEP_G = 1.0  # of a kitchen scale
SWATCH = "the swatch"


@dataclass(frozen=True)
class Place:
    """A scrap or a ball, what it surely holds and gives, cm, and the strands that lie on it."""

    kind: str
    title: str
    holds_cm: float
    strands: tuple[str, ...]
    takes_cm: float


@dataclass(frozen=True)
class Basket:
    """One yarn: what lies on what is in hand, and what is to be bought.

    `fit` is None where the band's metres are not known: then nothing is counted. `too_long` are
    strands that no ball holds; they have to be joined, and are not fitted. `begun` are strands that
    hang already: what is in hand was counted at cast-on, so they lie on it with the others.
    """

    yarn: Yarn
    places: tuple[Place, ...]
    fit: Fit | None
    too_long: tuple[str, ...] = ()
    begun: tuple[str, ...] = ()

    @property
    def buy(self) -> int:
        """Balls to buy for what is fitted."""
        return self.fit.cost[0] if self.fit else 0

    @property
    def in_words(self) -> str:
        """What is used of the basket, and how sure it is that nothing better is to be found."""
        title = self.yarn.title
        if self.fit is None:
            return f"{title}: the length of a ball is missing, so nothing can be counted."
        scraps = [place for place in self.places if place.kind == SCRAP]
        used = sum(bool(place.strands) for place in scraps)
        whole = self.fit.cost[1]
        from_balls = f", {counted(whole, 'whole ball')} in hand" if whole else ""
        buy = counted(self.buy, "ball") if self.buy else "nothing"
        words = f"{title}: {used} of {counted(len(scraps), 'scrap')}{from_balls}; to buy: {buy}."
        if self.too_long:
            labels = ", ".join(self.too_long)
            words += f" Longer than a ball, so joined and not counted here: {labels}."
        if self.begun:
            labels = ", ".join(self.begun)
            words += f" Begun already, counted with what was wound for them: {labels}."
        return words + self._proof()

    def _proof(self) -> str:
        if self.fit is None or self.fit.proven:
            return ""
        if self.fit.least_to_buy < self.buy:
            return (
                f" The search was cut short: with {self.fit.least_to_buy} or more to buy a better "
                "way may exist."
            )
        return " No way buys fewer; with as many a tidier one may exist, the search was cut short."


def fill_baskets(plan: Plan, *, step: float = STEP_G, wool: bool = True) -> list[Basket]:
    """What was in hand of each yarn at cast-on, filled with its strands, those begun since too.

    `step` is that of the scale on which part balls were weighed, g; of `wool` they may be heavier
    or lighter by the weather. Lengths that are one, such as both halves of a strand begun from its
    middle, stay on one ball; refills that the plan has are lengths of their own. The swatch, where
    one is counted, is a length too.
    """
    return [_fill(plan, letter, step, wool) for letter in _letters(plan)]


def _letters(plan: Plan) -> list[str]:
    return sorted({piece.yarn for piece in plan.pieces})


def _fill(plan: Plan, letter: str, step: float, wool: bool) -> Basket:
    project = plan.project
    yarn, units = project.all_yarns[letter], project.units
    if not yarn.metres_per_ball:
        return Basket(yarn, (), None)
    ball_cm = 100 * yarn.metres_per_ball * (1 - project.allow.label_error)
    ball_cm = rounded_down(ball_cm, units)
    titles, holders = _in_hand(yarn, ball_cm, step=step, wool=wool, units=units)

    lengths, begun = _lengths_of(plan, letter)
    longest_cm = max([ball_cm, *(holder.cm for holder in holders)])
    fitted = {label: each for label, each in lengths.items() if each.cm <= longest_cm}
    # A scrap is never longer than a ball.
    ends = 2 if project.habits.both_ends else 1
    fit = best_fit(list(fitted.values()), holders, ball_cm, ends=ends)

    every = [*holders, *[Holder(NEW, ball_cm)] * fit.cost[0]]
    titles += [f"new ball {number}" for number in range(1, fit.cost[0] + 1)]
    # New balls are opened in order, but one in between may be left over by the rule of thumb.
    order = [*range(len(holders)), *sorted({at for at in fit.place if at >= len(holders)})]
    places = []
    for at, title, holder in zip(order, titles, every, strict=True):
        on_it = [label for label, put in zip(fitted, fit.place, strict=True) if put == at]
        takes_cm = sum(fitted[label].cm for label in on_it)
        places.append(Place(holder.kind, title, holder.cm, tuple(on_it), takes_cm))
    too_long = tuple(label for label in lengths if label not in fitted)
    return Basket(yarn, tuple(places), fit, too_long, begun)


def _in_hand(
    yarn: Yarn, ball_cm: float, *, step: float, wool: bool, units: str
) -> tuple[list[str], list[Holder]]:
    """What there is of a yarn, scraps first: its titles, and how much each surely holds."""
    titles, holders = [], []
    for grams in sorted(yarn.part_balls_g):
        assert yarn.metres_per_ball is not None  # asked before
        assert yarn.grams_per_ball is not None  # part balls have it
        per_gram = yarn.metres_per_ball / yarn.grams_per_ball
        low_cm = weighed(grams, per_gram, step=step, weather=wool).low_cm
        titles.append(f"part ball of {grams:g} g")
        holders.append(Holder(SCRAP, min(ball_cm, rounded_down(low_cm, units))))
    # Parts that were weighed stand at the end.
    counted_balls = yarn.balls[: len(yarn.balls) - len(yarn.part_balls_g)]
    for share in sorted(counted_balls):
        if share < WHOLE:
            titles.append(f"{share:.2g} of a ball")
            holders.append(Holder(SCRAP, rounded_down(share * ball_cm, units)))
        else:
            titles.append("whole ball")
            holders.append(Holder(IN_HAND, ball_cm))
    return titles, holders


def _lengths_of(plan: Plan, letter: str) -> tuple[dict[str, Length], tuple[str, ...]]:
    """The lengths of a yarn by their labels, in the order of need; and those that are begun."""
    units, done = plan.project.units, rows_worked(plan.project.progress)
    lengths, begun = {}, []
    swatch_cm = sum(each.swatch_cm for each in plan.needed if each.yarn.letter == letter)
    # It is knitted before the cast-on: of what was in hand then it took nothing.
    if swatch_cm and not done:
        lengths[SWATCH] = Length(swatch_cm)
    for label, pieces in pieces_of_one_length(plan, letter).items():
        begins = min(piece.begins for piece in pieces)
        if begins < done:
            begun.append(label)
        on_ball = [piece for piece in pieces if piece.supply == BALL]
        hangs = (begins, max(piece.done for piece in on_ball)) if on_ball else None
        measured_cm = sum(piece.to_measure_cm(units) for piece in pieces)
        lengths[label] = Length(round(measured_cm, 4), hangs)
    return lengths, tuple(begun)


def basket_table(baskets: Sequence[Basket], units: str) -> pd.DataFrame:
    """One row a scrap or ball: what it surely holds, the strands that lie on it, what is left."""
    lines = []
    for basket in baskets:
        for place in basket.places:
            on_it = []
            for label in place.strands:
                on_it.append(f"{label} (begun)" if label in basket.begun else label)
            lines.append(
                {
                    "yarn": basket.yarn.letter,
                    "from": place.title,
                    "surely_holds_cm": place.holds_cm,
                    "strands": ", ".join(on_it) or "nothing: it stays in the basket",
                    "takes_cm": place.takes_cm,
                    "left_cm": max(0.0, place.holds_cm - place.takes_cm),
                }
            )
    columns = ["yarn", "from", "surely_holds_cm", "strands", "takes_cm", "left_cm"]
    return shown(pd.DataFrame(lines, columns=columns), units)
