"""The knitter's choices place by place: what is embroidered, carries beyond the limits, middle starts given up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner import (
    CarryLimits,
    Chart,
    Construction,
    Gauge,
    PlanError,
    Project,
    Yarn,
    make_plan,
    open_project,
    trace_strands,
)
from planner.choices.asked import ask, choice_at, choice_of_area
from planner.folder import keep_choice, read_choices
from planner.multiplier.multiplier import Multiplier
from planner.piece.log import WORKED, Entry
from planner.piece.settings import MultiplierChoice, OwnChoice
from planner.strands.areas import label_areas
from planner.strands.knitted import note_row
from planner.strands.links import MIDDLE
from planner.supplies.lengths import Planned
from tests.conftest import DEMO
from tests.helpers.knitter import draw_chart
from tests.helpers.parts import parts_table

STRICT = CarryLimits(middle_start=False)
RING = [
    *["B" * 11] * 3,
    *["BBBBYYYBBBB"] * 4,
    *["BYYYBBBYYYB"] * 5,
    *["BBBBYYYBBBB"] * 4,
    *["B" * 11] * 3,
]
# The dot of Y in the middle of a ring of Y on B: the inner 3 × 5 of the ring chart is a patch of B within the ring.


def piece(rows, *choices, limits=STRICT, **asked):
    return Project("piece", Chart.from_rows(rows), limits=limits, choices=choices, **asked)


def embroider(yarn, row, stitch, how="by itself"):
    return OwnChoice("embroider", yarn, row, stitch, "whole", how)


def knitted_rows(plan):
    return ["".join(row) for row in plan.traced.chart.to_rows()]


def test_the_middle_of_the_ring():
    """Embroidering the inner 3 × 5 leaves one B round it and two Y: 3 strands, 15 duplicate stitches. Published,
    textilefusion.com/?p=1170 (the ring); computed (the embroidery)."""
    ring = piece(RING, limits=replace(STRICT, sideways=3))
    assert make_plan(ring).traced.count == 5
    plan = make_plan(replace(ring, choices=(embroider("B", 8, 6),)))
    assert knitted_rows(plan)[7:12] == ["BYYYYYYYYYB"] * 5
    assert plan.traced.count == 3
    assert plan.embroidery[["yarn", "ground", "stitches", "ends"]].values.tolist() == [
        ["B", "Y", 15, 2]
    ]


def test_a_line_of_single_stitches():
    """30 single stitches embroidered: one strand of ground. Computed."""
    plan = make_plan(piece(["WWWWWKWWWWW"] * 30, embroider("K", 7, 6)))
    assert (plan.traced.count, plan.traced.labels) == (1, ("W1",))
    assert plan.embroidery.stitches.tolist() == [30]
    assert (plan.embroidered >= 0).sum() == 30
    assert (plan.embroidered[:, 5] == 0).all()
    assert plan.shopping_list.yarn.tolist() == ["K", "W"]
    table = plan.shopping_list.set_index("yarn")
    assert (
        table.of_it_embroidered_m["K"]
        == table.piece_m["K"]
        == pytest.approx(plan.embroidery.length_m[0], abs=0.005)
    )
    assert table.of_it_embroidered_m["W"] == 0
    assert "embroidered afterwards: stitch 6 in K" in str(plan.cards[3])
    assert "1 area, 30 stitches, " in plan.summary()
    assert "4 ends to sew in (2 of them from embroidery)" in plan.summary()
    assert "assumption" in plan.summary()


def test_length_of_embroidery():
    """By hand: 30 stitches of 0.5 cm at a multiplier of 4 without margin, 1.1 times, and two tails of 15 cm: 96 cm."""
    asked = {"gauge": Gauge(20, 28), "multiplier": MultiplierChoice("own", 4.0, 0.0)}
    plan = make_plan(piece(["WWWWWKWWWWW"] * 30, embroider("K", 7, 6), **asked))
    assert plan.embroidery.length_m.tolist() == [0.96]
    factor = replace(plan.project.allow, embroider_factor=2, tail_cm=10)
    assert make_plan(replace(plan.project, allow=factor)).embroidery.length_m.tolist() == [1.4]


@pytest.mark.parametrize(
    ("rows", "choices", "knitted"),
    [
        (["NNYNN", "TTYTT"], [("Y", 1, 3)], ["NNNNN", "TTTTT"]),  # beside it in each row
        (
            ["NNNTT", "NNYTT", "NNTTT"],
            [("Y", 2, 3)],
            ["NNNTT", "NNNTT", "NNTTT"],
        ),  # equal borders: the first letter
        (
            ["NNNTT", "NNYTT", "NNNTT"],
            [("Y", 2, 3)],
            ["NNNTT", "NNNTT", "NNNTT"],
        ),  # the longer border
        (
            ["NNN", "YYY", "TTT", "TTT"],
            [("Y", 3, 1)],
            ["NNN", "NNN", "TTT", "TTT"],
        ),  # from edge to edge
        (["NNYZZTT"], [("Y", 1, 5), ("Z", 1, 4)], ["NNNTTTT"]),  # two areas side by side
        (["YNTTN"], [("Y", 1, 5)], ["NNTTN"]),  # at the edge
        (["NN.YNN"], [("Y", 1, 3)], ["NN.NNN"]),  # past a place without a stitch
    ],
)
def test_ground_beneath(rows, choices, knitted):
    plan = make_plan(piece(rows, *(embroider(*choice) for choice in choices)))
    assert knitted_rows(plan) == knitted


def test_round_the_tube_and_the_knitters_own_ground():
    rows = ["YNNTT", "YNNTT"]
    around = piece(rows, embroider("Y", 1, 5), how=Construction(worked="rounds"))
    assert knitted_rows(make_plan(around)) == ["NNNTT"] * 2
    chosen = piece(rows, embroider("Y", 1, 5, "on T"))
    assert knitted_rows(make_plan(chosen)) == ["TNNTT"] * 2
    assert make_plan(chosen).embroidery.ground.tolist() == ["T"]


def test_garter_counts_both_rows_of_a_ridge():
    plan = make_plan(piece(["WWKWW"] * 2, embroider("K", 3, 3), how=Construction(fabric="garter")))
    assert plan.embroidery.stitches.tolist() == [4]
    assert ["embroidered" in str(card) for card in plan.cards] == [False, True, False, True]


def test_nothing_left_to_knit_on():
    with pytest.raises(PlanError, match="Nothing is knitted beside row 1"):
        make_plan(piece(["YYY"], embroider("Y", 1, 1)))


def test_a_later_choice_about_the_same_area_holds():
    rows = ["NNYYNN"] * 2
    assert make_plan(
        piece(rows, embroider("Y", 1, 3), embroider("Y", 2, 4, "refused"))
    ).embroidery.empty
    asked = ask(piece(rows, embroider("Y", 1, 3, "refused")))
    assert (asked.refused["embroider"], dict(asked.on)) == (frozenset({2}), {})


@pytest.mark.parametrize(
    ("choice", "words"),
    [
        (embroider("Y", 1, 1), ["embroider Y", "row 1, stitch 1", "no Y"]),
        (embroider("Y", 9, 1), ["row 9", "kept"]),
        (embroider("N", 1, 99), ["stitch 99", "kept"]),
        (embroider("Y", 1, 3, "on Q"), ["Q", "not a yarn"]),
        (embroider("Y", 1, 3, "on Y"), ["its own yarn"]),
        (
            OwnChoice("carry", "Y", 1, 3, "to row 2 stitch 1", "yes"),
            ["carry of Y", "to row 2 stitch 1", "kept"],
        ),
        (OwnChoice("carry", "Y", 2, 3, "to row 1 stitch 3", "yes"), ["no such carry"]),
        (OwnChoice("middle", "Y", 1, 1, "whole", "no"), ["middle start of Y", "kept"]),
    ],
)
def test_a_choice_whose_place_is_gone_is_kept_and_said(choice, words):
    rows = ["NNYYNN"] * 2
    plan = make_plan(piece(rows, choice))
    [note] = plan.notes
    assert [word for word in words if word not in note] == []
    assert knitted_rows(plan) == rows


@pytest.mark.parametrize(
    "choice",
    [
        embroider("Y", 1, 3, "yes"),
        OwnChoice("carry", "Y", 1, 3, "whole", "yes"),
        OwnChoice("carry", "Y", 1, 3, "to row 2 stitch 3", "perhaps"),
        OwnChoice("middle", "Y", 1, 3, "whole", "yes"),
    ],
)
def test_a_choice_that_cannot_be_understood(choice):
    with pytest.raises(PlanError, match=r"Your choice .* Y at row 1, stitch 3"):
        make_plan(piece(["NNYYNN"] * 2, choice))


# Carries and middle starts


def test_a_carry_beyond_the_limits():
    """By eye: two patches of B, six rows apart; the carry over six rows joins them."""
    rows = [*["AABBAA"] * 2, *["A" * 6] * 6, *["AABBAA"] * 2]
    plan = make_plan(piece(rows))
    b = [
        int(plan.traced.last_run[plan.traced.labels.index("B1")]),
        int(plan.traced.first_run[plan.traced.labels.index("B2")]),
    ]
    carry = choice_at(plan.traced, "carry", b[0], "yes", b[1])
    assert carry == OwnChoice("carry", "B", 2, 4, "to row 9 stitch 3", "yes")
    joined = make_plan(piece(rows, carry))
    assert joined.traced.count == plan.traced.count - 1
    assert joined.notes == ()
    assert joined.traced.links.skipped.max() == 6
    assert (
        make_plan(piece(rows, replace(carry, choice="refused"))).traced.count == plan.traced.count
    )


def test_two_carries_from_one_run():
    """Only one can be made; the plan says which is not."""
    rows = ["AABAABAA"] + ["A" * 8] * 4 + ["AABAAAAA"]
    both = [OwnChoice("carry", "B", 1, 6, f"to row 6 stitch {stitch}", "yes") for stitch in (3, 6)]
    plan = make_plan(piece(rows, *both))
    [note] = plan.notes
    assert "goes elsewhere" in note
    assert plan.traced.labels.count("B2") == 1


def test_a_carry_cut_though_it_is_within_the_limits():
    rows = [*["AABBAA"] * 2, *["A" * 6] * 2, *["AABBAA"] * 2]
    assert make_plan(piece(rows)).traced.labels.count("B2") == 0
    assert (
        "B2"
        in make_plan(
            piece(rows, OwnChoice("carry", "B", 2, 4, "to row 5 stitch 3", "no"))
        ).traced.labels
    )


def test_a_middle_start_given_up():
    """The V from its middle; without it, one strand more. Computed (check V of the strands)."""
    rows = [["A"] * 31 for _ in range(10)]
    for y in range(10):
        rows[9 - y][15 - y] = rows[9 - y][15 + y] = "B"
    v = piece(rows, limits=CarryLimits(across=1))
    plan = make_plan(v)
    middle = plan.traced.links.a[plan.traced.links.kind == MIDDLE]
    assert (plan.traced.count, len(middle)) == (2, 1)
    given_up = make_plan(
        replace(v, choices=(choice_at(plan.traced, "middle", int(middle[0]), "no"),))
    )
    assert (given_up.traced.count, given_up.traced.middle_starts) == (3, 0)


@pytest.mark.parametrize("worked", ["flat", "rounds"])
def test_all_carries_allowed_one_by_one_are_as_good_as_wider_limits(worked):
    """What is found under wide limits, allowed carry by carry under strict ones, gives the same."""
    for number in range(6):
        chart = Chart.from_rows(draw_chart(number, stitches=22, rows=16, yarns=3, smooth=1.0))
        wide, strict = CarryLimits(3, 6, 3, False), CarryLimits(0, 1, 0, False)
        how = Construction(worked=worked)
        best = trace_strands(chart, how, limits=wide)
        pairs = list(zip(best.possible.a.tolist(), best.possible.b.tolist(), strict=True))
        again = trace_strands(chart, how, limits=strict, carries=pairs)
        assert (again.count, again.carried_stitches) == (
            best.count,
            pytest.approx(best.carried_stitches),
        )
        some = pairs[::3]
        assert trace_strands(chart, how, limits=wide, cuts=pairs).count == best.runs.count
        kept = trace_strands(
            chart, how, limits=wide, cuts=[pair for pair in pairs if pair not in some]
        )
        others = [pair for pair in pairs if pair not in some]
        only = trace_strands(
            chart, how, limits=CarryLimits(0, 0, 0, False), carries=some, cuts=others
        )
        assert kept.count == only.count


# With what is knitted already, and with files


def worked_through(plan, rows):
    stitches = plan.project.row_totals()
    return tuple(
        Entry(r, "2026-01-01", WORKED, r, stitches[r - 1], note_row(plan.traced, r))
        for r in range(1, rows + 1)
    )


def test_rows_that_are_worked_stay_as_they_were_knitted():
    rows = ["NNNYYNNN"] * 6
    plain, choice = piece(rows), embroider("Y", 1, 4)
    begun = replace(plain, progress=worked_through(make_plan(plain), 2), choices=(choice,))
    assert knitted_rows(make_plan(begun)) == ["N" * 8] * 4 + rows[:2]
    assert make_plan(begun).embroidery[["first_chart_row", "stitches"]].values.tolist() == [[3, 8]]
    beneath = make_plan(piece(rows, choice))
    later = replace(plain, progress=worked_through(beneath, 2), choices=(choice,))
    assert knitted_rows(make_plan(later)) == ["N" * 8] * 6
    with pytest.raises(PlanError, match="put back what was changed for those rows"):
        make_plan(replace(later, choices=()))


def test_choices_in_the_folder(demo_copy):
    project = open_project(demo_copy)
    areas = label_areas(project.chart, project.how)
    smallest = int(np.bincount(areas.ravel())[1:].argmin()) + 1
    choice = choice_of_area(project, areas, smallest)
    keep_choice(demo_copy, choice)
    carry = OwnChoice("carry", "N", 40, 3, "to row 41 stitch 3", "refused")
    keep_choice(demo_copy, carry)
    assert read_choices(demo_copy / "choices.csv") == (choice, carry)
    assert make_plan(open_project(demo_copy)).embroidery.area.tolist() == [smallest]
    keep_choice(demo_copy, replace(choice, choice=""))
    assert make_plan(open_project(demo_copy)).embroidery.empty


def test_a_yarn_that_is_only_embroidered_and_not_listed():
    plan = make_plan(piece(["WWKWW"] * 3, embroider("K", 1, 3), yarns={"W": Yarn("W")}))
    assert "K is embroidered, but no such yarn in yarns.csv" in plan.findings.finding.tolist()
    assert plan.traced.chart.letters == ("K", "W")


@pytest.mark.parametrize("measured", [False, True])
def test_planned_lengths_add_up_as_the_parts_do(measured):
    project = open_project(DEMO)
    project = replace(project, multiplier=MultiplierChoice("measured" if measured else "estimate"))
    plan, allow = make_plan(project), project.allow
    total = Planned(plan.multipliers, allow).wound_cm(plan.traced)
    assert total == pytest.approx(parts_table(plan.traced, plan.multipliers, allow).wound_cm.sum())
    assert Planned({"A": Multiplier(4, 0)}, allow).cm("A", [1, 2, 1]).tolist() == [4, 8, 4]
