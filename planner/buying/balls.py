"""Buying: the chance that so many balls are enough, and what tips a yarn into one more ball.

The multiplier is not known exactly, and its error is the same for all strands of a yarn: it does
not average out over them. The lengths of the balls come on top. Everything here takes a list of
plans: one piece, its copies, a mirrored one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.stats import norm

from planner.buying.bobbins import pieces_of
from planner.errors import PlanError
from planner.multiplier import Multiplier
from planner.piece import BALL, MultiplierChoice, Yarn, mirror
from planner.plan import Plan, make_plan
from planner.supplies import YarnNeeded, shopping_list, swatch_length_cm, yarn_needed
from planner.units import counted, show, shown

# A band is off evenly by up to ±10 % (published, shared/sources.csv), a standard error of 5.8 %.
# Judgement: half of that variance is common to the balls of a yarn (its band, the damp in it), half
# is each ball's own.
COMMON = 0.5
AT = (np.arange(200) + 0.5) / 200  # chances at which the length in the balls is taken
BEYOND_DOUBT = 0.99  # no more balls are tried once they do with this chance
HARDLY_EVER = 0.005  # fewer balls that do with less than this chance are not worth a line
LEAST_TAIL_CM = 10  # 4 in, the shortest that is usual (common practice, no source)
JUST_OVER = 0.25  # judgement: a ball of which less than this is used is worth asking about


def mirrored(plan: Plan) -> Plan:
    """The plan of the piece mirrored left to right, worked in the same direction.

    Nothing of it is knitted yet. The knitter's choices lie at the mirrored stitches.
    """
    project = plan.project
    choices = tuple(
        replace(choice, stitch=project.chart.columns + 1 - choice.stitch)
        for choice in project.choices
    )
    name = f"{project.name}, mirrored"
    chart = mirror(project.chart)
    return make_plan(replace(project, name=name, chart=chart, choices=choices, progress=()))


def copies(plan: Plan, count: int, *, mirrored_count: int = 0) -> list[Plan]:
    """The plans of so many copies of a piece, some of them mirrored."""
    if not 0 <= mirrored_count <= count or count < 1:
        raise PlanError(
            f"Of {count} copies {mirrored_count} are mirrored: give 1 copy or more, and no more "
            "mirrored than there are."
        )
    again = plan
    if plan.project.progress and count > 1:
        # The piece is on the needles; its copies are still to be begun.
        again = make_plan(replace(plan.project, progress=()))
    straight = [plan, *[again] * count][: count - mirrored_count]
    if not mirrored_count:
        return straight
    return straight + [mirrored(plan)] * mirrored_count


def copies_table(plans: Sequence[Plan]) -> pd.DataFrame:
    """One row a plan that differs, and a sum: copies, strands, ends, most at once, pieces, yarn."""
    lines = []
    for plan in {id(plan): plan for plan in plans}.values():
        times = sum(other is plan for other in plans)
        to_wind = sum(piece.supply != BALL for piece in plan.pieces)
        yarn_cm = math.fsum(piece.length_cm for piece in pieces_of(plan))
        lines.append(
            {
                "piece": plan.project.name,
                "copies": times,
                "strands": times * plan.traced.count,
                "ends": times * len(plan.ends_to_sew),
                "most_at_once": max(load.live for load in plan.loads),
                "pieces_to_wind": times * to_wind,
                "yarn_cm": times * yarn_cm,
            }
        )
    table = pd.DataFrame(lines)
    in_all = table.drop(columns="piece").sum().to_dict()
    in_all |= {"piece": "in all", "most_at_once": table.most_at_once.max()}
    whole = pd.concat((table, pd.DataFrame([in_all])), ignore_index=True).astype(table.dtypes)
    return shown(whole, plans[0].project.units)


def _needed(plans: Sequence[Plan]) -> list[YarnNeeded]:
    """What several pieces take together of each yarn; one swatch of each yarn serves them all."""
    project = plans[0].project
    lengths: dict[str, list[float]] = {}
    for plan in plans:
        for piece in pieces_of(plan):
            lengths.setdefault(piece.yarn, []).append(piece.length_cm)
    in_all = {letter: math.fsum(each) for letter, each in lengths.items()}
    return yarn_needed(
        in_all, project.all_yarns, plans[0].multipliers, project.gauge, project.allow
    )


def shop_for(plans: Sequence[Plan]) -> pd.DataFrame:
    """The shopping list of several pieces together, lengths in cm."""
    return shopping_list(_needed(plans))


@dataclass
class StitchesAndRest:
    """What some pieces take of a yarn, apart by what is sure, cm.

    `width_cm` is the width of the stitches, the swatch's too, and `on_ball_cm` of those fed from a
    ball; `fixed_cm` does not hang on the multiplier; `cut_cm` is what the wound pieces hold for
    their stitches, whether these take all of it or not.
    """

    width_cm: float = 0.0
    on_ball_cm: float = 0.0
    fixed_cm: float = 0.0
    cut_cm: float = 0.0


def _stitches_and_rest(plans: Sequence[Plan]) -> dict[str, StitchesAndRest]:
    """What the pieces take of each yarn, in order of the letters."""
    needs: dict[str, StitchesAndRest] = {}
    for plan in plans:
        tail_cm = plan.project.allow.tail_cm
        for held in plan.held:
            part = held.part
            need = needs.setdefault(part.yarn, StitchesAndRest())
            need.width_cm += part.width_cm
            need.fixed_cm += part.wound_cm - part.stitches_cm + 2 * tail_cm * held.refills
            if held.supply == BALL:
                need.on_ball_cm += part.width_cm
            else:
                need.cut_cm += part.stitches_cm

    project = plans[0].project
    for letter, need in needs.items():
        multiplier = plans[0].multipliers[letter]
        swatch_cm = swatch_length_cm(project.gauge, multiplier, project.allow.swatch_cm)
        need.width_cm += swatch_cm / multiplier.value
        need.on_ball_cm += swatch_cm / multiplier.value
    return dict(sorted(needs.items()))


def balls_table(plans: Sequence[Plan]) -> pd.DataFrame:
    """One row a yarn and number of balls to buy: the chance that with those in hand they do.

    Chances are in percent, rounded down. `chance_percent` counts what is left over of wound pieces
    as lost; `reusing_left_overs_percent` counts only what is knitted, the tails and the swatch.
    Neither holds a spare. `enough` marks the fewest balls with the chance wanted (1 − 1 in
    `short_once_in`). A yarn whose band gives no metres is left out.
    """
    project = plans[0].project
    yarns, wanted = project.all_yarns, 1 - 1 / project.allow.short_once_in
    lines = []
    for letter, need in _stitches_and_rest(plans).items():
        yarn, multiplier = yarns[letter], plans[0].multipliers[letter]
        if yarn.metres_per_ball:
            lines += _chances(yarn, multiplier, need, project.allow.label_error, wanted)
    columns = ["yarn", "name", "balls_in_hand", "balls_to_buy", "chance_percent"]
    return pd.DataFrame(lines, columns=[*columns, "reusing_left_overs_percent", "enough"])


def _chances(
    yarn: Yarn, multiplier: Multiplier, need: StitchesAndRest, label_error: float, wanted: float
) -> list[dict[str, object]]:
    """The lines of one yarn: more and more balls, until they do beyond doubt."""
    assert yarn.metres_per_ball is not None
    ball_cm = 100 * yarn.metres_per_ball
    likely_cm = need.fixed_cm + need.width_cm * multiplier.value
    # Half of what is likely will hardly do.
    buy = max(0, math.floor(likely_cm / 2 / ball_cm - yarn.balls_in_hand))

    lines = []
    chance = 0.0
    while chance < max(wanted, BEYOND_DOUBT):
        before = chance
        lengths = _lengths(yarn.balls_in_hand + buy, ball_cm, label_error) - need.fixed_cm
        too_short = multiplier.chance_over(np.full(len(AT), need.width_cm), lengths)
        # What is cut off for wound pieces is gone, whatever their stitches take.
        for_balls = lengths - need.cut_cm
        cut_too_short = multiplier.chance_over(np.full(len(AT), need.on_ball_cm), for_balls)
        reusing = 1 - too_short.mean()
        chance = float(1 - np.maximum(too_short, cut_too_short).mean())
        if reusing > HARDLY_EVER:
            enough = "more than enough"
            if chance < wanted:
                enough = "no"
            elif before < wanted:
                enough = "yes"
            lines.append(
                {
                    "yarn": yarn.letter,
                    "name": yarn.name,
                    "balls_in_hand": yarn.balls_in_hand,
                    "balls_to_buy": buy,
                    "chance_percent": _percent(chance),
                    "reusing_left_overs_percent": _percent(reusing),
                    "enough": enough,
                }
            )
        buy += 1
    return lines


def _percent(chance: float) -> int:
    """A chance in percent, rounded down: never more than it is."""
    return math.floor(100 * chance + 1e-6)


def _lengths(balls: float, ball_cm: float, label_error: float) -> np.ndarray:
    """Lengths that so many balls hold, at the chances AT."""
    # Every ball has its own error, a part of a ball its part of one.
    own = math.floor(balls) + (balls % 1) ** 2
    variance = COMMON * balls**2 + (1 - COMMON) * own
    error = label_error / math.sqrt(3) * math.sqrt(variance)
    lengths: np.ndarray = ball_cm * (balls + error * norm.ppf(AT))
    return lengths


@dataclass(frozen=True)
class Change:
    """A change that lowers what a yarn takes: what it can save, cm, and how much of it would do."""

    name: str
    saves_cm: float
    would_do: str


def odd_metres(plans: Sequence[Plan]) -> pd.DataFrame:
    """One row a yarn whose last ball is hardly used, and change that would spare that ball.

    A ball is hardly used if less than JUST_OVER of it is. Beside each change stand how much is
    over, how much the change can save, whether that is enough, and what would be.
    """
    project = plans[0].project
    measured_cm = _as_measured(plans)
    columns = ["yarn", "over_cm", "of_ball_percent", "change", "saves_at_most_cm", "enough"]
    lines = []
    for need in _needed(plans):
        if not need.to_buy or need.yarn.metres_per_ball is None:
            continue
        letter = need.yarn.letter
        ball_cm = 100 * need.yarn.metres_per_ball * (1 - project.allow.label_error)
        over_cm = need.total_cm - ball_cm * (need.yarn.balls_in_hand + need.to_buy - 1)
        if over_cm > JUST_OVER * ball_cm:
            continue
        for change in _changes(plans, need, over_cm, measured_cm):
            if change.saves_cm >= over_cm - 1e-9:
                answer = ("yes", change.would_do)
            else:
                stays = show(over_cm - change.saves_cm, project.units)
                answer = ("no", f"nothing: {stays} stay")
            of_ball = round(100 * over_cm / ball_cm)
            lines.append((letter, over_cm, of_ball, change.name, change.saves_cm, *answer))
    return shown(pd.DataFrame(lines, columns=[*columns, "what_would_do"]), project.units)


def _as_measured(plans: Sequence[Plan]) -> dict[str, float]:
    """What each yarn would take, cm, by measurements that the plans do not go by; else empty."""
    project = plans[0].project
    if project.multiplier.way != "estimate" or not project.measurements:
        return {}
    measured = MultiplierChoice("measured")
    by_log = [make_plan(replace(plan.project, multiplier=measured)) for plan in plans]
    return {need.yarn.letter: need.total_cm for need in _needed(by_log)}


def _changes(
    plans: Sequence[Plan], need: YarnNeeded, over_cm: float, measured_cm: dict[str, float]
) -> list[Change]:
    """The changes that lower what a yarn takes, and how much of each would save what is over."""
    allow, letter = plans[0].project.allow, need.yarn.letter
    strands, refills = 0, 0
    for plan in plans:
        strands += sum(plan.traced.chart.letters[y] == letter for y in plan.traced.yarn)
        refills += sum(held.refills for held in plan.held if held.part.yarn == letter)
    tails = 2 * (strands + refills)
    spared = 1 + allow.spare  # what a piece takes less, its spare takes less too
    strand_cm = 2 * allow.tail_cm * spared
    shorter_cm = tails * max(allow.tail_cm - LEAST_TAIL_CM, 0) * spared
    fewer = counted(math.ceil(over_cm / max(strand_cm, 1e-9)), "strand")
    side_cm = allow.swatch_cm * math.sqrt(max(0, 1 - over_cm / max(need.swatch_cm, 1e-9)))
    spare_percent = 100 * (allow.spare - over_cm / need.piece_cm)
    changes = [
        Change(
            "shorter tails",
            shorter_cm,
            f"tails of {allow.tail_cm - over_cm / tails / spared:.1f} cm",
        ),
        Change("a smaller swatch", need.swatch_cm, f"a side of {side_cm:.1f} cm"),
        Change("less to spare", need.spare_cm, f"{spare_percent:.1f} % to spare"),
        Change("fewer strands", max(strands - 1, 0) * strand_cm, f"{fewer} fewer"),
    ]
    if measured_cm:
        saves_cm = need.total_cm - measured_cm[letter]
        changes.append(Change("plan by what you measured", saves_cm, "your own multiplier"))
    return changes
