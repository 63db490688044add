"""Strands of charts whose answer can be seen by eye or was published, and what the table says of
them."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from planner import CarryLimits, Chart, Construction, Gauge, PlanError, trace_strands
from planner.strands import ACROSS, MIDDLE, ON, UP, allowed_links, find_runs, matching, trace
from planner.strands.knitted import Knitted

ROOT = Path(__file__).parents[2]
STRICT = CarryLimits(across=0, sideways=5, up=2, middle_start=False)


def by_letter(strands) -> dict[str, int]:
    return strands.table()["yarn"].value_counts().to_dict()


def patch(width: int, start: int, stop: int, yarn="B", ground="A") -> str:
    """One row of ground with columns start..stop − 1 in another yarn."""
    return ground * start + yarn * (stop - start) + ground * (width - stop)


RING = [
    *["BBBBBBBBBBB"] * 3,
    *["BBBBYYYBBBB"] * 4,
    *["BYYYBBBYYYB"] * 5,
    *["BBBBYYYBBBB"] * 4,
    *["BBBBBBBBBBB"] * 3,
]
BLOCK = [*["A" * 20] * 5, *["AAAAABBBBBBBBBBAAAAA"] * 10, *["A" * 20] * 5]
DIAMOND = [patch(27, 13 - n // 2, 14 + n // 2) for n in (1, 3, 5, 7, 5, 3, 1)]
PLAIN, PATCH = ["A" * 20], [patch(20, 5, 15)]
V = ["".join("B" if x in (15 - y, 15 + y) else "A" for x in range(31)) for y in reversed(range(10))]


def test_ring():
    """textilefusion.com/?p=1170 (published): five supplies for a ring of one colour on a ground of
    another."""
    strands = trace_strands(
        Chart.from_rows(RING), limits=CarryLimits(sideways=3, middle_start=False)
    )
    assert by_letter(strands) == {"B": 3, "Y": 2}
    assert strands.live.max() == 5


def test_block():
    """scratchingthepitch.com theme 4214 (published): three supplies, 100 stitches of the block's
    yarn, 300 of the ground's."""
    strands = trace_strands(Chart.from_rows(BLOCK), limits=STRICT)
    assert by_letter(strands) == {"A": 2, "B": 1}
    assert strands.table().groupby("yarn")["stitches"].sum().to_dict() == {"A": 300, "B": 100}
    assert strands.carried_stitches == 0


def test_small_diamond():
    """vicsknits.wordpress.com/2007/02/10 (published): 25 stitches, three supplies, two borders in
    each of seven rows."""
    strands = trace_strands(Chart.from_rows(DIAMOND), limits=STRICT)
    assert by_letter(strands) == {"A": 2, "B": 1}
    assert strands.chart.stitches()["B"] == 25
    assert strands.runs.count - strands.runs.rows == 14


def test_line():
    """One stitch wide, 30 rows high (computed): the line is one strand, the ground needs one on
    either side."""
    table = trace_strands(Chart.from_rows(["WWWWWKWWWWW"] * 30), limits=STRICT).table()
    assert sorted(table["yarn"]) == ["K", "W", "W"]
    assert table.loc[table["yarn"] == "K", "stitches"].tolist() == [30]


def test_checks():
    """Blocks of ten change places (computed): the yarn hangs ten stitches from its next block, so
    each block has its own."""
    chart = Chart.from_rows(
        [*["AAAAAAAAAABBBBBBBBBB" * 2] * 10, *["BBBBBBBBBBAAAAAAAAAA" * 2] * 10]
    )
    strands = trace_strands(chart, limits=STRICT)
    assert strands.count == 8
    assert strands.live.tolist() == [4] * 20
    assert strands.table()["first_row"].tolist() == [1] * 4 + [11] * 4


@pytest.mark.parametrize(
    ("up", "expected"), [(2, {"A": 3, "B": 2}), (5, {"A": 3, "B": 2}), (6, {"A": 3, "B": 1})]
)
def test_a_colour_comes_back_after_six_rows(up, expected):
    """Counts computed; that one carries over two rows at most is second-hand,
    arendaholladay.com/2016/10."""
    chart = Chart.from_rows([*PLAIN * 3, *PATCH * 6, *PLAIN * 6, *PATCH * 6, *PLAIN * 3])
    assert (
        by_letter(trace_strands(chart, limits=CarryLimits(up=up, middle_start=False))) == expected
    )


@pytest.mark.parametrize(
    ("middle_start", "expected"), [(True, {"A": 1, "B": 1}), (False, {"A": 1, "B": 2})]
)
def test_v(middle_start, expected):
    """Two branches from one stitch (computed): one length begun from its middle works both, else
    the second is a start."""
    strands = trace_strands(
        Chart.from_rows(V), limits=CarryLimits(across=1, middle_start=middle_start)
    )
    assert by_letter(strands) == expected
    assert strands.middle_starts == middle_start
    table = strands.table()
    assert table.loc[table["middle_start"], "stitches"].tolist() == (
        [19] if middle_start else []
    )  # the whole V


def test_several_colours_in_a_row():
    """A row of 5, 30, 17, 17 and 59 stitches in four yarns, one of them twice (second-hand): five
    strands."""
    strands = trace_strands(
        Chart.from_rows(["A" * 5 + "B" * 30 + "C" * 17 + "B" * 17 + "D" * 59]), limits=STRICT
    )
    assert by_letter(strands) == {"A": 1, "B": 2, "C": 1, "D": 1}
    assert strands.table()["stitches"].sum() == 128


@pytest.mark.parametrize(
    ("how", "expected"),
    [
        (Construction(), ["B1", "A1", "B2", "A2"]),
        (Construction(hand="left"), ["A1", "B1", "A2", "B2"]),
        (Construction(first_row="WS"), ["A1", "B1", "A2", "B2"]),
        (Construction(worked="rounds"), ["B1", "A1", "B2", "A2"]),
    ],
)
def test_strands_are_named_in_the_order_of_first_need(how, expected):
    chart = Chart.from_rows(["AAABBBAAABBB"])
    assert list(trace_strands(chart, how, limits=STRICT).labels) == expected


def test_live_from_the_first_row_to_the_last():
    """The ground is carried past the middle row, so it is live there; the patch ends with that
    row."""
    strands = trace_strands(Chart.from_rows(["AAA", "BBB", "AAA"]), limits=CarryLimits(up=1))
    assert strands.labels == ("A1", "B1")
    assert strands.live.tolist() == [1, 2, 1]
    apart = trace_strands(Chart.from_rows(["AAA", "BBB", "AAA"]), limits=CarryLimits(up=0))
    assert apart.live.tolist() == [1, 1, 1]


def test_table():
    """By eye: row 1 is worked from the right, B first; row 2 back, A two stitches shorter, B where
    it hangs."""
    strands = trace_strands(Chart.from_rows(["ABBB", "AAAB"]))
    assert strands.table().to_dict("list") == {
        "strand": ["B1", "A1"],
        "yarn": ["B", "A"],
        "first_row": [1, 1],
        "first_side": ["RS", "RS"],
        "first_stitch": [1, 2],
        "last_row": [2, 2],
        "runs": [2, 2],
        "stitches": [4, 4],
        "narrowest_stitches": [1, 1],
        "widest_stitches": [3, 3],
        "carried_stitches": [2.0, 0.0],
        "middle_start": [False, False],
        "ends": [2, 2],
    }
    assert (
        repr(strands)
        == "2 strands, 4 ends, 0 begun from the middle, 2 stitches carried, at most 2 at once"
    )


def shifted(stitches: int, limits: CarryLimits, gauge: Gauge, **more) -> int:
    """Strands of B where its left-hand edge moves by so many stitches between row 1 (RS) and row 2
    (WS)."""
    chart = Chart.from_rows([patch(30, 8 + stitches, 28), patch(30, 8, 28)])
    return by_letter(trace_strands(chart, gauge=gauge, limits=limits, **more))["B"]


@pytest.mark.parametrize(
    ("sideways", "gauge", "most"),
    [
        (5, Gauge(22, 30), 5),
        (5.5, Gauge(22, 30), 5),
        (0, Gauge(22, 30), 0),
        ("2.5 cm", Gauge(22, 30), 5),  # 5.5 stitches
        ("1 in", Gauge(22, 30), 5),  # 5.588 stitches
        ("2.5 cm", Gauge(24, 30), 6),  # 6 stitches exactly
        ("1 in", Gauge(20, 28, 4, "in"), 5),  # 5 stitches exactly
        ("2.8 cm", Gauge(25, 34), 7),  # 7 stitches exactly, a little less in binary fractions
        ("25 mm", Gauge(28, 40), 7),  # 7 stitches exactly
        ("2.54 cm", Gauge(18, 24, 4, "in"), 4),  # 4.5 stitches
    ],
)
def test_a_limit_is_compared_unrounded(sideways, gauge, most):
    limits = CarryLimits(sideways=sideways, middle_start=False)
    assert shifted(most, limits, gauge) == 1
    assert shifted(most + 1, limits, gauge) == 2


@pytest.mark.parametrize(("up", "most"), [("1 cm", 3), ("1.3 cm", 3), ("1.4 cm", 4), ("0 cm", 0)])
def test_a_limit_upwards_is_measured_in_rows(up, most):
    """30 rows in 10 cm: a row is a third of a centimetre."""
    for skipped, expected in ((most, 1), (most + 1, 2)):
        chart = Chart.from_rows(["BBB", *["AAA"] * skipped, "BBB"])
        strands = trace_strands(chart, gauge=Gauge(22, 30), limits=CarryLimits(up=up, sideways=3))
        assert by_letter(strands)["B"] == expected


def test_a_yarns_own_limits_replace_the_general_ones_whole():
    """With limits of its own that only say `across`, B has the default of 5 sideways, not the
    general 2."""
    general, own = CarryLimits(sideways=2, middle_start=False), {"B": CarryLimits(across=1)}
    assert shifted(5, general, Gauge()) == 2
    assert shifted(5, general, Gauge(), by_yarn=own) == 1
    assert shifted(5, CarryLimits(), Gauge(), by_yarn={"B": general}) == 2
    with pytest.raises(
        PlanError, match="Yarn Z has carry limits of its own but is not on the chart"
    ):
        shifted(5, general, Gauge(), by_yarn={"Z": general})


NOISY = """
import numpy as np
from planner import CarryLimits, Chart, trace_strands
cells = np.random.default_rng(7).choice(list("ABC"), size=(24, 20))
strands = trace_strands(Chart.from_rows(cells), limits=CarryLimits(across=2, sideways=4, up=1))
links = strands.links
print(*strands.labels)
for link in zip(links.kind.tolist(), links.a.tolist(), links.b.tolist(), strict=True):
    print(*link)
"""


def test_the_same_links_whatever_the_hash_seed():
    """A noisy chart leaves the exact matching large groups with many ties."""
    answers = set()
    for seed in ("0", "1", "4242"):
        env = os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)}
        done = subprocess.run(
            [sys.executable, "-c", NOISY],
            env=env,
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
        answers.add(done.stdout)
    assert len(answers) == 1
    assert len(answers.pop().splitlines()) > 200


# What is settled beforehand


def links_of(strands):
    links = strands.links
    return list(zip(links.kind.tolist(), links.a.tolist(), links.b.tolist(), strict=True))


# By eye: row 1 leftwards is A0 B1 A2, row 2 rightwards A3 B4 A5; each goes on where it hangs.
PLAIN_PATCH = ["AABBAA"] * 2


def test_a_cut_is_kept():
    chart = Chart.from_rows(PLAIN_PATCH)
    strict = CarryLimits(sideways=0, middle_start=False)
    assert links_of(trace_strands(chart, limits=strict)) == [(ON, 2, 3), (ON, 1, 4), (ON, 0, 5)]
    cut = trace_strands(chart, limits=strict, cuts=[(1, 4)])
    assert links_of(cut) == [(ON, 2, 3), (ON, 0, 5)]
    assert cut.possible.count == 2


def test_a_cut_leaves_the_middle_start_between_the_same_runs():
    """B enters at edges 4 and 2; two stitches apart, its two runs may be halves of one strand."""
    chart = Chart.from_rows(PLAIN_PATCH)
    limits = CarryLimits(sideways=2)
    cut = trace_strands(chart, limits=limits, cuts=[(1, 4)])
    assert (MIDDLE, 1, 4) in links_of(cut)
    plain = trace_strands(chart, limits=limits, cuts=[(1, 4)], no_middle=[1])
    assert (MIDDLE, 1, 4) not in links_of(plain)
    assert plain.count == cut.count + 1
    assert (MIDDLE, 1, 4) in links_of(
        trace_strands(chart, limits=limits, cuts=[(1, 4)], no_middle=[4])
    )


def test_runs_that_are_not_begun_from_their_middle_go_on_all_the_same():
    chart = Chart.from_rows(PLAIN_PATCH)
    plain = trace_strands(chart, limits=CarryLimits(sideways=2), no_middle=[0, 1, 2])
    assert links_of(plain) == [(ON, 2, 3), (ON, 1, 4), (ON, 0, 5)]


def test_a_carry_is_made_whatever_the_limits():
    """By eye: the left A of row 1 goes on to the right A of row 2, over four stitches."""
    chart = Chart.from_rows(PLAIN_PATCH)
    strict = CarryLimits(sideways=0, middle_start=False)
    carried = trace_strands(chart, limits=strict, carries=[(2, 5)])
    assert links_of(carried) == [(ON, 1, 4), (ON, 2, 5)]
    assert carried.carried_stitches == 4


def test_a_carry_has_both_of_its_ports_to_itself():
    """By eye: carried across the patch in row 1, the right A of row 1 cannot go on to row 2."""
    chart = Chart.from_rows(PLAIN_PATCH)
    limits = CarryLimits(across=2, sideways=0, middle_start=False)
    carried = trace_strands(chart, limits=limits, carries=[(0, 2)])
    assert links_of(carried) == [(ACROSS, 0, 2), (ON, 2, 3), (ON, 1, 4), (ACROSS, 3, 5)]


def test_the_runs_of_one_yarn_alone():
    """B alone is traced as it is among the others."""
    chart = Chart.from_rows(PLAIN_PATCH)
    runs = find_runs(chart, Construction())
    alone = trace_strands(chart, runs=runs.only(runs.yarn == 1))
    assert alone.labels == ("B1",)
    assert links_of(alone) == [(ON, 0, 1)]


def test_allowed_links_by_eye():
    """The links under limits by yarn: A may go two stitches across, B nowhere."""
    runs = find_runs(Chart.from_rows(["BABBAB"]), Construction())
    allowed = allowed_links(runs, ("A", "B"), [(2, 0, 0, False), (0, 0, 0, True)])
    assert list(zip(allowed.possible.a, allowed.possible.b, strict=True)) == [(1, 3)]
    assert allowed.done.count == 0
    assert allowed.left_at.tolist() == runs.leave.tolist()


# What a plan reads from the strands


def test_what_each_strand_has():
    """By eye, from row 1 up: A on the right 2, 1, 0; B in the middle; A on the left.

    B goes on at once; its row 3 reaches to the right edge. A on the right ends with row 2.
    """
    strands = trace_strands(
        Chart.from_rows(["AABBB", "AABBA", "AABAA"]), limits=CarryLimits(middle_start=False)
    )
    assert strands.labels == ("A1", "B1", "A2")
    assert strands.of_run.tolist() == [0, 1, 2, 2, 1, 0, 1, 2]
    assert strands.first_run.tolist() == [0, 1, 2]
    assert strands.last_run.tolist() == [5, 6, 7]
    assert strands.yarn.tolist() == [0, 1, 0]
    assert strands.has_middle.tolist() == [False] * 3
    assert strands.half.tolist() == [0] * 8
    assert strands.live.tolist() == [3, 3, 2]
    assert strands.per_strand(strands.runs.stitches).tolist() == [3, 6, 6]
    assert strands.stitch_number(strands.first_run).tolist() == [1, 3, 4]
    assert strands.stitch_number(5) == 1


def test_carried_by_strand_and_kind():
    """By eye: B goes 2 across in row 1, then 2 sideways and past a row, 3 ÷ 4 of a stitch high."""
    strands = trace_strands(
        Chart.from_rows(["AABAAA", "AAAAAA", "ABAABA"]),
        gauge=Gauge(15, 20),
        limits=CarryLimits(across=2, sideways=3, up=1, middle_start=False),
    )
    b = strands.labels.index("B1")
    links = strands.links
    own = strands.of_run[links.a] == b
    assert links.kind[own].tolist() == [ACROSS, UP]
    assert strands.carried[own].tolist() == [2, 2.75]
    by_strand = strands.table().carried_stitches
    assert by_strand[b] == 4.75
    assert by_strand.sum() == strands.carried_stitches


def test_carries_in_the_table_have_four_decimals():
    """By eye: B goes past one row, 22 ÷ 30 of a stitch high."""
    strands = trace_strands(Chart.from_rows(["B", "A", "B"]), limits=CarryLimits(sideways=1))
    assert strands.table().carried_stitches.tolist() == [1.7333, 0]


def test_halves():
    """By eye: B is begun from its middle; row 1 is its first half, rows 2 and 3 are its second."""
    strands = trace_strands(
        Chart.from_rows(
            ["AAAAAAAAABBBBBBBB", "AAAAAAAAABBBBBBBB", "ABBBBBBBBAAAAAAAA"],
        ),
        limits=CarryLimits(sideways=2, up=0),
    )
    b = strands.labels.index("B1")
    of_b = strands.of_run == b
    assert strands.has_middle.tolist() == [label == "B1" for label in strands.labels]
    assert strands.half[of_b].tolist() == [0, 1, 1]
    assert not strands.half[~of_b].any()
    # In row 1 hang both of A, the half of B that is worked and the one that waits for row 2.
    assert strands.live.tolist() == [4, 2, 2]


def test_a_choice_stays_the_same_whatever_changes_elsewhere():
    """Ties are settled by place: new colours on the far side leave the links of the near one."""
    rng = np.random.default_rng(5)
    near = rng.choice(list("AB"), size=(12, 10))
    wide = CarryLimits(across=2, sideways=4, up=1)
    chosen = []
    for letters in ("C", "CD", "CDE"):
        far = rng.choice(list(letters), size=(12, 8))
        strands = trace_strands(Chart.from_rows(np.hstack((near, far))), limits=wide)
        runs = strands.runs
        place = list(zip(runs.row.tolist(), runs.lo.tolist(), strict=True))
        ours = runs.yarn < 2
        chosen.append({(k, place[a], place[b]) for k, a, b in links_of(strands) if ours[a]})
    assert chosen[0] == chosen[1] == chosen[2]
    assert len(chosen[0]) > 40


def test_it_says_when_a_chart_needs_time(monkeypatch):
    monkeypatch.setattr(matching, "LARGE_GROUP", 10)
    cells = np.random.default_rng(7).choice(list("ABC"), size=(12, 20))
    said = []
    trace_strands(Chart.from_rows(cells), limits=CarryLimits(across=2), say=said.append)
    assert len(said) == 1
    assert "this broken up" in said[0]


def test_each_port_has_a_place_of_its_own(monkeypatch):
    """In working order: where a run is entered, then where it is left, before the next run."""
    given = []

    def listening(*links, place, **telling):
        given.append(place.tolist())
        return matching.cheapest_matching(*links, place=place, **telling)

    monkeypatch.setattr(trace, "cheapest_matching", listening)
    trace_strands(Chart.from_rows(["AAB", "ABB"]))
    assert given == [[0, 1, 4, 5, 8, 9, 12, 13]]  # the runs' own places are 0, 2, 4 and 6


def test_a_carry_that_cannot_be_made_keeps_no_yarn_from_going_on():
    """By eye: of two Bs in row 1 one is knitted and cut; a carry from it to the B of row 2 is asked
    for. The other B hangs one stitch away and goes on: two strands of B, not three."""
    chart = Chart.from_rows(["AABAA", "ABABA"])
    knitted = Knitted.from_notes({1: "1 A1, 1 B1 cut, 1 A2, 1 B2, 1 A3"})
    runs = find_runs(chart, Construction())
    first_b = [run for run in range(runs.count) if chart.letters[runs.yarn[run]] == "B"]
    wanted = (first_b[0], first_b[2])
    limits = CarryLimits(middle_start=False)
    plain = trace_strands(chart, limits=limits, knitted=knitted)
    asked = trace_strands(chart, limits=limits, knitted=knitted, carries=[wanted])
    assert [label for label in plain.labels if label.startswith("B")] == ["B1", "B2"]
    assert asked.labels == plain.labels
    # The same where the carry is asked for and refused.
    refused = trace_strands(chart, limits=limits, carries=[wanted], cuts=[wanted])
    assert refused.count == trace_strands(chart, limits=limits, cuts=[wanted]).count
