"""Shopping: how many balls of each yarn the plan takes, with swatch, spare and the band's error."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from planner.multiplier import Multiplier
from planner.piece import Allowances, Gauge, Yarn


def swatch_length_cm(gauge: Gauge, multiplier: Multiplier, side_cm: float) -> float:
    """Yarn in a square swatch: its rows times its width times the multiplier."""
    return side_cm / gauge.row_cm * side_cm * multiplier.value


def shopping_list(
    wound_cm: Mapping[str, float],
    yarns: Mapping[str, Yarn],
    multipliers: Mapping[str, Multiplier],
    gauge: Gauge,
    allow: Allowances,
) -> pd.DataFrame:
    """One row a yarn: length for the piece, swatch and spare, then the balls to have and to buy.

    Balls are counted as if each were shorter than its band says by `allow.label_error`; they are missing (<NA>) where
    the band's metres are not known.
    """
    out = []
    for letter, length in wound_cm.items():
        yarn = yarns[letter]
        swatch = swatch_length_cm(gauge, multipliers[letter], allow.swatch_cm)
        spare = allow.spare * length
        total = length + swatch + spare
        balls = None
        if yarn.metres_per_ball:
            balls = total / (100 * yarn.metres_per_ball * (1 - allow.label_error))
        out.append(
            {
                "yarn": letter,
                "name": yarn.name,
                "dye_lot": yarn.dye_lot,
                "piece_cm": length,
                "swatch_cm": swatch,
                "spare_cm": spare,
                "total_cm": total,
                "grams": yarn.grams(total),
                "balls_used": None if balls is None else round(balls, 2),
                "balls_in_hand": yarn.balls_in_hand,
                "balls_to_buy": None
                if balls is None
                else max(0, math.ceil(balls - yarn.balls_in_hand - 1e-9)),
            }
        )
    table = pd.DataFrame(out)
    return table.astype(
        {"grams": "Float64", "balls_used": "Float64", "balls_to_buy": "Int64"}
    ).round({"grams": 0})


def balls_to_be_had(shopping: pd.DataFrame) -> dict[str, int]:
    """Balls of each yarn in hand or to be bought, at least one."""
    to_buy = shopping.balls_to_buy.fillna(0).astype(int)
    return {
        y: max(1, math.ceil(have) + buy)
        for y, have, buy in zip(shopping.yarn, shopping.balls_in_hand, to_buy, strict=True)
    }
