"""How much yarn: against published sums, and share by share."""

from collections import Counter
from dataclasses import asdict, replace

import numpy as np
import pytest

from planner import (
    CarryLimits,
    Chart,
    Construction,
    Gauge,
    Multiplier,
    Project,
    make_plan,
    open_project,
)
from planner.multiplier import RULE_OF_THREE
from planner.piece import Allowances, MultiplierChoice
from planner.supplies import Planned, lengths_by_strand
from planner.supplies.lengths import SHARES
from tests.conftest import DEMO
from tests.helpers.knitter import draw_chart, stretches
from tests.helpers.parts import measured_cm, parts_table
from tests.helpers.plans import V

INCH, YARD = 2.54, 91.44
BARE = Allowances(tail_cm=0, cast_on=0, bind_off=0)


def plain(columns, rows):
    """A chart in one yarn."""
    return Chart.from_rows(["A" * columns] * rows)


def own(value):
    """The knitter's own multiplier, taken as exact."""
    return MultiplierChoice("own", value, 0)


def lengths(chart, gauge, multiplier, allow=BARE, **how):
    """The first strand's lengths in cm, by share."""
    piece = Project("piece", chart, gauge=gauge, multiplier=multiplier, allow=allow, **how)
    first = make_plan(piece).strands.iloc[0]
    return {
        name: 100 * first[name.replace("_cm", "_m")] for name in (*SHARES, "wound_cm", "rule_cm")
    }


# What others have published


def test_row_and_bind_off():
    """A row 40 in wide: 126 in with 6 in of tails; a bind-off at six times its width 246 in; both,
    one tail, 366 in (published, actechniques.co.uk/blog/2020/10/28 and
    blacksquirrelberkeley.com/pages/yarn-chicken)."""
    gauge = Gauge(5, 7, 1, "in")
    row = lengths(
        plain(200, 1),
        gauge,
        MultiplierChoice("rule of three"),
        Allowances(tail_cm=3 * INCH, cast_on=0, bind_off=6),
    )
    assert row["worked_cm"] + row["tails_cm"] == pytest.approx(126 * INCH, abs=0.1)
    assert row["bind_off_cm"] + row["tails_cm"] == pytest.approx(246 * INCH, abs=0.1)
    assert row["wound_cm"] == pytest.approx(366 * INCH, abs=0.1)


def test_scarf():
    """48 × 8 in at 5 stitches and 7 rows to the inch, multiplier 4.3: within 3 % of 320 yd
    (published, petiterepublic.com)."""
    scarf = lengths(plain(40, 336), Gauge(5, 7, 1, "in"), own(4.3), Allowances())
    assert scarf["worked_cm"] == pytest.approx(320 * YARD, rel=0.03)
    assert scarf["wound_cm"] == pytest.approx(320 * YARD, rel=0.03)


def test_garter_by_stitches_per_metre():
    """18 garter rows of 120 stitches, 50 stitches from a metre: 43.2 m (published, practitioner
    page)."""
    ridges = lengths(plain(120, 9), Gauge(20, 40), own(4), how=Construction(fabric="garter"))
    assert ridges["wound_cm"] == pytest.approx(4320)


def test_square():
    """22 stitches × 30 rows to 10 cm, multiplier 4: a square of 10 cm takes 12.00 m (computed)."""
    assert lengths(plain(22, 30), Gauge(22, 30), own(4))["wound_cm"] == pytest.approx(1200)


# The margin


def test_margin():
    """The one-sided 95 % point of a normal distribution lies 1.645 spreads above its mean (from any
    table)."""
    shares = lengths(plain(50, 20), Gauge(20, 28), MultiplierChoice("own", 3.7, 0.45))
    width = 50 / 2 * 20
    assert shares["worked_cm"] == pytest.approx(3.7 * width)
    assert shares["margin_cm"] == pytest.approx(1.645 * 0.45 * width, rel=1e-4)


def test_margin_of_the_estimate_holds_what_a_short_piece_varies():
    """Before any swatch the margin is a little more than that of the multiplier alone, most for
    short pieces, whose own variation does not average out: simulated knitters fall short once in 20
    at every width."""
    rng = np.random.default_rng(5)
    for width, low, high in ((5, 1.645 * 0.45, 1.2), (500, 1.645 * 0.45, 0.78)):
        plan = make_plan(Project("piece", plain(width * 2, 1), gauge=Gauge(20, 28), allow=BARE))
        margin = 100 * plan.strands.margin_m.iloc[0]
        assert low * width < margin < high * width
        hands, noise = rng.normal(3.7, 0.45, 100_000), 0.04 * 2.0 ** rng.standard_normal(100_000)
        spread = np.sqrt(noise**2 * 3.7 * width * 100 + (0.02 * 3.7 * width) ** 2)
        used = hands * width + spread * rng.standard_normal(100_000)
        assert np.mean(used > 3.7 * width + margin) == pytest.approx(0.05, abs=0.004)


def test_rule_of_three_has_no_margin():
    shares = lengths(plain(50, 20), Gauge(20, 28), MultiplierChoice("rule of three"), Allowances())
    assert shares["margin_cm"] == 0
    assert shares["worked_cm"] == pytest.approx(RULE_OF_THREE * 50 / 2 * 20)
    assert shares["worked_cm"] + shares["tails_cm"] == pytest.approx(shares["rule_cm"])


# Share by share


@pytest.mark.parametrize("units", ["cm", "in"])
def test_shares_add_up_in_the_demo(units):
    plan = make_plan(replace(open_project(DEMO), units=units))
    unit = {"cm": "m", "in": "yd"}[units]
    shares = plan.strands[[name.replace("_cm", f"_{unit}") for name in SHARES]]
    # Each is rounded to a thousandth.
    np.testing.assert_allclose(shares.sum(axis=1), plan.strands[f"wound_{unit}"], atol=0.004)
    assert (shares >= 0).all(axis=None)
    assert len(plan.strands) > 20


def test_cast_on_and_bind_off_go_by_the_width_of_the_first_and_last_row():
    """By eye: in the first row 6 stitches of A and 2 of B, in the last 3 and 5, each 0.5 cm
    wide."""
    chart = Chart.from_rows(["AAABBBBB", "AAAABBBB", "AAAAAABB"])
    table = make_plan(
        Project("piece", chart, gauge=Gauge(20, 28), allow=Allowances(cast_on=4, bind_off=6))
    ).strands
    assert table.strand.tolist() == ["B1", "A1"]
    assert table.cast_on_m.tolist() == pytest.approx([2 * 0.5 * 4 / 100, 6 * 0.5 * 4 / 100])
    assert table.bind_off_m.tolist() == pytest.approx([5 * 0.5 * 6 / 100, 3 * 0.5 * 6 / 100])


def test_carried_yarn_is_its_straight_length():
    """By eye: B hangs 4 stitches from its next block and 1 row is skipped; stitches 0.5 cm wide,
    rows 0.4 cm high."""
    chart = Chart.from_rows(["AABBAAAA", "AAAAAAAA", "BBAAAAAA"])
    plan = make_plan(Project("piece", chart, gauge=Gauge(20, 25), limits=CarryLimits(sideways=4)))
    assert plan.traced.table().set_index("strand").carried_stitches["B1"] == pytest.approx(
        4 + 1 * 0.5 / 0.5 * 0.8
    )
    carried = plan.strands.set_index("strand").carried_m["B1"]
    assert carried == pytest.approx((4 * 0.5 + 1 * 0.4) / 100)


def test_selvedge_stitches_take_yarn_of_the_strand_beside_them():
    """A hand sum. Stitches 1 cm wide, two of selvedge at each side, multiplier 3, tails of 15 cm.

    Row by row: A 3 + 2 = 5 stitches, B 4, C 1 + 2 = 3. Two rows: A 10 cm × 3 = 30 cm, B 8 × 3 = 24,
    C 6 × 3 = 18. Cast on 4 widths of row 1: 20, 16 and 12; bind off 6 of row 2: 30, 24 and 18.
    """
    plan = make_plan(
        Project(
            "selvedge",
            Chart.from_rows(["AAABBBBC"] * 2),
            gauge=Gauge(10, 14),
            how=Construction(selvedge=2),
            multiplier=MultiplierChoice("rule of three"),
        )
    )
    table = plan.strands.set_index("yarn")
    assert table.worked_m.to_dict() == {"A": 0.30, "B": 0.24, "C": 0.18}
    assert table.cast_on_m.to_dict() == {"A": 0.20, "B": 0.16, "C": 0.12}
    assert table.bind_off_m.to_dict() == {"A": 0.30, "B": 0.24, "C": 0.18}
    assert table.wound_m.to_dict() == {"A": 1.10, "B": 0.94, "C": 0.78}


def test_selvedge_stitches_of_one_yarn_from_edge_to_edge():
    """A hand sum: 6 stitches and twice 1 of selvedge are 8 cm; three rows × 3 = 72 cm."""
    how = Construction(selvedge=1)
    assert lengths(plain(6, 3), Gauge(10, 14), own(3), how=how)["worked_cm"] == pytest.approx(72)


def test_the_yarn_over_of_a_turned_round_takes_a_stitch():
    """A hand sum. Stitches 1 cm wide, multiplier 3, tails of 15 cm, three rounds of 3 A and 2 B.

    Rounds 1 and 3 begin at the right in B, round 2 at the left in A, each with a yarn-over: A 9 + 1
    stitches, 30 cm; B 6 + 2, 24 cm. Cast on 4 widths, A 12 and B 8; bind off 6, A 18 and B 12: no
    yarn-over is cast on or bound off. In rounds that are not turned there is none: 27 and 18 cm.
    """
    piece = Project(
        "turned",
        Chart.from_rows(["AAABB"] * 3),
        gauge=Gauge(10, 14),
        how=Construction(worked="turned"),
        multiplier=MultiplierChoice("rule of three"),
    )
    plan = make_plan(piece)
    table = plan.strands.set_index("yarn")
    assert table.stitches.to_dict() == {"A": 9, "B": 6}
    assert table.worked_m.to_dict() == {"A": 0.30, "B": 0.24}
    assert table.cast_on_m.to_dict() == {"A": 0.12, "B": 0.08}
    assert table.bind_off_m.to_dict() == {"A": 0.18, "B": 0.12}
    assert table.wound_m.to_dict() == {"A": 0.90, "B": 0.74}
    # Each to 5 cm.
    assert "Yarn for the piece: 1.7 m." in plan.summary()
    limits = CarryLimits(sideways=3)
    rounds = make_plan(replace(piece, how=Construction(worked="rounds"), limits=limits))
    assert rounds.strands.groupby("yarn").worked_m.sum().to_dict() == {"A": 0.27, "B": 0.18}


def test_a_turned_round_that_begins_with_no_stitch():
    """A hand sum: the right-hand cell is no stitch, so the first run of round 1 is B's all the
    same: B 1 + 1 stitches and A 2 in round 1; A 2 + 1 and B 1 in round 2; 3 cm a stitch."""
    piece = Project(
        "shaped",
        Chart.from_rows(["AAB."] * 2),
        gauge=Gauge(10, 14),
        how=Construction(worked="turned"),
        multiplier=MultiplierChoice("rule of three"),
    )
    table = make_plan(piece).strands.set_index("yarn")
    assert table.worked_m.to_dict() == {"A": 0.15, "B": 0.09}


@pytest.mark.parametrize(("hand", "fabric"), [("right", "stockinette"), ("left", "garter")])
def test_yarn_overs_by_a_plain_count(hand, fabric):
    """Each strand takes its stitches, and one more for each round that it begins."""
    rows = draw_chart(8, stitches=16, rows=12, yarns=3, smooth=1.2, holes=True)
    how = Construction("turned", hand=hand, fabric=fabric)
    piece = Project("turned", Chart.from_rows(rows), gauge=Gauge(10, 14), how=how)
    plan = make_plan(replace(piece, multiplier=own(2)))
    # The runs of each round in working order, found cell by cell.
    runs = [run for row in stretches(rows, **asdict(how)) for run in row]
    takes = Counter()
    before = None
    for run, strand in zip(runs, plan.traced.of_run.tolist(), strict=True):
        worked_row = rows[::-1][run.row // how.rows_per_chart_row]
        stitches = len(worked_row[run.lo : run.hi + 1].replace(".", ""))
        takes[plan.traced.labels[strand]] += stitches + (run.row != before)
        before = run.row
    worked = dict(zip(plan.strands.strand, plan.strands.worked_m, strict=True))
    assert worked == pytest.approx({label: 0.02 * n for label, n in takes.items()})
    assert sum(takes.values()) == sum(plan.strands.stitches) + plan.traced.runs.rows


def test_halves_of_a_middle_start_add_up_to_the_strand():
    """The V of single stitches is one length begun from its middle: two halves, each with a
    tail."""
    plan = make_plan(Project("V", Chart.from_rows(V), limits=CarryLimits(across=1)))
    parts = parts_table(plan.traced, plan.multipliers, Allowances())
    halves = parts[parts.yarn == "B"]
    assert halves.part.tolist() == ["first half", "second half"]
    assert halves.tails_cm.tolist() == [15, 15]
    assert sorted(halves.stitches) == [9, 10]
    # The second is taken up in row 2 and hangs since row 1; rows are counted from 0 here.
    rows = {part.title: (part.hangs_from, part.first_row) for part in plan.parts}
    assert (rows["B1a"], rows["B1b"]) == ((0, 0), (0, 1))
    whole = plan.strands.set_index("strand").loc["B1"]
    assert whole.middle_start
    for name in (*SHARES, "wound_cm", "rule_cm"):
        assert halves[name].sum() == pytest.approx(
            100 * whole[name.replace("_cm", "_m")], abs=0.06
        ), name
    np.testing.assert_allclose(halves[SHARES].sum(axis=1), halves.wound_cm)
    by_strand = lengths_by_strand(plan.parts)
    assert list(by_strand) == [*SHARES, "wound_cm", "rule_cm"]
    assert len(by_strand) == plan.traced.count


def test_halves_share_the_carry_between_them():
    """By eye: one half goes on 3 stitches from where it hangs, the other begins 3 stitches from
    where the first was begun."""
    chart = Chart.from_rows(["AABAAAAAABA", "AAAAABAAAAA"])
    plan = make_plan(Project("fork", chart, gauge=Gauge(20, 28), allow=BARE))
    halves = parts_table(plan.traced, plan.multipliers, BARE).query("yarn == 'B'")
    assert halves.part.tolist() == ["first half", "second half"]
    assert halves.stitches.tolist() == [2, 1]
    assert halves.carried_cm.tolist() == pytest.approx([(3 + 1.5) * 0.5, 1.5 * 0.5])
    assert plan.strands.set_index("strand").carried_stitches["B1"] == 6


# Lengths without parts


def test_a_planned_length_by_hand():
    """4 times the width, and a margin of 1.645 × 0.2 times the width; equal widths are known."""
    planned = Planned({"A": Multiplier(4, 0.2)}, BARE)
    assert planned.cm("A", np.array([10.0, 20.0, 10.0])) == pytest.approx(
        [43.29, 86.58, 43.29], abs=0.01
    )
    assert planned.cm("A", np.array([20.0, 1.0])) == pytest.approx([86.58, 4.33], abs=0.01)


@pytest.mark.parametrize(("worked", "selvedge"), [("flat", 0), ("flat", 2), ("turned", 1)])
def test_all_strands_are_planned_as_their_parts_are(worked, selvedge):
    """Cast-on, bind-off, carries, tails and margins of the V and its ground."""
    how = Construction(worked, selvedge=selvedge)
    gauge, limits = Gauge(20, 25), CarryLimits(across=1)
    plan = make_plan(Project("V", Chart.from_rows(V), gauge=gauge, how=how, limits=limits))
    planned = Planned(plan.multipliers, plan.project.allow)
    assert plan.traced.middle_starts == 1
    for units in ("cm", "in"):
        in_all = sum(measured_cm(part.wound_cm, units) for part in plan.parts)
        assert planned.measured_by_half(plan.traced, units).sum() == pytest.approx(in_all)
