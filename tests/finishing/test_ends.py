"""Ends to sew in: as many as the plan and the simulated knitter have, each found by its words."""

from collections import Counter
from dataclasses import asdict, replace

import numpy as np
import pytest

from planner import make_plan
from planner.finishing import (
    areas_of_ends,
    ends_apart,
    ends_left,
    ends_to_run,
    how_to_run,
    marks_of,
)
from planner.folder import read_progress, with_entry
from planner.piece import SEWN_IN, TAKEN_OUT, UNDONE, Allowances, Construction, Habits
from tests.helpers.choices import embroider, worked_through
from tests.helpers.finisher import Finisher
from tests.helpers.knitter import Knitter, Reach, draw_chart
from tests.helpers.plans import demo, plan_of
from tests.helpers.rows import every_random_case, random_case


def followed(rows, plan):
    """Where each end was found by its words, with its yarn."""
    how = plan.traced.how
    hand = Finisher(rows, times=how.rows_per_chart_row, tube=how.is_tube)
    return [hand.follow(how_to_run(each, plan)) for each in ends_to_run(plan)]


@every_random_case
def test_each_end_is_found_by_its_words_and_run_in_its_own_colour(number):
    rows, plan = random_case(number)
    found = followed(rows, plan)
    assert len(found) == plan.ends_in_all == ends_left(plan)
    of_yarn = Counter(yarn for _, _, yarn in found)
    assert of_yarn == Counter(end.yarn for end in plan.ends_to_sew)


@pytest.mark.parametrize("seed", range(20))
def test_small_areas_too(seed):
    """Charts with areas of a few stitches, where a border is soon at its end."""
    rows = draw_chart(seed, stitches=16, rows=14, yarns=4, smooth=0.8, holes=seed % 2 == 1)
    how = (Construction(), Construction(worked="turned"), Construction(hand="left"))[seed % 3]
    plan = plan_of(rows, how=how)
    assert len(followed(rows, plan)) == plan.ends_in_all


@pytest.mark.parametrize("seed", range(4))
def test_as_many_as_the_simulated_knitter_has(seed):
    rows = draw_chart(seed, stitches=24, rows=20, yarns=3, smooth=2)
    plan = plan_of(rows)
    strands, gauge = plan.traced, plan.project.gauge
    limits = plan.project.limits.at(gauge)
    knitter = Knitter(rows, asdict(strands.how), Reach(*limits), gauge.aspect)
    yarn_of = [strands.chart.letters[yarn] for yarn in strands.yarn]
    report = knitter.knit(strands.of_run.tolist(), strands.half.tolist(), yarn_of)
    assert len(ends_to_run(plan)) == report.ends + plan.refill_ends


def test_an_end_goes_round_its_neighbour_and_up_its_border():
    """By hand: B enters its first stitch from the right, in row 3 (RS), where A lies beside it; the
    back shows that at the left."""
    plan = plan_of(["AAABBBBAAA"] * 10 + ["A" * 10] * 2)
    words = [how_to_run(each, plan) for each in ends_to_run(plan)]
    assert (
        "B1 starts in row 3, stitch 4: round A on its left, then up along that border, over 8 rows"
    ) in words
    # Row 12 (WS) goes from left to right, so B stops at its right.
    assert any(
        line.startswith("B1 ends in row 12, stitch 4: round A on its left") for line in words
    )


def test_short_areas_are_gone_twice_and_dots_are_said_as_such():
    plan = plan_of([*["A" * 9] * 3, *["AAABBBAAA"] * 4, *["A" * 9] * 3])
    words = [how_to_run(each, plan) for each in ends_to_run(plan) if each.end.yarn == "B"]
    assert all(line.endswith("over 4 rows and back") for line in words)
    dot = plan_of([*["A" * 9] * 2, "AAAABAAAA", *["A" * 9] * 2])
    words = [how_to_run(each, dot) for each in ends_to_run(dot) if each.end.yarn == "B"]
    assert all("behind 1 stitch of its own row, then on behind the next" in line for line in words)


def test_areas_come_from_the_bottom_and_hold_every_end_once():
    plan = demo()
    areas = areas_of_ends(plan)
    assert [each.area for each in areas] == sorted({end.area for end in plan.ends_to_sew})
    numbers = [end.number for each in areas for end in each.ends]
    assert numbers == list(range(1, 67))
    counted = plan.ends_by_area.set_index("area").ends
    for each in areas:
        assert each.left == len(each.ends) == counted[each.area]
        rows = [end.end.row for end in each.ends]
        assert rows == sorted(rows)


def test_caught_and_embroidered_ends_stand_apart():
    rows = [*["A" * 20] * 3, *["AAAABBBBBBBBBBBBAAAA"] * 6, *["A" * 20] * 3]
    caught = plan_of(rows, habits=Habits(tails_caught=True))
    kept = ends_apart(caught)
    assert kept[0].startswith(f"{caught.ends_caught} ends more, caught")
    assert len(ends_to_run(caught)) == caught.ends_in_all
    sewn = plan_of(rows, choices=(embroider("B", 4, 5),))
    assert sum(each.left for each in areas_of_ends(sewn)) == sewn.ends_in_all - 2
    last = ends_to_run(sewn)[-2:]
    assert {how_to_run(each, sewn) for each in last} == {
        "embroidery B1: behind its own stitches, after blocking"
    }


def test_a_length_cast_on_with_has_an_end_at_either_side():
    plan = plan_of(["AABB"] * 9, allow=Allowances(cast_on_in="A"))
    words = [how_to_run(each, plan) for each in ends_to_run(plan)]
    assert sum(line.endswith(": along the cast-on edge") for line in words) == 2
    assert len(words) == plan.ends_in_all


def sewn(plan, *ends):
    """The plan when these ends are logged as sewn in."""
    project = plan.project
    for each in ends:
        strand, row, note = each.mark
        log = with_entry(project, SEWN_IN, row, strand=strand, note=note)
        project = replace(project, progress=log)
    return make_plan(project)


def test_what_is_logged_as_sewn_in_is_left_out_of_the_count():
    _, plan = random_case(2)
    plan = make_plan(replace(plan.project, progress=worked_through(plan, plan.traced.runs.rows)))
    every = ends_to_run(plan)
    some = every[::3]
    after = sewn(plan, *some)
    assert ends_left(after) == len(every) - len(some)
    assert [each.is_sewn for each in ends_to_run(after)] == [each in some for each in every]
    # All in all, nothing is left, and the same plan comes of it.
    done = sewn(plan, *every)
    assert ends_left(done) == 0
    assert len(ends_to_run(done)) == plan.ends_in_all
    assert np.array_equal(done.traced.of_run, plan.traced.of_run)


def test_two_ends_at_one_place_are_told_apart_by_their_number():
    """A join leaves two ends at one place; one mark is one of them."""
    plans = (random_case(number)[1] for number in range(12))
    plan = next(plan for plan in plans if plan.refill_ends)
    joins = [each for each in ends_to_run(plan) if each.end.what == "join"]
    pair = [each for each in joins if each.mark == joins[0].mark]
    assert len(pair) == 2
    after = ends_to_run(sewn(plan, pair[0]))
    assert [each.is_sewn for each in after if each.mark == pair[0].mark] == [True, False]


def test_a_mark_can_be_taken_back_and_goes_with_its_row():
    _, plan = random_case(2)
    plan = make_plan(replace(plan.project, progress=worked_through(plan, plan.traced.runs.rows)))
    end = max(ends_to_run(plan), key=lambda each: each.end.row)
    after = sewn(plan, end)
    (number,) = marks_of(after.project.progress)[end.mark]
    log = with_entry(after.project, TAKEN_OUT, end.mark[1], other=str(number))
    assert ends_left(make_plan(replace(after.project, progress=log))) == plan.ends_in_all
    unravelled = with_entry(after.project, UNDONE, plan.traced.runs.rows)
    assert marks_of(unravelled) == {}


def test_logs_from_before_are_read_as_they_were(tmp_path):
    lines = "number,date,what,row\n1,2026-03-01,row worked,1\n2,2026-03-01,end sewn in,1\n"
    (tmp_path / "progress.csv").write_text(lines, "utf-8")
    worked, mark = read_progress(tmp_path)
    assert (worked.what, mark.what) == ("row worked", SEWN_IN)
    assert marks_of([worked]) == {}
