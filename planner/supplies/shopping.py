"""Shopping: how many balls of each yarn the plan takes, with swatch, spare and the band's error."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from planner.multiplier import Multiplier
from planner.piece import EVERY_YARN, NO_YARN, Gauge, Project, Yarn
from planner.supplies.tables import table_of
from planner.supplies.winding import TO_EMBROIDER
from planner.units import ROUNDING_ERROR, rounded_down, tenth_up

NOT_KNOWN = "not known (say in notebook 1 what a ball holds, and how many are in hand)"


@dataclass(frozen=True)
class YarnNeeded:
    """What a piece takes of one yarn, cm, the swatch and something to spare included.

    `piece_cm` is the sum of what is measured off; swatch and spare are rounded up to the tenth in
    which sums are shown, so that no total differs from its lines. `embroidered_cm` is part of
    `piece_cm`. Balls are counted as if each were shorter than its band says by `label_error`; they
    are None where the band's metres are not known.
    """

    yarn: Yarn
    piece_cm: float
    embroidered_cm: float
    swatch_cm: float
    spare_cm: float
    label_error: float

    @property
    def total_cm(self) -> float:
        return self.piece_cm + self.swatch_cm + self.spare_cm

    @property
    def balls(self) -> float | None:
        """Balls that it takes, parts of a ball included."""
        if not self.yarn.metres_per_ball:
            return None
        # A light ball is a short one, and only the band can be read in the shop.
        shortest_cm = 100 * self.yarn.metres_per_ball * (1 - self.label_error)
        return self.total_cm / shortest_cm

    @property
    def to_buy(self) -> int | None:
        """Whole balls to buy beside those in hand."""
        if self.balls is None:
            return None
        missing = self.balls - sum(self.yarn.balls)
        # Shops sell whole balls; what is over by rounding alone is no reason for one more.
        return max(0, math.ceil(missing - ROUNDING_ERROR))

    @property
    def balls_cm(self) -> tuple[float, ...]:
        """The length of each ball in hand or to be bought, cm; endless where the band is lost."""
        shares = [*self.yarn.balls, *[1.0] * (self.to_buy or 0)]
        # Something is fed from even where the band is lost and nothing can be counted.
        metres = self.yarn.metres_per_ball or math.inf
        shortest_cm = 100 * metres * (1 - self.label_error)
        return tuple(share * shortest_cm for share in shares or [1.0])


def yarns_not_known(needed: Iterable[YarnNeeded]) -> list[str]:
    """The letters of yarns of which nobody can say what is to buy, nor whether they suffice."""
    return [each.yarn.letter for each in needed if each.to_buy is None]


def swatch_length_cm(gauge: Gauge, multiplier: Multiplier, side_cm: float) -> float:
    """Yarn in a square swatch, cm: its rows times its width times the multiplier."""
    # No margin: a swatch that runs short is simply a few rows shorter.
    rows = side_cm / gauge.row_cm
    return rows * side_cm * multiplier.value


def yarns_to_swatch(project: Project) -> tuple[str, ...]:
    """The letters of the yarns in which the knitter wants a swatch."""
    chart, wanted = project.chart, project.allow.swatch_in
    if wanted == NO_YARN:
        return ()
    if wanted == EVERY_YARN:
        return chart.letters
    # The ground yarn is that of most stitches, of equals the first letter.
    stitches = np.bincount(chart.cells[chart.cells >= 0], minlength=len(chart.letters))
    return (chart.letters[stitches.argmax()],)


def yarn_needed(
    project: Project,
    multipliers: Mapping[str, Multiplier],
    measured_off: Iterable[tuple[str, str, float]],
) -> list[YarnNeeded]:
    """What is needed of each yarn, in the order of letters, the swatch and the spare included.

    `measured_off` gives the yarn, the supply and the rounded length, cm, of each piece.
    """
    piece_cm: dict[str, float] = defaultdict(float)
    embroidered_cm: dict[str, float] = defaultdict(float)
    for letter, supply, length_cm in measured_off:
        piece_cm[letter] += length_cm
        if supply == TO_EMBROIDER:
            embroidered_cm[letter] += length_cm

    allow, yarns = project.allow, project.all_yarns
    swatched = yarns_to_swatch(project)
    needed = []
    for letter, length_cm in sorted(piece_cm.items()):
        swatch_cm = 0.0
        if letter in swatched:
            swatch_cm = swatch_length_cm(project.gauge, multipliers[letter], allow.swatch_cm)
        # Nobody knits a swatch that takes more than the piece does.
        if swatch_cm > length_cm:
            swatch_cm = 0.0
        needed.append(
            YarnNeeded(
                yarn=yarns[letter],
                piece_cm=length_cm,
                embroidered_cm=embroidered_cm[letter],
                swatch_cm=tenth_up(swatch_cm, project.units),
                spare_cm=tenth_up(allow.spare * length_cm, project.units),
                label_error=allow.label_error,
            )
        )
    return needed


def lengths_of_balls(needed: Iterable[YarnNeeded], units: str) -> dict[str, tuple[float, ...]]:
    """What each ball of each yarn surely gives, cm, rounded down.

    So no list asks more of a ball than it has, though all that comes off it is rounded up.
    """
    balls = {}
    for each in needed:
        balls[each.yarn.letter] = tuple(rounded_down(ball_cm, units) for ball_cm in each.balls_cm)
    return balls


def shopping_list(needed: Sequence[YarnNeeded]) -> pd.DataFrame:
    """One row a yarn: length for the piece, swatch and spare, then the balls to have and to buy.

    Lengths are in cm. What the band does not tell is missing (<NA>). What is embroidered has a
    column of its own where there is any.
    """
    lines = [
        {
            "yarn": each.yarn.letter,
            "name": each.yarn.name,
            "dye_lot": each.yarn.dye_lot,
            "piece_cm": each.piece_cm,
            "of_it_embroidered_cm": each.embroidered_cm,
            "swatch_cm": each.swatch_cm,
            "spare_cm": each.spare_cm,
            "total_cm": each.total_cm,
            "grams": _whole_grams(each),
            "balls_used": None if each.balls is None else round(each.balls, 2),
            "balls_in_hand": round(sum(each.yarn.balls), 2),
            "balls_to_buy": each.to_buy,
        }
        for each in needed
    ]
    names = list(lines[0])
    # Most pieces have no embroidery: an empty column would only be read in vain.
    if not any(each.embroidered_cm for each in needed):
        names.remove("of_it_embroidered_cm")
    types = {"grams": "Int64", "balls_used": "Float64", "balls_to_buy": "Int64"}
    return table_of(lines, names, types)


def _whole_grams(needed: YarnNeeded) -> int | None:
    """What a yarn weighs, g; None where the band does not tell."""
    grams = needed.yarn.grams(needed.total_cm)
    # What is bought by weight must not be short by a rounding.
    return None if grams is None else math.ceil(grams - ROUNDING_ERROR)
