"""Planned against used, before against after, what to measure next."""

import math
from contextlib import suppress
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.stats import norm

from planner import Chart, Gauge, PlanError, Project, make_plan, open_project
from planner.knitting.comparison import (
    balls_before_and_after,
    before_and_after,
    by_yarn,
    comparison_in_words,
    most_useful_next,
    planned_against_used,
    planned_interval,
)
from planner.multiplier.calibration import NOISE_GRID, Calibration, Evidence, noise_variance
from planner.multiplier.evidence import calibration_of, evidence_of
from planner.piece.log import MARKED, SUPPLY, Measurement
from planner.piece.settings import Allowances, Habits, MultiplierChoice
from planner.units import rounded_up
from tests.conftest import DEMO
from tests.helpers.measurements import corrected
from tests.helpers.parts import parts_table, supplies_of
from tests.helpers.plans import FEW_THEN_MANY, WS_FIRST, plan_of

YARD = 91.44


def supply(number, strand, planned, low, high, wound, left, **other):
    """A supply measured after use; all lengths in cm."""
    basics = {
        "way": SUPPLY,
        "yarn": strand[0],
        "gauge_stitches": 20,
        "stitches": 60,
        "date": "2026-03-14",
        "strand": strand,
    }
    basics |= {
        "planned_cm": planned,
        "planned_low_cm": low,
        "planned_high_cm": high,
        "wound_cm": wound,
        "left_cm": left,
    }
    return Measurement(**{"number": number} | basics | other)


# A0 and B0 inside, A1 just at the end, A2 more than allowed, B1 less.
SUPPLIES = (
    supply(1, "A0", 140, 130, 150, 160, 15),
    supply(2, "A1", 140, 130, 150, 160, 10),
    supply(3, "A2", 140, 130, 150, 160, 8),
    supply(4, "B0", 400, 360, 440, 450, 50),
    supply(5, "B1", 400, 360, 440, 450, 100, date="2026-03-20"),
)


@cache
def demo(way="measured", **other):
    return make_plan(replace(open_project(DEMO), multiplier=MultiplierChoice(way), **other))


def block(multiplier, rows=10, units="cm", **asked):
    """One strand of 20 stitches × 10 rows, 100 cm wide in all; tails 30, cast-on 40, bind-off 60
    cm. It is narrow to this knitter, so that it is wound where it can be."""
    chart = Chart.from_rows(["A" * 20] * rows)
    asked = {"gauge": Gauge(20, 28), "habits": Habits(narrow_stitches=20)} | asked
    return make_plan(Project("block", chart, multiplier=multiplier, units=units, **asked))


# Planned against used


def test_planned_against_used_by_eye():
    table = planned_against_used(SUPPLIES).set_index("strand")
    assert table.index.tolist() == ["A0", "A1", "A2", "B0", "B1"]
    assert table.used_m.tolist() == [1.45, 1.50, 1.52, 4.00, 3.50]
    assert table.difference_m.tolist() == pytest.approx([0.05, 0.10, 0.12, 0.00, -0.50])
    assert table.difference_percent.tolist() == [4, 7, 9, 0, -13]
    assert table.inside.tolist() == [True, True, False, True, False]
    whole = {
        "yarn": "B",
        "date": "2026-03-20",
        "planned_m": 4.0,
        "at_least_m": 3.6,
        "at_most_m": 4.4,
        "wound_m": 4.5,
        "left_m": 1.0,
    }
    assert table.loc["B1", list(whole)].to_dict() == whole


def test_planned_against_used_in_yards():
    metric, yards = planned_against_used(SUPPLIES), planned_against_used(SUPPLIES, "in")
    assert yards.used_yd.tolist() == [round(100 * used / YARD, 2) for used in metric.used_m]
    assert yards.inside.tolist() == metric.inside.tolist()
    assert [name for name in yards if name.endswith("_m")] == []


def test_only_supplies_in_force_are_compared():
    log = (
        *SUPPLIES,
        Measurement(6, "2026-03-02", MARKED, "A", 20, stitches=54, length_cm=100),
        replace(
            SUPPLIES[0],
            number=7,
            strand="A7",
            planned_cm=None,
            planned_low_cm=None,
            planned_high_cm=None,
        ),
        corrected(SUPPLIES[4], 8, left_cm=60),
    )
    table = planned_against_used(log)
    assert table.strand.tolist() == ["A0", "A1", "A2", "B0", "B1"]
    assert table.used_m.iloc[-1] == pytest.approx(3.9)
    assert table.inside.tolist() == [True, True, False, True, True]


def test_a_supply_left_out_of_the_multiplier_is_still_compared():
    """Never dropped silently: planned and used do not depend on whether the line counts as
    evidence."""
    assert len(planned_against_used([replace(m, use="no") for m in SUPPLIES])) == 5


def test_all_of_a_supply_may_be_used():
    assert planned_against_used([replace(SUPPLIES[0], left_cm=None)]).used_m.tolist() == [1.60]


def test_half_an_interval_is_no_crash():
    """A cell emptied in a spreadsheet: it is said in words, or the supply is not compared."""
    for name in ("planned_low_cm", "planned_high_cm"):
        with suppress(PlanError):
            table = planned_against_used([replace(SUPPLIES[0], **{name: None}), SUPPLIES[1]])
            assert table.strand.tolist() == ["A1"]


def test_what_was_planned_is_what_the_plan_said_then():
    """Whatever multiplier the plan goes by now."""
    then, now = open_project(DEMO), demo()
    table = planned_against_used(now.project.measurements)
    first = next(m for m in then.measurements if m.strand == "K1")
    assert table.set_index("strand").planned_m["K1"] == round(first.planned_cm / 100, 2)


def test_by_yarn():
    table = by_yarn(planned_against_used(SUPPLIES)).set_index("yarn")
    assert table.index.tolist() == ["A", "B", "in all"]
    assert table.planned_m.tolist() == pytest.approx([4.2, 8.0, 12.2])
    assert table.wound_m.tolist() == pytest.approx([4.8, 9.0, 13.8])
    assert table.left_m.tolist() == pytest.approx([0.33, 1.5, 1.83])
    assert table.used_m.tolist() == pytest.approx([4.47, 7.5, 11.97])
    assert table.difference_m.tolist() == pytest.approx([0.27, -0.5, -0.23])
    assert table.supplies.tolist() == [3, 2, 5]
    assert table.inside.tolist() == [2, 1, 3]


def test_in_words():
    assert (
        comparison_in_words(planned_against_used(()))
        == "No supply has been measured after use yet."
    )
    assert comparison_in_words(planned_against_used(SUPPLIES)) == (
        "3 of 5 supplies used what the plan allowed (not A2, B1). In all 12.0 m were used where "
        "12.2 m were likely, -2 %."
    )
    assert comparison_in_words(planned_against_used(SUPPLIES[:1])) == (
        "1 of 1 supply used what the plan allowed. In all 1.5 m were used where 1.4 m were "
        "likely, +4 %."
    )
    # Added up as the table shows them, to a hundredth: 3 × 1.53 + 2 × 4.37.
    assert "13.1 yd were used where 13.3 yd were likely" in comparison_in_words(
        planned_against_used(SUPPLIES, "in")
    )


def test_the_demo_in_words():
    """Counted from its log: 14 supplies, of which W4, knitted late at night, used more than
    allowed, and so on."""
    log = open_project(DEMO).measurements
    supplies = [m for m in log if m.way == SUPPLY]
    inside = [
        m
        for m in supplies
        if m.planned_low_cm <= m.wound_cm - (m.left_cm or 0) <= m.planned_high_cm
    ]
    assert 10 <= len(inside) < len(supplies) == 14
    assert comparison_in_words(planned_against_used(log)).startswith(
        f"{len(inside)} of 14 supplies used what the plan allowed (not "
    )


# The interval planned


def test_planned_interval_of_an_own_figure_by_hand():
    """200 stitches are 100 cm wide: × 3.5 ± 0.2, tails 30, cast-on 40, bind-off 60; 1.645 spreads
    to each side hold 90 %."""
    likely, low, high = planned_interval(block(MultiplierChoice("own", 3.5, 0.2)), "A1")
    assert likely == pytest.approx(350 + 130)
    assert (low, high) == pytest.approx((likely - 1.645 * 20, likely + 1.645 * 20), abs=0.01)


@pytest.mark.parametrize("way", ["estimate", "measured", "rule of three"])
def test_planned_interval_holds_what_the_plan_says(way):
    plan = demo(way)
    for row in plan.strands.itertuples():
        likely, low, high = planned_interval(plan, row.strand)
        assert low <= likely <= high
        assert likely / 100 == pytest.approx(row.wound_m - row.margin_m, abs=0.006)
        if way == "rule of three":
            assert low == high
        elif not row.middle_start:
            assert high / 100 == pytest.approx(
                row.wound_m, abs=0.006
            )  # 5 in 100 are above, as in short once in 20


# With the measured multiplier


def upper_end(m, width, chance):
    """The length exceeded with this chance, from the mixture of normals, by bisection."""
    spread = np.sqrt(
        (width * m.spreads) ** 2 + NOISE_GRID**2 * 3.7 * width * 100 + (0.02 * 3.7 * width) ** 2
    )
    low, high = 0.0, 20 * width + 50
    for _ in range(80):
        middle = (low + high) / 2
        above = m.weights @ norm.sf(middle, width * m.means, spread)
        low, high = (middle, high) if above > chance else (low, middle)
    return low


@pytest.mark.parametrize("once", [20, 8])
def test_measured_lengths_reach_to_the_upper_end_of_the_prediction(once):
    """Each part: likely + margin is the end that one supply in so many goes beyond (computed)."""
    project = replace(
        open_project(DEMO),
        multiplier=MultiplierChoice("measured"),
        allow=Allowances(short_once_in=once),
    )
    plan = make_plan(project)
    parts = parts_table(plan.traced, plan.multipliers, project.allow)
    learned = Calibration(evidence_of(project.measurements), project.chart.letters)
    assert len(parts) > 20
    for part in parts.itertuples():
        m = learned.multiplier(part.yarn, "stockinette")
        assert part.worked_cm == pytest.approx(m.value * part.width_cm)
        assert part.worked_cm + part.margin_cm == pytest.approx(
            upper_end(m, part.width_cm, 1 / once), abs=1e-6
        )


def test_the_plan_says_where_its_multipliers_come_from():
    plan = demo()
    assert {y: str(m) for y, m in plan.multipliers.items()} != dict.fromkeys(
        plan.multipliers, "3.70, between 3.0 and 4.4"
    )
    assert "times the knitted width (measured)" in plan.how_sure()
    assert "once in 20" in plan.how_sure()
    assert all(m.basis.startswith("from ") for m in plan.multipliers.values())
    assert {str(m) for m in demo("estimate").multipliers.values()} == {"3.70, between 3.0 and 4.4"}


def test_measured_without_measurements_is_the_estimate():
    project = replace(open_project(DEMO), measurements=(), multiplier=MultiplierChoice("measured"))
    assert {str(m) for m in make_plan(project).multipliers.values()} == {
        "3.70, between 3.0 and 4.4"
    }


# Before and after


OWN = MultiplierChoice("own", 3.2, 0.2)


def test_before_and_after_by_hand():
    """By the rule of three 300 + 130 = 430 cm; by 3.2 ± 0.2, 320 + 1.645 × 20 + 130 = 482.9,
    rounded up to 485 cm. Of 300 cm wound for the stitches, one spread too little, 84.1 in 100 run
    short (any table of the normal): 15.9 last, and 15 are promised."""
    row = before_and_after(block(MultiplierChoice("rule of three")), block(OWN)).iloc[0]
    assert (row.strand, row.yarn, row.wound_before_m, row.wound_after_m) == ("A1", "A", 4.30, 4.85)
    assert row.what_to_do == "add 0.55 m"
    assert row.chance_short_as_wound_percent == 85


def test_to_unwind_or_to_leave():
    before, after = block(MultiplierChoice("own", 4.0, 0.2)), block(OWN)
    row = before_and_after(before, after).iloc[0]  # 400 + 32.9 + 130 = 562.9, rounded up to 565
    assert row.what_to_do == "unwind 0.80 m"
    # Hardly ever, norm.sf(435, 320, 20): but it is not certain.
    assert row.chance_short_as_wound_percent == 1
    assert before_and_after(after, after).what_to_do.tolist() == ["as it is"]
    assert before_and_after(after, after).chance_short_as_wound_percent.iloc[0] <= 5


def test_no_chance_where_there_is_no_spread():
    rule = block(MultiplierChoice("rule of three"))
    assert before_and_after(block(OWN), rule).chance_short_as_wound_percent.isna().all()


def test_a_strand_that_is_new():
    taller = Chart.from_rows(["B" * 20] + ["A" * 20] * 10)
    table = before_and_after(
        block(OWN), make_plan(Project("two", taller, gauge=Gauge(20, 28), multiplier=OWN))
    ).set_index("strand")
    assert table.what_to_do["B1"] == "new"
    assert math.isnan(table.wound_before_m["B1"])
    assert table.chance_short_as_wound_percent.isna()["B1"]


def test_before_and_after_from_the_ball():
    """1,000 rows of 20 stitches are too long to wind: 10,000 cm × 3.2 and more from the ball."""
    long_before, long_after = (
        block(way, rows=1000) for way in (MultiplierChoice("rule of three"), OWN)
    )
    assert set(long_after.supplies.supply) == {"from the ball"}
    row = before_and_after(long_before, long_after).iloc[0]
    assert row.what_to_do == f"{row.wound_after_m - row.wound_before_m:.2f} m more from the ball"
    assert before_and_after(long_after, long_before).what_to_do.iloc[0] == row.what_to_do.replace(
        "more", "less"
    )


def test_what_is_measured_off_later_is_in_what_is_said():
    """From the ball first and wound later: the change is that of both together."""
    before, after = (
        plan_of(FEW_THEN_MANY, how=WS_FIRST, multiplier=MultiplierChoice("own", value, 0))
        for value in (4.0, 3.8)
    )
    table = before_and_after(before, after).set_index("strand")
    assert supplies_of(after)["A1"] == "from the ball, then butterfly"
    # 33.30 m were 29 rows of 50 stitches and 20 of 10, and two tails; a twentieth less of 33 m.
    assert table.what_to_do["A1"] == "1.65 m less in all"
    # What is wound from the start: 4 m and two tails, a twentieth of it less.
    assert table.what_to_do["C1"] == "unwind 0.20 m"


def test_no_ball_needed_any_more():
    """Just too long for a bobbin before (2,700 cm), short enough after."""
    before, after = (block(MultiplierChoice("own", value, 0), rows=70) for value in (4.0, 3.2))
    assert (before.supplies.supply.iloc[0], after.supplies.supply.iloc[0]) == (
        "from the ball",
        "bobbin",
    )
    row = before_and_after(before, after).iloc[0]
    assert row.what_to_do == f"wind {row.wound_after_m:.2f} m, no ball needed"


def test_before_and_after_in_yards():
    """485 cm are 5.30 yd, wound as 5.50; 430 cm are 4.70, wound as 4.75."""
    rule, own = block(MultiplierChoice("rule of three"), units="in"), block(OWN, units="in")
    row = before_and_after(rule, own).iloc[0]
    assert (row.wound_before_yd, row.wound_after_yd, row.what_to_do) == (4.75, 5.5, "add 27 in")


def test_before_and_after_of_the_demo():
    before, after = demo("estimate"), demo()
    table = before_and_after(before, after).set_index("strand")
    assert table.index.tolist() == list(after.traced.labels)
    for name, plan in (("wound_before_m", before), ("wound_after_m", after)):
        parts = parts_table(plan.traced, plan.multipliers, plan.project.allow)
        # Half by half, as they are measured off.
        measured = parts.wound_cm.map(lambda length: rounded_up(length, "cm"))
        for strand, length in measured.groupby(parts.strand).sum().items():
            assert table.loc[strand, name] == pytest.approx(length / 100), strand
    for row in table.itertuples():
        change = round(row.wound_after_m - row.wound_before_m, 2)
        wanted = "as it is" if not change else f"{abs(change):.2f} m"
        assert wanted in row.what_to_do or "no ball needed" in row.what_to_do
        if row.what_to_do.startswith(("unwind", "add")):
            assert row.what_to_do.startswith("add") == (change > 0)
    assert (table.chance_short_as_wound_percent >= 0).all()
    assert set(table.what_to_do.str.split().str[0]) >= {"unwind"}


def test_chance_of_running_short_by_simulation():
    """20,000 knittings of each strand as it was wound before, drawn from what the measurements say
    (computed, seeded)."""
    before, after = (
        make_plan(replace(open_project(DEMO), multiplier=MultiplierChoice("own", 3.35, 0))),
        demo(),
    )
    table = before_and_after(before, after).set_index("strand")
    parts = parts_table(after.traced, after.multipliers, after.project.allow)
    whole = parts.groupby("strand")[["worked_cm", "margin_cm", "wound_cm", "width_cm"]].sum()
    rng = np.random.default_rng(17)
    chances = []
    for strand, part in whole.iterrows():
        m = after.multipliers[strand[0]]
        k = rng.choice(len(NOISE_GRID), 20_000, p=m.weights)
        noise = np.sqrt(noise_variance(part.width_cm, NOISE_GRID[k]))
        used = rng.normal(m.means[k], m.spreads[k]) * part.width_cm + rng.normal(0, noise)
        known = part.wound_cm - part.worked_cm - part.margin_cm
        short = 100 * (used + known > 100 * table.wound_before_m[strand]).mean()
        assert table.chance_short_as_wound_percent[strand] == pytest.approx(short, abs=1.5), strand
        chances.append(short)
    assert min(chances) < 10 < 30 < max(chances)


def test_balls_before_and_after():
    before, after = demo("estimate"), demo()
    table = balls_before_and_after(before, after).set_index("yarn")
    for plan, when in ((before, "before"), (after, "after")):
        shopping = plan.shopping_list.set_index("yarn")
        for yarn in table.index:
            assert table.loc[yarn, f"total_{when}_m"] == pytest.approx(shopping.total_m[yarn])
            assert table.loc[yarn, f"balls_to_buy_{when}"] == shopping.balls_to_buy[yarn]
            assert table.loc[yarn, f"multiplier_{when}"] == str(plan.multipliers[yarn])
    assert (table.total_after_m < table.total_before_m).any()


def test_balls_before_and_after_in_other_units():
    table = balls_before_and_after(demo("estimate"), demo("estimate", units="in"))
    np.testing.assert_allclose(
        table.total_before_yd, table.total_after_yd, rtol=0.05
    )  # pieces are rounded up differently
    assert table.multiplier_before.tolist() == table.multiplier_after.tolist()


# What to measure next


def sum_of_margins(parts, calibration, noise):
    """All margins together at a size of noise, cm: 1.645 spreads of a part's yarn."""
    spreads = {yarn: calibration.multiplier(yarn, "stockinette").spread for yarn in set(parts.yarn)}
    spread, width = parts.yarn.map(spreads), parts.width_cm
    return float(
        norm.isf(0.05) * np.sqrt((spread * width) ** 2 + noise_variance(width, noise)).sum()
    )


@pytest.mark.parametrize("known", [4, 17])
def test_most_useful_next(known):
    """A metre in each yarn is really added, 40 times with readings drawn from what is known, and
    the margins counted anew (computed, seeded)."""
    project = open_project(DEMO)
    plan = make_plan(
        replace(
            project,
            measurements=project.measurements[:known],
            multiplier=MultiplierChoice("measured"),
        )
    )
    now = calibration_of(plan.project)
    table = most_useful_next(plan, now)
    assert sorted(table.yarn) == sorted(project.chart.letters)
    assert table.taken_off_m.is_monotonic_decreasing
    assert table.measure.unique().tolist() == ["a marked length of 1 m"]
    parts, rng = (
        parts_table(plan.traced, plan.multipliers, plan.project.allow),
        np.random.default_rng(23),
    )
    before = sum_of_margins(parts, now, now.noise)
    gains = {}
    for row in table.itertuples():
        m = now.multiplier(row.yarn, "stockinette")
        assert row.multiplier_now == str(m)
        width, after = 100 / m.value, []
        for k in rng.choice(len(NOISE_GRID), 40, p=m.weights):
            noise = math.sqrt(noise_variance(width, NOISE_GRID[k]) + 0.1**2)
            used = rng.normal(m.means[k], m.spreads[k]) * width + rng.normal(0, noise)
            more = Calibration(
                [*now.evidence, Evidence(row.yarn, "stockinette", width, used, 0.1)],
                project.chart.letters,
            )
            after.append(sum_of_margins(parts, more, now.noise))
        gains[row.yarn] = (before - np.mean(after)) / 100
    assert table.taken_off_m.tolist() == pytest.approx(
        [gains[yarn] for yarn in table.yarn], rel=0.25, abs=0.15
    )


def test_most_useful_is_where_much_is_to_be_worked_and_little_known():
    """A and B are equally large, B is well known: measure A. Of two unknown ones, the larger."""
    chart = Chart.from_rows(["A" * 10 + "B" * 10] * 10 + ["A" * 10 + "C" * 10] * 3)
    known = [
        Measurement(n, "2026-03-02", MARKED, "B", 20, stitches=54, length_cm=100) for n in (1, 2, 3)
    ]
    plan = make_plan(Project("three", chart, gauge=Gauge(20, 28), measurements=tuple(known)))
    assert most_useful_next(plan, calibration_of(plan.project)).yarn.iloc[0] == "A"
    plan = make_plan(replace(plan.project, measurements=()))
    assert most_useful_next(plan, calibration_of(plan.project)).yarn.tolist() == ["A", "B", "C"]
