"""Buying: the chance that so many balls are enough, and what tips a yarn into one more ball.

The multiplier is not known exactly, and its error is the same for all strands of a yarn: it does
not average out over them. The lengths of the balls come on top. Everything here takes a list of
plans: one piece, its copies, a mirrored one.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtri  # the normal distribution, quickly loaded

from planner.buying.bobbins import held_of
from planner.errors import PlanError
from planner.multiplier import Multiplier
from planner.piece import BALL, Allowances, MultiplierChoice, Project, Yarn, mirror
from planner.plan import Plan, make_plan
from planner.supplies import YarnNeeded, shopping_list, swatch_length_cm, yarn_needed
from planner.units import (
    counted,
    figure,
    rounded_up,
    show,
    show_measured,
    shown,
    shown_totals,
    whole_percent,
)

# A band is off evenly by up to ±10 % (published, shared/sources.csv), a standard error of 5.8 %.
# Judgement: half of that variance is common to the balls of a yarn (its band, the damp in it), half
# is each ball's own.
COMMON_SHARE = 0.5
# What the balls hold is looked at in 200 slices of equal chance, each taken at its middle.
SLICES = (np.arange(200) + 0.5) / 200
BEYOND_DOUBT = 0.99  # no more balls are tried once they do with this chance
HARDLY_EVER = 0.005  # fewer balls that do with less than this chance are not worth a line
LEAST_TAIL_CM = 10  # 4 in, the shortest that is usual (common practice, no source)
JUST_OVER = 0.25  # judgement: a ball of which less than this is used is worth asking about
# The plans of the pieces that are bought for together, all of one project.
Plans = Sequence[Plan]
Make = Callable[[Project], Plan]  # that makes plans
Line = dict[str, object]  # of a table, by its columns

# Lengths are sums of floats; this keeps a hair's breadth from tipping an answer, and a tail of no
# length from being divided by.
ROUNDING_CM = 1e-9


def mirrored(plan: Plan, *, make: Make = make_plan) -> Plan:
    """The plan of the piece mirrored left to right, worked in the same direction.

    Nothing of it is knitted yet. The knitter's choices lie at the mirrored stitches. `make` makes
    the plan.
    """
    project = plan.project
    choices = []
    for choice in project.choices:
        # Stitches count from 1: what was the first is now the last.
        stitch = project.chart.columns + 1 - choice.stitch
        choices.append(replace(choice, stitch=stitch))
    turned = replace(
        project,
        name=f"{project.name}, mirrored",
        chart=mirror(project.chart),
        choices=tuple(choices),
        progress=(),
    )
    return make(turned)


def copies(
    plan: Plan, count: int, *, mirrored_count: int = 0, make: Make = make_plan
) -> list[Plan]:
    """The plans of so many copies of a piece, some of them mirrored.

    Copies that are alike share one plan. `make` makes those that are not there yet.
    """
    if not 0 <= mirrored_count <= count or count < 1:
        raise PlanError(
            f"Of {count} copies {mirrored_count} are mirrored: give 1 copy or more, and no more "
            "mirrored than there are."
        )
    straight_count = count - mirrored_count
    begun_anew = plan
    if plan.project.progress and straight_count > 1:
        # The piece is on the needles; its copies are still to be begun.
        begun_anew = make(replace(plan.project, progress=()))
    plans = []
    if straight_count:
        plans.append(plan)
        plans += [begun_anew] * (straight_count - 1)
    if mirrored_count:
        plans += [mirrored(plan, make=make)] * mirrored_count
    return plans


def copies_table(plans: Plans) -> pd.DataFrame:
    """One row a plan that differs, and a sum: copies, strands, ends, most at once, pieces, yarn."""
    # Copies that are alike share one plan, so a plan is known by being the same object.
    different = {id(plan): plan for plan in plans}
    times_of = Counter(map(id, plans))
    lines = []
    for identity, plan in different.items():
        times = times_of[identity]
        to_wind = [piece for piece in plan.pieces if piece.supply != BALL]
        lines.append(
            {
                "piece": plan.project.name,
                "copies": times,
                "strands": times * plan.traced.count,
                "ends": times * len(plan.ends_to_sew),
                "most_at_once": max(load.live for load in plan.loads),
                "lengths_to_wind": times * len(to_wind),
                "yarn_cm": times * plan.yarn_cm,
            }
        )
    # Rounded before they are added up, so that the sum is that of the lines.
    table = shown_totals(pd.DataFrame(lines), plans[0].project.units)
    in_all = table.drop(columns="piece").sum().round(1).to_dict()
    in_all["piece"] = "in all"
    # Copies are knitted one after the other: what hangs at once does not add up.
    in_all["most_at_once"] = table.most_at_once.max()
    last_line = pd.DataFrame([in_all])
    with_sum = pd.concat((table, last_line), ignore_index=True)
    # Summed beside a length, counts have become floats.
    return with_sum.astype(table.dtypes)


def _needed(plans: Plans) -> list[YarnNeeded]:
    """What several pieces take together of each yarn; one swatch of each yarn serves them all."""
    first = plans[0]
    units = first.project.units
    measured_off = [
        (piece.yarn, piece.supply, piece.to_measure_cm(units))
        for plan in plans
        for piece in plan.pieces
    ]
    return yarn_needed(first.project, first.multipliers, measured_off)


def shop_for(plans: Plans) -> pd.DataFrame:
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


def _stitches_and_rest(plans: Plans) -> dict[str, StitchesAndRest]:
    """What the pieces take of each yarn, in order of the letters."""
    needs: dict[str, StitchesAndRest] = defaultdict(StitchesAndRest)
    for plan in plans:
        tails_of_refill_cm = 2 * plan.project.allow.tail_cm
        for held in plan.held:
            part = held.part
            need = needs[part.yarn]
            need.width_cm += part.width_cm
            # Its own tails are in what is wound for it; each refill adds two more.
            without_stitches_cm = part.wound_cm - part.stitches_cm
            tails_of_refills_cm = tails_of_refill_cm * held.refills
            need.fixed_cm += without_stitches_cm + tails_of_refills_cm
            if held.supply == BALL:
                need.on_ball_cm += part.width_cm
            else:
                # Cut off, so its tails are not for the stitches.
                need.cut_cm -= without_stitches_cm + tails_of_refills_cm
        for piece in plan.pieces:
            # What is measured off in mid-strand is no more than is needed then: it counts as fed.
            if piece.supply != BALL and piece.before_row is None:
                need = needs[piece.yarn]
                need.cut_cm += piece.to_measure_cm(plan.project.units)
        _add_embroidery(needs, plan)

    # The swatch, where there is one, is knitted from the ball, once for all pieces.
    project = plans[0].project
    for needed in _needed(plans):
        if not needed.swatch_cm:
            continue
        letter = needed.yarn.letter
        multiplier = plans[0].multipliers[letter]
        swatch_cm = swatch_length_cm(project.gauge, multiplier, project.allow.swatch_cm)
        swatch_width_cm = swatch_cm / multiplier.value
        needs[letter].width_cm += swatch_width_cm
        needs[letter].on_ball_cm += swatch_width_cm
    return dict(sorted(needs.items()))


def _add_embroidery(needs: Mapping[str, StitchesAndRest], plan: Plan) -> None:
    """Add what is embroidered: lengths cut off, whose stitches take more yarn than knitted ones."""
    embroidery, allow = plan.to_embroider, plan.project.allow
    stitch_cm = plan.project.gauge.stitch_cm * allow.embroider_factor
    for letter, stitches in zip(embroidery.yarn, embroidery.stitches, strict=True):
        need = needs[letter]
        need.width_cm += stitches * stitch_cm
        need.fixed_cm += 2 * allow.tail_cm
        need.cut_cm -= 2 * allow.tail_cm


def balls_table(plans: Plans) -> pd.DataFrame:
    """One row a yarn and number of balls to buy: the chance that with those in hand they do.

    Chances are in percent, rounded down. `chance_percent` counts what is left over of wound pieces
    as lost; `reusing_left_overs_percent` counts only what is knitted, the tails and the swatch.
    Neither holds a spare. `enough` marks the fewest balls with the chance wanted (1 − 1 in
    `short_once_in`). A yarn whose band gives no metres is left out.
    """
    project = plans[0].project
    lines = []
    for letter, need in _stitches_and_rest(plans).items():
        yarn = project.all_yarns[letter]
        multiplier = plans[0].multipliers[letter]
        if yarn.metres_per_ball:
            lines += _lines_of_yarn(yarn, multiplier, need, project.allow)
    # Named again, so that a piece of unbanded yarns has the same columns.
    columns = ["yarn", "name", "balls_in_hand", "balls_to_buy", "chance_percent"]
    columns += ["reusing_left_overs_percent", "enough"]
    return pd.DataFrame(lines, columns=columns)


def _lines_of_yarn(
    yarn: Yarn, multiplier: Multiplier, need: StitchesAndRest, allow: Allowances
) -> list[Line]:
    """The lines of one yarn: more and more balls, until they do beyond doubt."""
    assert yarn.metres_per_ball is not None
    ball_cm = 100 * yarn.metres_per_ball
    wanted = 1 - 1 / allow.short_once_in
    in_hand: float = sum(yarn.balls)
    # Half of what is likely will hardly do, so that is where to begin.
    likely_cm = need.fixed_cm + need.width_cm * multiplier.value
    half_in_balls = likely_cm / 2 / ball_cm
    missing = math.floor(half_in_balls - in_hand)
    buy = max(0, missing)

    lines = []
    chance = 0.0
    while chance < max(wanted, BEYOND_DOUBT):
        before = chance
        balls = in_hand + buy
        balls_cm = _lengths(balls, ball_cm, allow.label_error)
        chance, reusing = _chances_of_doing(balls_cm, need, multiplier)
        # Nothing is left to chance where neither bands nor the multiplier are off.
        sure = not allow.label_error and not multiplier.spread
        if reusing > HARDLY_EVER:
            lines.append(
                {
                    "yarn": yarn.letter,
                    "name": yarn.name,
                    "balls_in_hand": round(in_hand, 2),
                    "balls_to_buy": buy,
                    "chance_percent": whole_percent(chance, sure=sure),
                    "reusing_left_overs_percent": whole_percent(reusing, sure=sure),
                    "enough": _is_enough(chance, before, wanted),
                }
            )
        buy += 1
    return lines


def _chances_of_doing(
    balls_cm: np.ndarray, need: StitchesAndRest, multiplier: Multiplier
) -> tuple[float, float]:
    """The chance that balls of these lengths do, left-overs lost; and with left-overs reused."""
    # The multiplier is off for all stitches of a yarn alike, so their widths are added up first.
    for_stitches_cm = balls_cm - need.fixed_cm
    all_widths_cm = np.full_like(balls_cm, need.width_cm)
    too_short = multiplier.chance_over(all_widths_cm, for_stitches_cm)
    reusing = 1 - too_short.mean()

    # What is cut off for wound pieces is gone, whatever their stitches take: the rest must do for
    # the stitches fed from a ball.
    uncut_cm = for_stitches_cm - need.cut_cm
    on_ball_widths_cm = np.full_like(balls_cm, need.on_ball_cm)
    uncut_too_short = multiplier.chance_over(on_ball_widths_cm, uncut_cm)
    chance = 1 - np.maximum(too_short, uncut_too_short).mean()
    return float(chance), float(reusing)


def _is_enough(chance: float, with_one_less: float, wanted: float) -> str:
    """Whether a number of balls is enough, and whether it is the fewest that is."""
    if chance < wanted:
        return "no"
    return "yes" if with_one_less < wanted else "more than enough"


def _lengths(balls: float, ball_cm: float, label_error: float) -> np.ndarray:
    """Lengths that so many balls hold, cm, one for each of the slices."""
    # Every ball has its own error, a part of a ball its part of one.
    whole = math.floor(balls)
    part = balls % 1
    own_variance = (1 - COMMON_SHARE) * (whole + part**2)
    common_variance = COMMON_SHARE * balls**2
    in_balls = math.sqrt(common_variance + own_variance)
    # √3 turns the half-width of an even spread into its standard error.
    of_one_ball = label_error / math.sqrt(3)
    errors = of_one_ball * in_balls * ndtri(SLICES)
    lengths_cm: np.ndarray = ball_cm * (balls + errors)
    return lengths_cm


@dataclass(frozen=True)
class Change:
    """A change that lowers what a yarn takes: what it can save, cm, and how much of it would do."""

    name: str
    saves_cm: float
    would_do: str


def odd_metres(plans: Plans) -> pd.DataFrame:
    """One row a yarn whose last ball is hardly used, and change that would spare that ball.

    A ball is hardly used if less than JUST_OVER of it is. Beside each change stand how much is
    over, how much the change can save, whether that is enough, and what would be.
    """
    project = plans[0].project
    measured_cm = _as_measured(plans)
    sure = 1 - project.allow.label_error
    lines = []
    for need in _needed(plans):
        yarn = need.yarn
        if not need.to_buy or yarn.metres_per_ball is None:
            continue
        # What is over is what the last ball is begun for.
        ball_cm = 100 * yarn.metres_per_ball * sure
        balls_before = sum(yarn.balls) + need.to_buy - 1
        over_cm = need.total_cm - ball_cm * balls_before
        if over_cm > JUST_OVER * ball_cm:
            continue
        for change in _changes(plans, need, over_cm, measured_cm):
            enough, would_do = "yes", change.would_do
            stays_cm = over_cm - change.saves_cm
            if change.saves_cm < over_cm - ROUNDING_CM:
                enough = "no"
                would_do = f"nothing: {show(stays_cm, project.units)} stay"
            lines.append(
                {
                    "yarn": yarn.letter,
                    "over_cm": over_cm,
                    "of_ball_percent": round(100 * over_cm / ball_cm),
                    "change": change.name,
                    "saves_at_most_cm": change.saves_cm,
                    "enough": enough,
                    "what_would_do": would_do,
                }
            )
    # Named again, so that a piece without such a yarn has the same columns.
    columns = ["yarn", "over_cm", "of_ball_percent", "change", "saves_at_most_cm", "enough"]
    columns.append("what_would_do")
    table = pd.DataFrame(lines, columns=columns)
    return shown(table, project.units)


def _as_measured(plans: Plans) -> dict[str, float]:
    """What each yarn would take, cm, by measurements that the plans do not go by; else empty."""
    project = plans[0].project
    if project.multiplier.way != "estimate" or not project.measurements:
        return {}
    measured = MultiplierChoice("measured")
    by_log = []
    for plan in plans:
        project = replace(plan.project, multiplier=measured)
        by_log.append(make_plan(project))
    return {need.yarn.letter: need.total_cm for need in _needed(by_log)}


def _changes(
    plans: Plans, need: YarnNeeded, over_cm: float, measured_cm: dict[str, float]
) -> list[Change]:
    """The changes that lower what a yarn takes, and how much of each would save what is over."""
    project, multiplier_of = plans[0].project, plans[0].multipliers
    allow, letter = project.allow, need.yarn.letter
    # Both halves of a strand begun from its middle have its name.
    strands = sum(len({held.part.label for held in held_of(plan, letter)}) for plan in plans)

    # What each change leaves in all, by the same sums as the lists.
    def total_cm(piece_cm: float, **changed: Any) -> float:
        asked = replace(project, allow=replace(allow, **changed))
        [needed] = yarn_needed(asked, multiplier_of, [(letter, BALL, piece_cm)])
        return needed.total_cm

    def with_tails(tail_cm: float) -> float:
        return total_cm(sum(_measured_cm(plan, letter, tail_cm) for plan in plans))

    def with_swatch(side_cm: float) -> float:
        return total_cm(need.piece_cm, swatch_cm=side_cm)

    def with_spare(percent: float) -> float:
        return total_cm(need.piece_cm, spare=percent / 100)

    limit_cm = need.total_cm - over_cm
    tail_cm = _most_that_does(with_tails, allow.tail_cm, limit_cm)
    side_cm = _most_that_does(with_swatch, allow.swatch_cm, limit_cm)
    percent = _most_that_does(with_spare, 100 * allow.spare, limit_cm)
    least_tail_cm = min(LEAST_TAIL_CM, allow.tail_cm)

    # A strand less saves its two tails; its stitches are worked by another. What a piece takes
    # less, its spare takes less too.
    strand_cm = 2 * allow.tail_cm * (1 + allow.spare)
    fewer = counted(math.ceil(over_cm / max(strand_cm, ROUNDING_CM)), "strand")
    changes = [
        Change(
            name="shorter tails",
            saves_cm=with_tails(allow.tail_cm) - with_tails(least_tail_cm),
            would_do=f"tails of {show_measured(tail_cm, project.units)}",
        ),
        Change("less to spare", need.spare_cm, f"{figure(percent)} % to spare"),
        Change("fewer strands", max(strands - 1, 0) * strand_cm, f"{fewer} fewer"),
    ]
    # A yarn without a swatch has none to make smaller.
    if need.swatch_cm:
        changes.insert(
            1,
            Change(
                "a smaller swatch",
                need.swatch_cm,
                f"a side of {show_measured(side_cm, project.units)}",
            ),
        )
    if measured_cm:
        saves_cm = need.total_cm - measured_cm[letter]
        changes.append(Change("plan by what you measured", saves_cm, "your own multiplier"))
    return changes


def _measured_cm(plan: Plan, letter: str, tail_cm: float) -> float:
    """What would be measured off of a yarn, each piece rounded up, if tails were so long."""
    units, more_cm = plan.project.units, tail_cm - plan.project.allow.tail_cm
    total_cm = 0.0
    for held in held_of(plan, letter):
        tails = 2 if held.part.is_whole else 1
        # All but the last piece stay as they are; each refill has two tails of its own.
        lengths_cm = [stage.length_cm for stage in held.stages]
        lengths_cm[-1] += (tails + 2 * held.refills) * more_cm
        # The tail a strand is begun with comes off the ball before the rest is measured off.
        if held.measured_off and held.part.is_whole:
            lengths_cm[0] += more_cm
            lengths_cm[-1] -= more_cm
        total_cm += sum(rounded_up(length_cm, units) for length_cm in lengths_cm)
    embroidery = plan.to_embroider
    for length_cm in embroidery.length_cm[embroidery.yarn == letter]:
        total_cm += rounded_up(length_cm + 2 * more_cm, units)
    return total_cm


def _most_that_does(total_cm: Callable[[float], float], now: float, limit_cm: float) -> float:
    """The largest figure with one decimal, no more than it is now, that keeps a total to a limit.

    0 where none does.
    """
    for tenths in range(math.floor(10 * now), 0, -1):
        if total_cm(tenths / 10) <= limit_cm + ROUNDING_CM:
            return tenths / 10
    return 0.0
