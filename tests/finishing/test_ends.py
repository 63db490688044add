"""Ends to sew in: as many as the plan and the simulated knitter have, each found by its words."""

from collections import Counter
from dataclasses import asdict, replace

import numpy as np
import pytest

from planner import CarryLimits, make_plan
from planner.edition.practice import practice_piece
from planner.finishing import (
    areas_of_ends,
    ends_apart,
    ends_in_words,
    ends_left,
    ends_to_run,
    how_far,
    how_to_run,
    how_to_sew,
    marks_of,
    not_there_yet,
    way_in_words,
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


HOW = {
    "flat": Construction(),
    "flat, left-handed": Construction(hand="left", first_row="WS"),
    "garter": Construction(fabric="garter"),
    "rounds": Construction(worked="rounds"),
    "turned": Construction(worked="turned"),
}


@pytest.mark.parametrize("every", [1, 7, 10])
@pytest.mark.parametrize("name", HOW)
def test_an_end_is_run_when_the_rows_it_lies_along_are_knitted(name, every):
    """The hand that follows the words meets no row that is not there by then; it is called to the
    needle after a row that is a multiple of `every`, or after the last."""
    rows = draw_chart(12, stitches=16, rows=20, yarns=3, smooth=1.5)
    plan = plan_of(rows, how=HOW[name], habits=Habits(sew_every=every))
    times, last = plan.traced.how.rows_per_chart_row, plan.traced.runs.rows
    hand = Finisher(rows, times=times, tube=plan.traced.how.is_tube)
    upwards = set()
    for each in ends_to_run(plan):
        hand.follow(how_to_run(each, plan))
        rows_met = hand.highest * times
        if each.way and each.way.upwards and each.way.rows:
            upwards.add(each.number)
            # As early as that, and no earlier.
            assert each.from_row == min(rows_met + times, last)
        else:
            assert each.from_row == each.end.row + 1 > rows_met
        assert each.from_row <= each.sew_after <= last
        assert each.sew_after == last or each.sew_after % every == 0
        assert each.sew_after - each.from_row < every
    assert upwards


@pytest.mark.parametrize("worked", ["rounds", "turned"])
def test_rounds_have_no_edge_to_run_along(worked):
    """The fabric of rounds is a tube: an area that goes on over the seam has no border there."""
    plan = plan_of(["AAABBBBBBBAA"] * 12, how=Construction(worked=worked))
    assert not any("edge of the piece" in way_in_words(each, plan) for each in ends_to_run(plan))


def test_a_no_stitch_cell_is_no_edge():
    """By hand: the gap in B's row parts nothing; B's end lies between A on either side, not at the
    edge of the piece."""
    plan = plan_of(["AAABB.BBBAAA"] * 12)
    of_b = [each for each in ends_to_run(plan) if each.end.yarn == "B"]
    assert of_b
    assert not any("edge of the piece" in way_in_words(each, plan) for each in of_b)


def test_an_end_keeps_off_a_border_that_has_one_already():
    """By hand: B starts and stops at the same side of its four rows, which hold one end; so the
    other goes to the border on the other side."""
    plan = plan_of([*["A" * 9] * 3, *["AAABBBAAA"] * 4, *["A" * 9] * 3])
    start, stop = (each for each in ends_to_run(plan) if each.end.yarn == "B")
    assert {start.way.side, stop.way.side} == {"left", "right"}
    assert start.way.rows == stop.way.rows == 4


@pytest.mark.parametrize("name", ["flat", "flat, left-handed", "rounds", "turned"])
@pytest.mark.parametrize("seed", range(6))
def test_what_is_cast_on_with_hangs_where_a_cast_on_leaves_it(name, seed):
    """A hand casts on by the lines of the card, stitch by stitch.

    Both threads of a long-tail cast-on go into every stitch, so that its tail leaves the last one;
    of a single thread the tail stays at the first (facts of the trade). The row begins with the
    last stitch cast on, as the card says.
    """
    rows = draw_chart(seed, stitches=18, rows=12, yarns=3, smooth=1.5)
    if not seed:
        # A is taken along behind a stitch, so that it has two sections.
        rows = ["A" * 7 + "B" + "A" * 10] * 12
    across = CarryLimits(across=1)
    plan = plan_of(rows, how=HOW[name], allow=Allowances(cast_on=4), limits=across)
    assert seed or max(Counter(line.strand for line in plan.all_cards.cast_on.lines).values()) == 2
    card = plan.all_cards.cast_on
    assert "begins with the last stitch cast on" in card.said[0]
    tails = {}
    cast_on = 0
    for line in card.lines:
        first, _ = tails.get(line.strand, (cast_on, None))
        cast_on += line.stitches
        tails[line.strand] = first, cast_on - 1
    # Stitches count from the right: the last one is the first of a row that is worked leftwards.
    number = [18 - at if plan.traced.how.runs_leftwards(0) else at + 1 for at in range(18)]
    begun = [each for each in ends_to_run(plan) if (each.end.what, each.end.row) == ("start", 0)]
    assert begun
    for each in begun:
        first, last = tails[each.end.strand]
        assert each.end.stitch == number[last]
        assert each.with_one_thread[0] == number[first]
        if first != last:
            assert f"cast on with one thread, from stitch {number[first]}: " in (
                how_to_run(each, plan)
            )
    assert "knitted on or by a cable" in how_to_sew(plan)
    # Where nothing is cast on with them, they begin as any yarn does.
    plain = plan_of(rows, how=HOW[name], allow=Allowances(cast_on=0))
    in_one = plan_of(rows, how=HOW[name], allow=Allowances(cast_on_in="A"))
    for plan in (plain, in_one):
        assert not any(each.with_one_thread for each in ends_to_run(plan))
        assert "cast on with one thread" not in how_to_sew(plan)


def test_the_practice_piece_by_hand():
    """On its chart of 24 × 30, the back up: stitch 24 lies at the right edge, and row 30 is bound
    off; B1 ends 8 stitches from its border with A; C2 ends 4 from the one that is free. A2 and A3
    begin beside the V, which has six rows, and can be sewn in when its last one is knitted."""
    plan = make_plan(practice_piece(demo().project))
    rows = ["".join(row) for row in plan.traced.chart.to_rows()]
    assert len(followed(rows, plan)) == plan.ends_in_all == 16
    told = {how_to_run(each, plan): each for each in ends_to_run(plan)}
    for words in (
        "A1 ends in row 30, stitch 24: to the left behind 8 stitches of its own row",
        "B1 ends in row 12, stitch 8: round A Pale on its left, then to the right behind 8 "
        "stitches of its own row",
        "C2 ends in row 27, stitch 18: round A Pale on its right, then to the left behind 4 "
        "stitches of its own row, then down along its border with A Pale on the left, over 4 rows",
    ):
        assert words in told
    for strand in ("A2", "A3"):
        start, stop = (each for each in told.values() if each.end.strand == strand)
        assert start.from_row == stop.from_row == 18
        assert start.sew_after == stop.sew_after == 20


def test_the_table_of_ends_has_the_words_of_each():
    plan = demo()
    table = ends_in_words(plan)
    assert table.row.is_monotonic_increasing
    told = Counter(
        f"{line.strand} row {line.row} stitch {line.stitch}: {line.run_seen_from_the_back}"
        for line in table.itertuples()
    )
    assert told == Counter(
        f"{each.end.strand} row {each.end.row + 1} stitch {each.end.stitch}: "
        f"{way_in_words(each, plan)}"
        for each in ends_to_run(plan)
    )


def test_an_end_is_there_when_the_rows_that_it_is_run_along_are():
    _, plan = random_case(2)
    assert how_far(plan).startswith(f"Still on the needles: 0 of {len(plan.cards)} ")
    here = make_plan(replace(plan.project, progress=worked_through(plan, 3)))
    there = {each.mark for each in ends_to_run(here) if not not_there_yet(here, each)}
    table = ends_in_words(here)
    assert len(there) == (table.from_row <= 3).sum() < (table.row <= 3).sum()
    late = next(each for each in ends_to_run(here) if each.mark not in there)
    assert not_there_yet(here, late) == f"can be sewn in after round {late.from_row}"
    done = make_plan(replace(plan.project, progress=worked_through(plan, len(plan.cards))))
    assert how_far(done) == ""
    assert not any(not_there_yet(done, each) for each in ends_to_run(done))


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
