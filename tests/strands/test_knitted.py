"""What is knitted stays, and the rest is the best that can follow: against plans that were never
broken off and, on small charts, against trying every choice of links."""

import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache

import numpy as np
import pytest

from planner import (
    CarryLimits,
    Chart,
    Construction,
    Gauge,
    PlanError,
    Project,
    make_plan,
    trace_strands,
)
from planner.piece.log import WORKED, Entry
from planner.strands import ACROSS, MIDDLE, ON, UP, allowed_links, find_runs
from planner.strands.knitted import Knitted, knitted_of, note_row
from tests.helpers.best_choice import all_links, best_by_trying
from tests.helpers.knitter import Knitter, Reach, draw_chart, stretches

GAUGE, ASPECT = Gauge(15, 20), Fraction(3, 4)
HOW = {
    "flat": Construction(),
    "flat, WS first, left-handed": Construction(first_row="WS", hand="left", selvedge=1),
    "garter": Construction(fabric="garter"),
    "rounds": Construction(worked="rounds"),
    "turned": Construction(worked="turned"),
}
REACHES = (
    Reach(),
    Reach(across=3, sideways=6, up=3),
    Reach(across=1, sideways=3, up=1, middle=False),
    Reach(across=0, sideways=2, up=0),
)


def how_words(how):
    return {
        "worked": how.worked,
        "first_row": how.first_row,
        "hand": how.hand,
        "fabric": how.fabric,
    }


def limits_of(reach):
    return CarryLimits(reach.across, reach.sideways, reach.up, reach.middle)


def piece(rows, how, reach, progress=()):
    return Project(
        "piece",
        Chart.from_rows(rows),
        gauge=GAUGE,
        how=how,
        limits=limits_of(reach),
        progress=tuple(progress),
    )


def log_of(notes):
    """The progress log of rows knitted one after the other, as their notes say."""
    return tuple(
        Entry(i, "2025-01-01", WORKED, i, runs=note) for i, note in enumerate(notes, start=1)
    )


def knit(plan, rows):
    """The progress log after the first `rows` worked rows of a plan."""
    return log_of([note_row(plan.traced, row) for row in range(1, rows + 1)])


def links_of(plan):
    links = plan.traced.links
    return sorted(zip(links.kind.tolist(), links.a.tolist(), links.b.tolist(), strict=True))


# Notes


def test_notes_by_hand():
    """By eye: B is woven four stitches along to the next row and ends there; A2 is cut after one
    row."""
    plan = make_plan(piece(["AABBBBBBBBAA", "AAAAAABBBBAA"], HOW["flat"], Reach(middle=False)))
    assert [note_row(plan.traced, row) for row in (1, 2)] == [
        "2 A1, 4 B1 to 2, 6 A2",
        "2 A2 cut, 8 B1 cut, 2 A1 cut",
    ]


def test_notes_of_halves():
    """By eye: B begins from its middle in row 1, its other half works row 2 from the same edge the
    other way."""
    plan = make_plan(
        piece(["AAAAAAAAABBBBBBBB", "ABBBBBBBBAAAAAAAA"], HOW["flat"], Reach(sideways=2, up=0))
    )
    assert "8 B1 from its middle cut" in note_row(plan.traced, 1)
    assert "8 B1 second half cut" in note_row(plan.traced, 2)


@cache
def case(name, number):
    small = HOW[name].fabric == "garter"
    rows = draw_chart(
        50 + number,
        stitches=16,
        rows=6 if small else 12,
        yarns=3,
        smooth=(1, 1.5, 0.6)[number % 3],
        holes=number == 3,
    )
    return rows, make_plan(piece(rows, HOW[name], REACHES[number]))


every_case = pytest.mark.parametrize(
    ("name", "number"), [(name, number) for name in HOW for number in range(4)]
)


@every_case
def test_notes_are_read_as_they_are_written(name, number):
    _, plan = case(name, number)
    traced = plan.traced
    notes = {row: note_row(plan.traced, row) for row in range(1, traced.runs.rows + 1)}
    knitted = Knitted.from_notes(notes)
    flat = [run for row in knitted.rows for run in row]
    assert [run.strand for run in flat] == [traced.labels[s] for s in traced.of_run.tolist()]
    assert [run.stitches for run in flat] == traced.runs.stitches.tolist()
    assert [run.half == "second half" for run in flat] == traced.half.astype(bool).tolist()
    assert Counter(run.half == "from its middle" for run in flat)[True] == traced.middle_starts
    assert Counter(run.cut for run in flat)[True] == traced.count + traced.middle_starts


@every_case
def test_after_any_number_of_rows_the_plan_is_the_same(name, number):
    """Strand for strand and half for half, by the same links, carried as far; and a knitter can
    work it."""
    rows, plan = case(name, number)
    traced = plan.traced
    for done in (1, 2, traced.runs.rows // 2, traced.runs.rows):
        again = make_plan(piece(rows, HOW[name], REACHES[number], knit(plan, done)))
        assert links_of(again) == links_of(plan), done
        assert again.traced.labels == traced.labels
        assert again.traced.of_run.tolist() == traced.of_run.tolist()
        assert again.traced.half.tolist() == traced.half.tolist()
        knitter = Knitter(rows, how_words(HOW[name]), REACHES[number], ASPECT)
        yarns = [label[0] for label in again.traced.labels]
        report = knitter.knit(again.traced.of_run.tolist(), again.traced.half.tolist(), yarns)
        assert report.ends == 2 * traced.count


@every_case
def test_after_any_number_of_rows_the_yarn_is_the_same(name, number):
    """What is knitted is no shorter for being knitted: carries, woven ones too, and the wound
    lengths stay as planned."""
    rows, plan = case(name, number)
    for done in range(1, plan.traced.runs.rows, 3):
        again = make_plan(piece(rows, HOW[name], REACHES[number], knit(plan, done)))
        assert again.traced.carried_stitches == pytest.approx(plan.traced.carried_stitches), done
        assert again.strands.wound_m.tolist() == plan.strands.wound_m.tolist(), done


@every_case
def test_marking_row_after_row(name, number):
    """Each row noted from the plan as it is then, which has been made anew after every row, gives
    the notes of the first plan."""
    rows, plan = case(name, number)
    notes, now = [], plan
    for row in range(1, 5):
        notes.append(note_row(now.traced, row))
        now = make_plan(piece(rows, HOW[name], REACHES[number], log_of(notes)))
    assert notes == [note_row(plan.traced, row) for row in range(1, 5)]
    assert links_of(now) == links_of(plan)


# What the knitted rows leave, by eye


def hold(rows, *notes, how=HOW["flat"]):
    """What knitted rows leave to the rows above; runs are numbered in working order."""
    chart = Chart.from_rows(rows)
    knitted = Knitted.from_notes(dict(enumerate(notes, start=1)))
    return knitted.hold(find_runs(chart, how), chart.letters)


def listed(links):
    arrays = (links.kind, links.a, links.b, links.shift, links.skipped)
    return list(zip(*(array.tolist() for array in arrays), strict=True))


def flagged(flags):
    return np.flatnonzero(flags).tolist()


def test_where_yarns_hang():
    """Row 1 leftwards: A leaves at edge 4, B was woven from edge 2 to edge 1, A was cut."""
    hanging = hold(["ABBBAA", "AABBAA"], "2 A1, 2 B1 to 1, 2 A2 cut")
    assert hanging.runs.leave.tolist()[:3] == [4, 1, 0]
    assert hanging.links.count == 0
    assert flagged(hanging.may_leave) == [0, 1]
    assert flagged(hanging.may_begin) == []


def test_no_yarn_hangs_beyond_the_chart():
    hold(["ABBBAA", "AABBAA"], "2 A1, 2 B1 to 6, 2 A2")
    with pytest.raises(PlanError, match=r"row 1: B1 hangs at an edge beyond the 6 stitches"):
        hold(["ABBBAA", "AABBAA"], "2 A1, 2 B1 to 7, 2 A2")


def test_the_links_that_are_knitted_in():
    """Row 2 rightwards: A enters at edge 0, B at edge 1, the right A at edge 4."""
    hanging = hold(["ABBBAA", "AABBAA"], "2 A1, 2 B1 to 1, 2 A2", "1 A2, 3 B1, 2 A1 cut")
    assert listed(hanging.links) == [(ON, 2, 3, 0, 0), (ON, 1, 4, 1, 0), (ON, 0, 5, 0, 0)]
    assert hanging.runs.leave.tolist() == [4, 2, 0, 1, 4, 6]
    assert flagged(hanging.may_leave) == [3, 4]


def test_carries_that_are_knitted_in():
    """A goes two stitches across in row 1, then up past row 2 to row 3, from edge 0 to edge 4."""
    hanging = hold(["BBBA", "BBBB", "ABBA"], "1 A1, 2 B1, 1 A1", "4 B1", "1 A1, 3 B1")
    assert listed(hanging.links) == [
        (ACROSS, 0, 2, 2, 0),
        (ON, 1, 3, 1, 0),
        (UP, 2, 4, 4, 1),
        (ON, 3, 5, 1, 0),
    ]


def test_round_a_tube_a_knitted_carry_goes_the_shorter_way():
    """In the round four stitches from A to A; to the next round edge 0 is edge 6."""
    hanging = hold(["ABBBBA", "ABBBBA"], "1 A1, 4 B1, 1 A1", "1 A1, 4 B1, 1 A2", how=HOW["rounds"])
    assert listed(hanging.links) == [(ACROSS, 0, 2, 4, 0), (ON, 2, 3, 0, 0), (ON, 1, 4, 2, 0)]


def test_a_length_begun_from_its_middle_waits_for_its_other_half():
    """B enters row 1 at edge 4, where its second half begins until that is knitted."""
    rows = ["AAAABB", "AAAABB", "AABBAA"]
    waits = hold(rows, "2 A1, 2 B1 from its middle, 2 A2")
    assert flagged(waits.may_begin) == [1]
    assert flagged(waits.may_leave) == [0, 1, 2]
    taken_up = hold(rows, "2 A1, 2 B1 from its middle, 2 A2", "4 A2, 2 B1 second half")
    assert flagged(taken_up.may_begin) == []
    assert flagged(taken_up.may_leave) == [0, 1, 3, 4]
    assert (MIDDLE, 1, 4, 0, 0) in listed(taken_up.links)
    goes_on = hold(
        rows,
        "2 A1, 2 B1 from its middle, 2 A2",
        "4 A2, 2 B1 second half",
        "2 B1 second half, 4 A2",
    )
    assert (ON, 4, 5, 0, 0) in listed(goes_on.links)
    assert flagged(goes_on.may_leave) == [0, 1, 5, 6]


def test_a_middle_start_in_one_row():
    """A enters at edges 6 and 2 of row 1, four stitches apart."""
    hanging = hold(["AABBAA"], "2 A1 from its middle, 2 B1, 2 A1 second half")
    assert listed(hanging.links) == [(MIDDLE, 0, 2, 4, 0)]


def test_nothing_leads_to_what_is_knitted():
    """Both rows were knitted apart, A cut; only row 3 can follow, from the yarns that hang."""
    chart = Chart.from_rows(["AB"] * 3)
    runs = find_runs(chart, HOW["flat"])
    knitted = Knitted.from_notes({1: "1 B1, 1 A1 cut", 2: "1 A2, 1 B2"})
    limits = [(0, 5, 2, True)] * 2
    allowed = allowed_links(runs, chart.letters, limits, knitted=knitted)
    assert [link[:3] for link in listed(allowed.possible)] == [(ON, 3, 4), (ON, 2, 5)]


def test_what_is_woven_along_is_carried_too():
    """B was woven from edge 2 to edge 1 in row 1, and hangs where row 2 enters it."""
    chart = Chart.from_rows(["ABBBAA", "AABBAA"])
    knitted = Knitted.from_notes({1: "2 A1, 2 B1 to 1, 2 A2"})
    limits = CarryLimits(0, 0, 0, False)
    strands = trace_strands(chart, limits=limits, knitted=knitted)
    assert strands.labels == ("A1", "B1", "A2")
    assert listed(strands.links) == [(ON, 2, 3, 0, 0), (ON, 1, 4, 1, 0), (ON, 0, 5, 0, 0)]
    assert strands.carried_stitches == 1
    allowed = allowed_links(strands.runs, chart.letters, [(0, 0, 0, False)] * 2, knitted=knitted)
    woven = abs(allowed.left_at - strands.runs.leave)
    assert woven.tolist() == [0, 1, 0, 0, 0, 0]


# Against trying every choice


def hanging_links(rows, how, reach, knitted, edges):
    """Links from the yarns that hang after the knitted rows, and from open halves, to the runs
    above, by the rule of carries."""
    runs_by_row = stretches(rows, **how_words(how))
    runs = [run for row in runs_by_row for run in row]
    done, columns, tube = len(knitted.rows), len(rows[0]), how.is_tube
    flat = [run for row in knitted.rows for run in row]

    def apart(one, other):
        far = abs(one - other)
        return min(far, columns - far) if tube else far

    last, first, second = {}, {}, set()
    for i, run in enumerate(flat):
        last[run.strand, run.half == "second half"] = i
        first.setdefault(run.strand, i)
        if run.half == "second half":
            second.add(run.strand)
    out = []
    for j, b in enumerate(runs):
        if b.row < done:
            continue
        for i in last.values():
            a = runs[i]
            if (
                flat[i].cut
                or a.yarn != b.yarn
                or b.row - a.row - 1 > reach.up
                or apart(edges[i], b.enter) > reach.sideways
            ):
                continue
            between = [
                run for row in runs_by_row[a.row + 1 : b.row] for run in row if run.yarn == a.yarn
            ]
            if not any(run.touches(edges[i], columns, tube) for run in between):
                out.append(
                    (
                        (i, "leave"),
                        (j, "enter"),
                        0,
                        apart(edges[i], b.enter) + (b.row - a.row - 1) * ASPECT,
                    )
                )
        for strand, i in first.items():
            open_half = flat[i].half == "from its middle" and strand not in second
            a = runs[i]
            near = apart(a.enter, b.enter)
            if (
                open_half
                and a.yarn == b.yarn
                and b.row == a.row + 1
                and reach.middle
                and near <= reach.sideways
            ):
                out.append(((i, "enter"), (j, "enter"), 1, Fraction(near)))
    return out


def assert_best_that_can_follow(rows, how, reach, progress):
    """The links above the needles have the totals of the best choice there is, found by trying; how
    many links there were."""
    plan = make_plan(piece(rows, how, reach, progress))
    knitted = knitted_of(plan.project)
    runs = [run for row in stretches(rows, **how_words(how)) for run in row]
    done = len(knitted.rows)
    flat = [run for row in knitted.rows for run in row]
    # A yarn that was woven along hangs where it was taken to, unless it has been worked since.
    edges = {
        i: runs[i].leave if run.hangs_at is None or runs[i].row < done - 1 else run.hangs_at
        for i, run in enumerate(flat)
    }
    _, links = all_links(rows, how, reach, ASPECT)
    links = [link for link in links if runs[link[0][0]].row >= done] + hanging_links(
        rows, how, reach, knitted, edges
    )
    if len(links) > 12:
        return None, plan
    traced = plan.traced
    above = traced.runs.row[traced.links.b] >= done
    # What was woven along before the rows above were planned anew is carried, but no longer a
    # matter of choice.
    woven = {i: abs(edges[i] - runs[i].leave) for i in edges}
    chosen = zip(
        *(
            x[above].tolist()
            for x in (traced.links.kind, traced.links.a, traced.links.shift, traced.links.skipped)
        ),
        strict=True,
    )
    carried = [
        int((s - (0 if kind == 3 else woven.get(a, 0))) * ASPECT.denominator + k * ASPECT.numerator)
        for kind, a, s, k in chosen
    ]
    middles = int((traced.links.kind[above] == 3).sum())
    mine = int(above.sum()), middles, sum(carried), sum(x * x for x in carried)
    assert mine == best_by_trying(links, ASPECT.denominator), "\n".join(rows)
    return len(links), plan


def small_chart(rng, width, height):
    return ["".join(rng.choice("AAAB") for _ in range(width)) for _ in range(height)]


@pytest.mark.parametrize("name", HOW)
@pytest.mark.parametrize("what", ["chart", "limits", "chart and limits"])
def test_replanning_against_trying_every_choice(name, what):
    """Small charts broken off somewhere (computed): the fewest strands, then the fewest middle
    starts, then the least carried, of all choices among runs that are not knitted and yarns that
    hang."""
    rng, how, tried, live = random.Random(f"{name} {what}"), HOW[name], 0, 0
    times = how.rows_per_chart_row
    for _ in range(9):
        height = rng.randrange(2, 4) if times == 2 else rng.randrange(2, 6)
        rows = small_chart(rng, rng.randrange(3, 7), height)
        reach = rng.choice(REACHES)
        plan = make_plan(piece(rows, how, reach))
        done = rng.randrange(1, plan.traced.runs.rows)
        progress = knit(plan, done)
        kept = -(-done // times)
        new_rows = rows
        if "chart" in what:
            new_rows = small_chart(rng, len(rows[0]), rng.randrange(1, 4)) + rows[-kept:]
        new_reach = rng.choice(REACHES) if "limits" in what else reach
        links, again = assert_best_that_can_follow(new_rows, how, new_reach, progress)
        if links is not None:
            tried += links > 0
            live += any(row_a < done <= row_b for row_a, row_b in _rows_of_links(again))
        assert set(links_of(again)) >= {
            link for link in links_of(plan) if plan.traced.runs.row[link[2]] < done
        }
    assert tried > 1
    assert live > 1


def _rows_of_links(plan):
    runs, links = plan.traced.runs, plan.traced.links
    return zip(runs.row[links.a].tolist(), runs.row[links.b].tolist(), strict=True)


@pytest.mark.parametrize("name", HOW)
def test_a_plan_that_changes_again_and_again(name):
    """Knit some rows, change what is above and the limits, knit on, three times over: each plan is
    the best from there."""
    rng, how, tried = random.Random(name), HOW[name], 0
    times = how.rows_per_chart_row
    for _ in range(4):
        width = rng.randrange(3, 6)
        rows, notes = small_chart(rng, width, 3), []
        for _ in range(3):
            reach = rng.choice(REACHES)
            if notes:
                links, plan = assert_best_that_can_follow(rows, how, reach, log_of(notes))
                tried += links is not None
            else:
                plan = make_plan(piece(rows, how, reach))
            more = rng.randrange(1, times + 1)
            notes += [note_row(plan.traced, len(notes) + 1 + i) for i in range(more)]
            kept = -(-len(notes) // times)
            rows = small_chart(rng, width, 2) + rows[-kept:]
    assert tried > 0


# What cannot go on


def test_a_cut_yarn_never_goes_on():
    """By hand: with `up` 0 the patch's yarn is cut after row 1; allowed three rows up afterwards,
    it stays cut."""
    rows = ["ABBA", "AAAA", "AAAA", "ABBA"]
    short, long = Reach(up=0, middle=False), Reach(up=3, middle=False)
    assert make_plan(piece(rows, HOW["flat"], long)).traced.table().yarn.tolist().count("B") == 1
    plan = make_plan(piece(rows, HOW["flat"], short))
    assert "2 B1 cut" in note_row(plan.traced, 1)
    again = make_plan(piece(rows, HOW["flat"], long, knit(plan, 1)))
    assert again.traced.table().yarn.tolist().count("B") == 2


def test_a_yarn_left_hanging_may_go_on_elsewhere():
    """By hand: B hangs after row 1; the new chart wants it three stitches on in row 2, and it goes
    there."""
    plan = make_plan(piece(["AAAAAABBBAAAA", "AAAAAABBBAAAA"], HOW["flat"], Reach(middle=False)))
    progress = knit(plan, 1)
    again = make_plan(
        piece(["AAAAAAAAABBBB", "AAAAAABBBAAAA"], HOW["flat"], Reach(middle=False), progress)
    )
    assert again.traced.labels.count("B1") == 1
    assert not any(label == "B2" for label in again.traced.labels)
    short = make_plan(
        piece(
            ["AAAAAAAAABBBB", "AAAAAABBBAAAA"],
            HOW["flat"],
            Reach(sideways=2, middle=False),
            progress,
        )
    )
    assert "B2" in short.traced.labels


def test_an_open_half_may_be_left():
    """By hand: B was begun from its middle for row 2; with middle starts off the half is not taken
    up, and B starts anew."""
    rows, reach = ["AAAAAAAAABBBBBBBB", "ABBBBBBBBAAAAAAAA"], Reach(sideways=2, up=0)
    plan = make_plan(piece(rows, HOW["flat"], reach))
    assert plan.traced.middle_starts == 1
    progress = knit(plan, 1)
    assert make_plan(piece(rows, HOW["flat"], reach, progress)).traced.middle_starts == 1
    again = make_plan(piece(rows, HOW["flat"], replace(reach, middle=False), progress))
    assert again.traced.middle_starts == 0
    assert {"B1", "B2"} <= set(again.traced.labels)


def test_all_knitted():
    rows, reach = ["ABBA", "ABBA"], Reach()
    plan = make_plan(piece(rows, HOW["flat"], reach))
    again = make_plan(piece(rows, HOW["flat"], Reach(sideways=0, up=0), knit(plan, 2)))
    assert links_of(again) == links_of(plan)


# Bad input

ROWS = ["AABB", "ABBB", "AAAB"]
CHANGED = {
    "another yarn": (["AABB", "ABBB", "AAAA"], ["Row 1", "1 B", "knitted"]),
    "another count": (["AABB", "ABBB", "AABB"], ["Row 1", "1 B", "knitted"]),
    "second row": (["AABB", "AABB", "AAAB"], ["Row 2", "knitted"]),
    "one run more": (["AABB", "ABBA", "AAAB"], ["Row 2", "knitted"]),
    "another letter": (["CCDD", "CDDD", "CCCD"], ["Row 1", "1 B", "knitted"]),
    "too few rows": (["AAAB"], ["row 2", "no such row"]),
}


@pytest.mark.parametrize("name", CHANGED)
def test_changed_knitted_rows_are_refused(name):
    rows, named = CHANGED[name]
    progress = knit(make_plan(piece(ROWS, HOW["flat"], Reach())), 2)
    with pytest.raises(PlanError) as refused:
        make_plan(piece(rows, HOW["flat"], Reach(), progress))
    for word in named:
        assert word in str(refused.value)
    assert "ack" in str(refused.value)  # put it back, take it back


def test_a_run_more_at_the_end_of_the_knitted_rows_is_refused():
    """The knitted run of row 1 is there, but the row is wider now."""
    progress = knit(make_plan(piece(["AAA", "AAA"], HOW["flat"], Reach())), 1)
    with pytest.raises(PlanError, match="knitted"):
        make_plan(piece(["AAAB", "BAAA"], HOW["flat"], Reach(), progress))


UNREADABLE = [
    "9",
    "N3",
    "9 N",
    "9 N3 cut to 7",
    "x N3",
    "9 N3 to",
    "9 N3; 4 W1",
    "9 N3 first half",
    "-3 N3",
    "3.5 N3",
]


@pytest.mark.parametrize("note", UNREADABLE)
def test_unreadable_notes_are_refused(note):
    with pytest.raises(
        PlanError, match=r"progress\.csv, row 2: .* cannot be read\. It should be like"
    ):
        Knitted.from_notes({1: "12 A1", 2: f"3 A1, {note}"})


def test_a_missing_row_is_refused():
    with pytest.raises(PlanError, match="not row 2"):
        Knitted.from_notes({1: "4 A1", 3: "4 A1"})
    assert Knitted.from_notes({}) is None


def test_a_row_without_notes_is_refused():
    """A log whose rows say nothing of their runs cannot tell what was knitted; the message says
    which row."""
    progress = (Entry(1, "2025-01-01", WORKED, 1, stitches=4),)
    with pytest.raises(PlanError, match=r"[Rr]ow 1|first 1 rows"):
        make_plan(piece(ROWS, HOW["flat"], Reach(), progress))


BROKEN = {  # notes that fit the chart but not each other
    "a second half that was never begun": ["1 B1 second half, 3 A1"],
    "two strands of two yarns as one": ["1 B1, 3 A1", "1 A2 from its middle, 3 B1 second half"],
}


@pytest.mark.parametrize("name", BROKEN)
def test_notes_that_do_not_fit_each_other_are_refused(name):
    with pytest.raises(PlanError):
        make_plan(piece(ROWS, HOW["flat"], Reach(), log_of(BROKEN[name])))


def test_chart_rows_may_be_added_above():
    progress = knit(make_plan(piece(ROWS, HOW["flat"], Reach())), 3)
    again = make_plan(piece(["BBBB", *ROWS], HOW["flat"], Reach(), progress))
    assert again.traced.runs.rows == 4
    assert np.all(again.traced.runs.row[again.traced.links.b] <= 3)
