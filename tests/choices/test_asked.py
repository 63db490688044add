"""The knitter's choices place by place: which hold, which are gone, and what they do to a plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner import (
    CarryLimits,
    Chart,
    Construction,
    PlanError,
    make_plan,
    open_project,
    trace_strands,
)
from planner.choices.asked import ask
from planner.choices.places import choice_at, choice_in_words, choice_of_area
from planner.folder import read_choices
from planner.piece import OwnChoice
from planner.strands import MIDDLE, label_areas
from tests.helpers.choices import embroider, knitted_rows, piece
from tests.helpers.folders import chosen
from tests.helpers.knitter import draw_chart


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


@pytest.mark.parametrize("worked", ["flat", "rounds", "turned"])
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


def test_choices_in_the_folder(demo_copy):
    project = open_project(demo_copy)
    areas = label_areas(project.chart, project.how)
    smallest = int(np.bincount(areas.ravel())[1:].argmin()) + 1
    choice = choice_of_area(project, areas, smallest)
    chosen(demo_copy, choice)
    carry = OwnChoice("carry", "N", 40, 3, "to row 41 stitch 3", "refused")
    chosen(demo_copy, carry)
    assert read_choices(demo_copy / "choices.csv") == (choice, carry)
    assert make_plan(open_project(demo_copy)).embroidery.area.tolist() == [smallest]
    chosen(demo_copy, replace(choice, choice=""))
    assert make_plan(open_project(demo_copy)).embroidery.empty


@pytest.mark.parametrize(
    ("choice", "words"),
    [
        (embroider("Y", 1, 3), "embroider Y, row 1, stitch 3: by itself"),
        (
            OwnChoice("middle", "Y", 1, 3, "whole", "no"),
            "middle start of Y, row 1, stitch 3: begun plainly",
        ),
        (
            OwnChoice("middle", "Y", 1, 3, "whole", "refused"),
            "middle start of Y, row 1, stitch 3: refused",
        ),
        (
            OwnChoice("carry", "Y", 1, 4, "to row 4 stitch 7", "yes"),
            "carry Y in row 1 over 3 stitches and up to row 4, from its run at stitch 4: yes",
        ),
        (
            OwnChoice("carry", "Y", 1, 4, "to row 1 stitch 7", "no"),
            "carry Y in row 1 over 2 stitches, from its run at stitch 4: no",
        ),
        (
            OwnChoice("carry", "Y", 1, 4, "to row 9 stitch 7", "yes"),
            "carry Y, row 1, stitch 4 to row 9 stitch 7: yes",
        ),
    ],
)
def test_a_choice_in_words(choice, words):
    """By eye: row 1 is worked leftwards, row 4 rightwards."""
    rows = ["NYNNNNNN", *["N" * 8] * 2, "NYNNYNNN"]
    assert choice_in_words(choice, make_plan(piece(rows)).traced) == words
