"""Embroidery: the ground beneath each stitch, and the yarn that it takes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner import (
    Construction,
    Gauge,
    PlanError,
    Yarn,
    make_plan,
)
from planner.finishing import ends_in_words
from planner.piece import MultiplierChoice
from tests.helpers.choices import RING, STRICT, embroider, knitted_rows, piece, worked_through


def test_the_middle_of_the_ring():
    """Embroidering the inner 3 × 5 leaves one B round it and two Y: 3 strands, 15 stitches.

    Published, textilefusion.com/?p=1170 (the ring); computed (the embroidery).
    """
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
    """By hand: 30 stitches of 0.5 cm at a multiplier of 4 without margin, 1.1 times: 66 cm.

    With two tails of 15 cm: 96 cm, measured off as 1.00 m. Twice with tails of 10 cm: 140 cm.
    """
    asked = {"gauge": Gauge(20, 28), "multiplier": MultiplierChoice("own", 4.0, 0.0)}
    plan = make_plan(piece(["WWWWWKWWWWW"] * 30, embroider("K", 7, 6), **asked))
    assert plan.embroidery.length_m.tolist() == [1.0]
    factor = replace(plan.project.allow, embroider_factor=2, tail_cm=10)
    assert make_plan(replace(plan.project, allow=factor)).embroidery.length_m.tolist() == [1.4]


def test_what_is_embroidered_is_in_every_list():
    """By hand: 1.00 m of K as above. Its two ends lie behind its own first stitch, the sixth, and
    are sewn in when all 30 rows are worked."""
    asked = {"gauge": Gauge(20, 28), "multiplier": MultiplierChoice("own", 4.0, 0.0)}
    plan = make_plan(piece(["WWWWWKWWWWW"] * 30, embroider("K", 7, 6), **asked))
    last = plan.winding_list.iloc[-1]
    assert last.line == "1 × K, 1.00 m: embroidery K1"
    assert (last.supply, last.length_m, last.first_row) == ("to embroider", 1.0, 1)
    told = ends_in_words(plan)
    ends = told[told.strand == "embroidery K1"]
    columns = ["yarn", "end", "row", "side", "stitch", "area"]
    columns += ["run_seen_from_the_back", "sew_after_row"]
    one_end = ["K", "embroidery", 1, "RS", 6, 1, "behind its own stitches, after blocking", 30]
    assert ends[columns].to_numpy().tolist() == [one_end, one_end]
    assert len(plan.ends) == plan.ends_in_all == plan.ends_by_area.ends.sum() == 4
    shopping = plan.shopping_list.set_index("yarn")
    assert shopping.loc["K", ["piece_m", "of_it_embroidered_m"]].tolist() == [1.0, 1.0]
    assert plan.winding_list.length_m.sum() == pytest.approx(plan.yarn_cm / 100)
    assert shopping.piece_m.sum() == pytest.approx(plan.yarn_cm / 100, abs=0.051 * len(shopping))


def test_lengths_to_embroider_are_numbered_by_yarn_and_measured_off_one_by_one():
    """By hand: single stitches of 2 cm, 1.1 times, and tails: 32.2 cm each, so 35 cm, three times.

    The two of K and the one of Y.
    """
    asked = {"gauge": Gauge(20, 28), "multiplier": MultiplierChoice("own", 4.0, 0.0)}
    rows = ["W" * 9, "WKWWYWWWW", "W" * 9, "WWWWWWWKW", "W" * 9]
    stitches = [embroider("K", 2, 2), embroider("K", 4, 8), embroider("Y", 4, 5)]
    plan = make_plan(piece(rows, *stitches, **asked))
    lines = plan.winding_list[plan.winding_list.supply == "to embroider"]
    assert sorted(lines.line) == [
        "1 × Y, 0.35 m: embroidery Y1",
        "2 × K, 0.35 m: embroidery K1, embroidery K2",
    ]
    assert plan.shopping_list.set_index("yarn").piece_m[["K", "Y"]].tolist() == [0.7, 0.4]  # 0.35
    assert (len(plan.ends), plan.ends_in_all) == (8, 8)


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


def test_a_yarn_that_is_only_embroidered_and_not_listed():
    plan = make_plan(piece(["WWKWW"] * 3, embroider("K", 1, 3), yarns={"W": Yarn("W")}))
    assert "K is embroidered, but no such yarn in yarns.csv" in plan.findings.finding.tolist()
    assert plan.traced.chart.letters == ("K", "W")


def test_where_an_embroidery_lies():
    """By eye: two areas of Y, the upper one between N and T; the last chart row is on top."""
    rows = ["NNYTT", "NYYTT", "NNNNN", "YNNNN"]
    plan = make_plan(piece(rows, embroider("Y", 4, 3), embroider("Y", 1, 5)))
    table = plan.embroidery
    assert table.yarn.tolist() == ["Y", "Y"]
    assert table.ground.tolist() == ["N", "N"]
    assert table.first_chart_row.tolist() == [1, 3]
    assert table.last_chart_row.tolist() == [1, 4]
    assert table.first_stitch.tolist() == [5, 3]
    assert table.stitches.tolist() == [1, 3]


def test_two_grounds_beneath_one_area():
    rows = ["TTYTT", "NNYNN"]
    plan = make_plan(piece(rows, embroider("Y", 1, 3)))
    assert plan.embroidery.ground.tolist() == ["N, T"]


def test_borders_are_counted_round_the_tube():
    """By eye: T has three edges beside the area, two of them across the join; N has one."""
    rows = ["YTTTT", "YNNTT"]
    around = piece(rows, embroider("Y", 1, 5), how=Construction(worked="rounds"))
    assert knitted_rows(make_plan(around)) == ["TTTTT", "TNNTT"]
