"""What rounds cost, and where the round had better begin, against whole plans."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner import CarryLimits, Chart, Construction, PlanError, make_plan, open_project
from planner.choices import begun_at, best_start, find_starts, starts_in_words
from planner.piece import OwnChoice
from tests.conftest import DEMO
from tests.helpers.choices import embroider, piece, worked_through
from tests.helpers.knitter import draw_chart

COWL = DEMO.parents[1] / "tests" / "cases" / "pieces" / "cowl"
ROUNDS, TURNED = Construction(worked="rounds"), Construction(worked="turned")


def about_rounds(plan):
    return [note for note in plan.notes if "never turned" in note]


def test_the_cowl_says_what_rounds_cost():
    cowl = open_project(COWL)
    ends = {}
    for worked in ("rounds", "turned", "flat"):
        plan = make_plan(replace(cowl, how=replace(cowl.how, worked=worked)))
        ends[worked] = plan.ends_in_all
        assert len(about_rounds(plan)) == (worked == "rounds")
    assert ends == {"rounds": 60, "turned": 28, "flat": 28}
    [note] = about_rounds(make_plan(cowl))
    assert "60 ends, in turned rounds 28, flat 28" in note


@pytest.mark.parametrize(
    ("rows", "ends"),
    [
        # By hand, nothing carried: every yarn of every round is a strand, flat and turned each area
        # is one. Two colours in four rounds: 16 ends against 4.
        (["AAABBB"] * 4, "16 ends, in turned rounds 4, flat 4"),
        # 12 against 4: eight more.
        (["AAABBB"] * 3, "12 ends, in turned rounds 4, flat 4"),
        # 8 against 4 is half as many again, but four ends.
        (["AAABBB"] * 2, None),
        # One colour goes round and round.
        (["AAAAAA"] * 9, None),
    ],
)
def test_many_more_ends(rows, ends):
    strict = CarryLimits(across=0, sideways=0, up=0, middle_start=False)
    notes = about_rounds(make_plan(piece(rows, how=ROUNDS, limits=strict)))
    assert [ends in note for note in notes] == ([True] if ends else [])


def test_with_rows_on_the_needles_it_is_too_late():
    project = piece(["AAABBB"] * 4, how=ROUNDS, limits=CarryLimits(sideways=0, middle_start=False))
    plan = make_plan(project)
    assert about_rounds(plan)
    knitted = replace(project, progress=worked_through(plan, 1))
    assert about_rounds(make_plan(knitted)) == []
    with pytest.raises(PlanError, match="knitted already"):
        find_starts(knitted)


# Where the round begins


def test_begun_elsewhere_by_eye():
    """The join at the right of stitch 2 from the right: D is first and A last."""
    assert begun_at(Chart.from_rows(["ABCD", "EFGH"]), 2).to_rows() == [list("DABC"), list("HEFG")]
    chart = Chart.from_rows(["AB.D"])
    assert begun_at(chart, 1) == chart


@pytest.mark.parametrize("how", [ROUNDS, TURNED, Construction("turned", "WS", "left", "garter")])
@pytest.mark.parametrize("number", range(6))
def test_every_start_against_a_whole_plan(how, number):
    """Starts that are left out are like the one before them; the best is the best of all."""
    rows = draw_chart(number, stitches=20, rows=8, yarns=3, smooth=(2, 0.8)[number % 2])
    # A plain band, wide enough to hold starts that are alike.
    plain = "A" * 14 if number % 3 else "B" * 14
    rows = [row[:12] + plain + row[12:] for row in rows]
    limits = CarryLimits(across=number % 3, sideways=2 + number % 2, up=1)
    project = piece(rows, how=how, limits=limits)
    starts = {start.stitch: start for start in find_starts(project)}
    assert 1 in starts
    assert len(starts) < 34
    traced = []
    like = starts[1]
    for stitch in range(1, 35):
        turned = [row[len(row) - stitch + 1 :] + row[: len(row) - stitch + 1] for row in rows]
        plan = make_plan(piece(turned, how=how, limits=limits)).traced
        like = starts.get(stitch, like)
        found = (plan.count, plan.middle_starts, round(plan.carried_stitches, 4))
        assert found == like.rank, stitch
        traced.append(found)
    assert best_start(list(starts.values())).rank == min(traced)


def test_an_area_across_the_join():
    """By hand, in turned rounds with nothing carried: a block of B on both sides of the join takes
    a strand on each side, for neither leaves where the other comes. Begun beside the block, between
    stitches 2 and 3 or 6 and 7, B is one strand; anywhere else the join parts B or A."""
    rows = ["BBAAAABB"] * 4
    strict = CarryLimits(across=0, sideways=0, up=0, middle_start=False)
    project = piece(rows, how=TURNED, limits=strict)
    starts = find_starts(project)
    by_stitch = {start.stitch: start.strands for start in starts}
    assert by_stitch == {1: 3, 2: 3, 3: 2, 4: 3, 5: 3, 6: 3, 7: 2, 8: 3}
    assert best_start(starts).stitch == 3
    lines = starts_in_words(project, starts)
    assert lines == [
        "As the round begins now: 3 strands, 6 ends, 0 begun from the middle, 0 stitches carried.",
        "Best of 8 starts, between stitches 2 and 3 from the right: 2 strands, 4 ends, 0 begun "
        "from the middle, 0 stitches carried.",
    ]
    begun = replace(project, chart=begun_at(project.chart, 3))
    assert begun.chart.to_rows()[0] == list("BBBBAAAA")
    assert starts_in_words(begun, find_starts(begun))[-1] == (
        "None of the 8 starts of the round takes less."
    )


def test_own_choices_are_named():
    """Carries that were decided belong to one start; what is embroidered is not knitted."""
    cut = OwnChoice("carry", "B", 1, 1, "to row 2 stitch 2", "no")
    plain = piece(["BBAAAABB"] * 4, how=TURNED)
    with_cut = replace(plain, choices=(cut,))
    starts = find_starts(with_cut)
    assert starts == find_starts(plain)
    assert "have to be made again" in starts_in_words(with_cut, starts)[-1]
    embroidered = replace(plain, choices=(embroider("B", 1, 1),))
    assert {start.strands for start in find_starts(embroidered)} == {1}


def test_flat_has_no_start():
    with pytest.raises(PlanError, match="worked flat"):
        find_starts(piece(["AB", "AB"]))


def test_a_plain_tube_has_one_start():
    assert [start.stitch for start in find_starts(piece(["A" * 9] * 3, how=ROUNDS))] == [1]
    assert np.array_equal(begun_at(Chart.from_rows(["AAB"]), 3).cells, [[0, 1, 0]])
