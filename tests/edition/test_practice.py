"""The practice piece and its lesson: every choice of techniques, every way of holding yarn."""

import re
from dataclasses import asdict, replace
from itertools import combinations

import numpy as np
import pytest

from planner import Chart, Construction, Gauge, PlanError, Project, Yarn, make_plan
from planner.charts import LINE, MIDDLE_START, SLANT, VERTICAL
from planner.charts.swatching import find_marks
from planner.edition import TECHNIQUES, handout_of, make_lesson, plain_text, practice_piece
from planner.edition.practice import PATCH, bands_of
from planner.piece import BALL, SUPPLIES, Allowances, Habits
from planner.strands import ACROSS, label_areas
from tests.helpers.card_reader import CardReader, Way
from tests.helpers.plans import demo

SUBSETS = [
    chosen for size in range(1, 1 + len(TECHNIQUES)) for chosen in combinations(TECHNIQUES, size)
]
SINGLE_AND_ALL = [*((each,) for each in TECHNIQUES), TECHNIQUES]
every_subset = pytest.mark.parametrize("techniques", SUBSETS, ids=" + ".join)
LIKE = Project("like", Chart.from_rows(["A"]), gauge=Gauge(20, 28))


def practised(techniques=TECHNIQUES, **asked):
    return make_plan(practice_piece(Project("like", Chart.from_rows(["A"]), **asked), techniques))


def read_by_newcomer(plan):
    """The letters of each row that come off the needles of one who knows the cards alone."""
    cast_on, rows, bind_off = plan.all_cards
    way = Way(**asdict(plan.project.how))
    return CardReader(way).read(str(cast_on), list(map(str, rows)), str(bind_off)).letters


# ---- the chart


@every_subset
def test_each_technique_is_in_its_rows_and_fills_the_piece(techniques):
    """Found by the marks of the swatch from a chart, which know nothing of this piece."""
    plan = practised(techniques)
    cells = plan.traced.chart.cells
    assert cells.shape == (30, 24)
    marks = find_marks(plan.traced)
    bands = bands_of(techniques)
    assert list(bands) == list(techniques)
    in_order = [row for band in bands.values() for row in band]
    assert in_order == sorted(in_order)
    assert (in_order[0], in_order[-1]) == (3, 28)
    for technique, (first, last) in bands.items():
        band = slice(first - 1, last)
        if technique == PATCH:
            areas = label_areas(plan.traced.chart, plan.project.how)
            dark = cells[band] == plan.traced.chart.letters.index("C")
            sizes = np.bincount(areas[band][dark])
            assert max(sizes) == 16
            assert first + 3 <= last
        else:
            assert marks[technique][band].any()
    # Cast on and bound off in the ground, so that neither is done in sections.
    assert not cells[:2].any()
    assert not cells[-2:].any()


@every_subset
def test_a_newcomer_knits_the_chart_from_the_cards(techniques):
    """Right- and left-handed; the reader refuses what is not said, or said in two ways."""
    for hand in ("right", "left"):
        plan = practised(techniques, how=Construction(hand=hand))
        expected = plan.project.chart.to_rows()[::-1]
        assert read_by_newcomer(plan) == expected


def test_the_techniques_are_worked_as_they_are_called():
    plan = practised()
    links, runs = plan.traced.links, plan.traced.runs
    (middle,) = np.flatnonzero(links.is_middle)
    assert plan.traced.chart.letters[runs.yarn[links.a[middle]]] == "C"
    behind = runs.row[links.a[links.kind == ACROSS]] + 1
    first, last = bands_of(TECHNIQUES)[LINE]
    # The lowest row of its band is plain: from it the ground goes on to both sides.
    assert behind.tolist() == list(range(first + 1, last + 1))


def test_it_is_the_pieces_own_gauge_and_yarn():
    band = Yarn("Q", "Private red", metres_per_ball=200, grams_per_ball=50, dye_lot="7")
    like = Project(
        "like",
        Chart.from_rows(["Q"]),
        {"Q": band},
        gauge=Gauge(28, 40),
        how=Construction(worked="turned", hand="left", fabric="garter"),
        allow=Allowances(tail_cm=20),
        habits=Habits(balls_on_table=0),
        units="in",
        needle="2.5 mm",
    )
    piece = practice_piece(like)
    assert (piece.gauge, piece.units, piece.needle) == (like.gauge, "in", "2.5 mm")
    assert piece.how == Construction(hand="left")
    assert piece.allow.tail_cm == 20
    for yarn in piece.yarns.values():
        assert (yarn.metres_per_ball, yarn.balls_in_hand, yarn.dye_lot) == (200, 0, "")
    assert [yarn.name for yarn in piece.yarns.values()] == ["Pale", "Middle", "Dark"]


def test_its_yarns_are_told_apart_by_any_eye_and_in_grey():
    assert practised().alike == []


@pytest.mark.parametrize("techniques", [(), ("moss stitch",)])
def test_no_technique_is_refused(techniques):
    with pytest.raises(PlanError, match=r"one technique or more; they are vertical border, slant"):
        practice_piece(LIKE, techniques)


# ---- the lesson


def test_each_way_is_tried_with_each_length():
    lesson = make_lesson(LIKE)
    assert [way.supply for way in lesson.ways] == list(SUPPLIES)
    parts = len(lesson.plan.held)
    assert all(way.to_wind == parts and not way.joins for way in lesson.ways)
    bad = {way.supply: dict(way.bad) for way in lesson.ways}
    # Four of them are at work side by side in the V, two of them in the ground's yarn besides A1.
    assert set(bad[BALL]) == {"C1b", "A2", "A3", "A4"}
    assert bad["loose strand"].keys() == {"A1"}
    assert all("swings" in reason for reason in bad["bobbin"].values())
    short = {each.part.title for each in lesson.plan.held if each.part.wound_cm < 100}
    assert set(bad["butterfly"]) == short


def test_small_bobbins_are_joined():
    """What a habit of the class would be: the practice piece has the usual ones."""
    lesson = make_lesson(LIKE, techniques=[VERTICAL])
    assert lesson.plan.project.habits == Habits()
    assert {way.joins for way in lesson.ways} == {0}


def test_yarn_for_a_class_is_that_of_one_times_so_many():
    one, eight = make_lesson(demo().project), make_lesson(demo().project, students=8)
    for alone, together in zip(one.materials, eight.materials, strict=True):
        assert alone.buy_cm == together.buy_cm
        balls = -(-8 * alone.buy_cm // alone.shortest_ball_cm)
        assert together.balls(8) == balls
        assert alone.high_cm < alone.buy_cm


@pytest.mark.parametrize("students", [0, 1001])
def test_a_class_has_students(students):
    with pytest.raises(PlanError, match=r"give 1 to 1,000"):
        make_lesson(LIKE, students=students)


@pytest.mark.parametrize("techniques", SINGLE_AND_ALL, ids=" + ".join)
def test_the_handout_says_all_that_the_cards_say(techniques):
    """Each run, each length to have ready, in order; and what to look for in its rows."""
    lesson = make_lesson(LIKE, techniques=techniques, students=3)
    text = plain_text(handout_of(lesson)).decode()
    flat = " ".join(text.split())
    cast_on, rows, bind_off = lesson.plan.all_cards
    at = flat.index("A card for each row")
    for card in (cast_on, *rows, bind_off):
        for words in (card.title.split(" (")[0], *map(str, card.ready), *map(str, card.lines)):
            at = flat.index(" ".join(words.split()), at)
    # The last row of the chart's own that is not plain, where a band ends in plain ones.
    plain = {row for row, cells in enumerate(lesson.plan.traced.chart.cells, 1) if not cells.any()}
    for first, last in bands_of(techniques).values():
        seen = [row for row in range(first, last + 1) if row not in plain]
        assert f"rows {seen[0]} to {seen[-1]}" in flat
    assert "for 3 students" in flat
    assert "to be bought" not in flat
    assert max(map(len, text.splitlines())) <= 72


def test_slants_and_middle_starts_have_words_of_their_own():
    only_slant = plain_text(handout_of(make_lesson(LIKE, techniques=[SLANT]))).decode()
    assert "Slant, rows 3 to 28" in only_slant
    assert "V from the middle" not in only_slant
    with_v = plain_text(handout_of(make_lesson(LIKE, techniques=[MIDDLE_START]))).decode()
    assert "fold the strand at the place" in " ".join(with_v.split())


def test_it_is_in_inches_where_the_piece_is():
    like = replace(LIKE, units="in", allow=Allowances(tail_cm=15.24))
    text = plain_text(handout_of(make_lesson(like))).decode()
    assert not re.search(r"\d (?:cm|m|mm)\b", text)
    assert "A tail is 6 in." in text


def test_each_card_says_knit_or_purl():
    """Flat stockinette: knitted on RS, purled on WS (facts of the trade)."""
    text = plain_text(handout_of(make_lesson(LIKE))).decode()
    assert "Row 7 (RS), knit, right to left: 24 stitches" in text
    assert "Row 8 (WS), purl, left to right: 24 stitches" in text
    assert "Bind off, knit, right to left: 24 stitches" in text
