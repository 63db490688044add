"""Buying: the chance that so many balls suffice, what tips a yarn into one more ball, and several pieces together.

The multiplier is not known exactly, and its error is the same for all strands of a yarn: it does not average out over
them. The lengths of the balls come on top. Everything here takes a list of plans: one piece, its copies, a mirrored one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from scipy.stats import norm

from planner.buying.bobbins import pieces_of
from planner.errors import PlanError
from planner.piece import BALL, MultiplierChoice, mirror
from planner.plan import Plan, make_plan
from planner.supplies import shopping_list, swatch_length_cm
from planner.units import counted, show, shown

# A band is off evenly by up to ±10 % (published, shared/sources.csv), a standard error of 5.8 %. Judgement: half of that
# variance is common to the balls of a yarn (its band, the damp in it), half is each ball's own.
COMMON = 0.5
AT = (np.arange(200) + 0.5) / 200  # chances at which the length in the balls is taken
LEAST_TAIL_CM = 10  # 4 in, the shortest that is usual (common practice, no source)
JUST_OVER = 0.25  # judgement: a ball of which less than this is used is worth asking about


def mirrored(plan: Plan) -> Plan:
    """The plan of the piece mirrored left to right, worked in the same direction; nothing of it is knitted yet. The
    knitter's choices lie at the mirrored stitches."""
    project = plan.project
    choices = tuple(
        replace(choice, stitch=project.chart.columns + 1 - choice.stitch)
        for choice in project.choices
    )
    name = f"{project.name}, mirrored"
    return make_plan(
        replace(project, name=name, chart=mirror(project.chart), choices=choices, progress=())
    )


def copies(plan: Plan, count: int, *, mirrored_count: int = 0) -> list[Plan]:
    """The plans of so many copies of a piece, some of them mirrored."""
    if not 0 <= mirrored_count <= count or count < 1:
        raise PlanError(
            f"Of {count} copies {mirrored_count} are mirrored: give 1 copy or more, and no more mirrored than there are."
        )
    again = (
        make_plan(replace(plan.project, progress=()))
        if plan.project.progress and count > 1
        else plan
    )
    straight = [plan, *[again] * count][: count - mirrored_count]
    return straight + ([mirrored(plan)] * mirrored_count if mirrored_count else [])


def copies_table(plans: Sequence[Plan]) -> pd.DataFrame:
    """One row a plan that differs, and a sum: copies, strands, ends, most at once, pieces to wind, yarn."""
    out = []
    for plan in {id(plan): plan for plan in plans}.values():
        n = sum(other is plan for other in plans)
        live, length_cm = int(plan.rows.live.max()), pieces_of(plan).length_cm.sum()
        to_wind = int(plan.winding_list.pieces[plan.winding_list.supply != BALL].sum())
        out.append(
            (
                plan.project.name,
                n,
                n * plan.traced.count,
                n * len(plan.ends),
                live,
                n * to_wind,
                n * length_cm,
            )
        )
    table = pd.DataFrame(
        out,
        columns=["piece", "copies", "strands", "ends", "most_at_once", "pieces_to_wind", "yarn_cm"],
    )
    total = {name: table[name].sum() for name in table.columns[1:]} | {
        "piece": "in all",
        "most_at_once": table.most_at_once.max(),
    }
    return shown(
        pd.concat((table, pd.DataFrame([total])), ignore_index=True), plans[0].project.units
    )


def shop_for(plans: Sequence[Plan]) -> pd.DataFrame:
    """The shopping list of several pieces together, lengths in cm; one swatch of each yarn serves them all."""
    project = plans[0].project
    lengths = pd.concat([pieces_of(plan) for plan in plans]).groupby("yarn").length_cm.sum()
    return shopping_list(
        lengths.to_dict(), project.all_yarns, plans[0].multipliers, project.gauge, project.allow
    )


def _needs(plans: Sequence[Plan]) -> pd.DataFrame:
    """By yarn, cm: width of the stitches, the swatch's too; of those fed from a ball; what does not hang on the multiplier;
    and what the wound pieces hold for their stitches."""
    first, out = plans[0], []
    for plan in plans:
        parts = plan.parts
        on_ball, stitches = plan.supplies.supply == BALL, parts.worked_cm + parts.margin_cm
        fixed = parts.wound_cm - stitches + 2 * plan.project.allow.tail_cm * plan.supplies.refills
        out.append(
            parts.assign(
                on_ball_cm=parts.width_cm * on_ball, fixed_cm=fixed, cut_cm=stitches * ~on_ball
            )
        )
    needs = pd.concat(out).groupby("yarn")[["width_cm", "on_ball_cm", "fixed_cm", "cut_cm"]].sum()
    for letter in needs.index:
        swatch = swatch_length_cm(
            first.project.gauge, first.multipliers[letter], first.project.allow.swatch_cm
        )
        needs.loc[letter, ["width_cm", "on_ball_cm"]] += swatch / first.multipliers[letter].value
    return needs


def balls_table(plans: Sequence[Plan]) -> pd.DataFrame:
    """One row a yarn and number of balls to buy: the chance, in percent and rounded down, that with those in hand they do.

    `chance_percent` counts what is left over of wound pieces as lost; `reusing_left_overs_percent` counts only what is knitted, the
    tails and the swatch. Neither holds a spare. `enough` marks the fewest balls with the chance wanted (1 − 1 in
    `short_once_in`). A yarn whose band gives no metres is left out.
    """
    project, out = plans[0].project, []
    for letter, need in _needs(plans).iterrows():
        yarn, multiplier = project.all_yarns[letter], plans[0].multipliers[letter]
        if not yarn.metres_per_ball:
            continue
        ball_cm, wanted, chance = (
            100 * yarn.metres_per_ball,
            1 - 1 / project.allow.short_once_in,
            0.0,
        )
        likely = need.fixed_cm + need.width_cm * multiplier.value
        buy = max(
            0, math.floor(likely / 2 / ball_cm - yarn.balls_in_hand)
        )  # half of what is likely will hardly do
        while chance < max(wanted, 0.99):
            before = chance
            lengths = (
                _lengths(yarn.balls_in_hand + buy, ball_cm, project.allow.label_error)
                - need.fixed_cm
            )
            all_used = multiplier.chance_over(np.full(len(AT), need.width_cm), lengths)
            cut_off = multiplier.chance_over(
                np.full(len(AT), need.on_ball_cm), lengths - need.cut_cm
            )
            reusing, chance = 1 - all_used.mean(), 1 - np.maximum(all_used, cut_off).mean()
            if reusing > 0.005:
                percents = (math.floor(100 * sure + 1e-6) for sure in (chance, reusing))
                enough = (
                    "no" if chance < wanted else "yes" if before < wanted else "more than enough"
                )
                out.append((letter, yarn.name, yarn.balls_in_hand, buy, *percents, enough))
            buy += 1
    columns = [
        "yarn",
        "name",
        "balls_in_hand",
        "balls_to_buy",
        "chance_percent",
        "reusing_left_overs_percent",
        "enough",
    ]
    return pd.DataFrame(out, columns=columns)


def _lengths(balls: float, ball_cm: float, label_error: float) -> np.ndarray:
    """Lengths that so many balls hold, at the chances AT."""
    each = math.floor(balls) + (balls % 1) ** 2  # every ball's own error, a part of a ball its part
    error = label_error / math.sqrt(3) * math.sqrt(COMMON * balls**2 + (1 - COMMON) * each)
    return ball_cm * (balls + error * norm.ppf(AT))


def odd_metres(plans: Sequence[Plan]) -> pd.DataFrame:
    """One row a yarn of whose last ball to buy less than JUST_OVER is used, and change that lowers it: how much is over, how
    much the change can save, whether that is enough, and what would be."""
    project = plans[0].project
    allow, units = project.allow, project.units
    pieces, shopping, out = pd.concat([pieces_of(plan) for plan in plans]), shop_for(plans), []
    measured = None
    if project.multiplier.way == "estimate" and project.measurements:
        by_log = [
            make_plan(replace(plan.project, multiplier=MultiplierChoice("measured")))
            for plan in plans
        ]
        measured = shop_for(by_log).set_index("yarn").total_cm
    for line in shopping.dropna(subset=["balls_to_buy"]).itertuples():
        ball_cm = 100 * project.all_yarns[line.yarn].metres_per_ball * (1 - allow.label_error)
        over = line.total_cm - ball_cm * (line.balls_in_hand + line.balls_to_buy - 1)
        if not line.balls_to_buy or over > JUST_OVER * ball_cm:
            continue
        mine = pieces[pieces.yarn == line.yarn]
        strands = sum(p.traced.table().yarn.eq(line.yarn).sum() for p in plans)
        tails = 2 * (strands + int((mine.refill > 0).sum()))
        spared = 1 + allow.spare  # what a piece takes less, its spare takes less
        one = 2 * allow.tail_cm * spared
        shorter = tails * max(allow.tail_cm - LEAST_TAIL_CM, 0) * spared
        side = allow.swatch_cm * math.sqrt(max(0, 1 - over / max(line.swatch_cm, 1e-9)))
        levers = {
            "shorter tails": (shorter, f"tails of {allow.tail_cm - over / tails / spared:.1f} cm"),
            "a smaller swatch": (line.swatch_cm, f"a side of {side:.1f} cm"),
            "less to spare": (
                line.spare_cm,
                f"{100 * (allow.spare - over / line.piece_cm):.1f} % to spare",
            ),
            "fewer strands": (
                max(strands - 1, 0) * one,
                f"{counted(math.ceil(over / max(one, 1e-9)), 'strand')} fewer",
            ),
        }
        if measured is not None:
            levers["plan by what you measured"] = (
                line.total_cm - measured[line.yarn],
                "your own multiplier",
            )
        for change, (saves, how) in levers.items():
            answer = (
                ("yes", how)
                if saves >= over - 1e-9
                else ("no", f"nothing: {show(over - saves, units)} stay")
            )
            out.append((line.yarn, over, round(100 * over / ball_cm), change, saves, *answer))
    columns = [
        "yarn",
        "over_cm",
        "of_ball_percent",
        "change",
        "saves_at_most_cm",
        "enough",
        "what_would_do",
    ]
    return shown(pd.DataFrame(out, columns=columns), units)
