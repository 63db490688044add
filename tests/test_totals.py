"""One truth in every table: a piece added up on paper, and 200 random ones added up table by table.

No figure here is taken from the table that it is compared with: lengths are read off the lines that
a knitter reads, and what a piece takes is added up part by part.
"""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from planner import CarryLimits, Chart, Construction, Gauge, Project, Yarn, make_plan, trace_strands
from planner.buying import copies, copies_table, shop_for
from planner.choices import Pricing
from planner.piece import (
    BALL,
    BOBBIN,
    BUTTERFLY,
    LOOSE,
    PLACES,
    SUPPLIES,
    SURFACES,
    Allowances,
    Habits,
    OwnChoice,
)
from planner.strands import label_areas
from planner.supplies import TO_EMBROIDER
from tests.helpers.choices import embroider
from tests.helpers.knitter import draw_chart
from tests.helpers.parts import exact_parts, measured_cm
from tests.helpers.plans import SMALL, plan_of

# A piece to add up on paper

ON_PAPER = [
    "AAABACABAAA",
    "AAAABABAAAA",
    "AAAAABAAAAA",
]


def on_paper(units):
    """The piece of which each figure stands in the test below."""
    return plan_of(
        ON_PAPER,
        {letter: Yarn(letter, metres_per_ball=1) for letter in "ABC"},
        units=units,
        by_yarn={"A": CarryLimits(across=1)},
        allow=Allowances(tail_cm=14, cast_on=0, bind_off=0, swatch_cm=2, spare=0.1, label_error=0),
        habits=Habits(
            loose_up_to_cm=45,
            butterfly_up_to_cm=50,
            bobbin_up_to_cm=60,
            place="train",
            comfortable=2,
        ),
        choices=(embroider("C", 3, 6),),
    )


def test_a_piece_added_up_on_paper():
    """Each stitch takes 2 cm (0.5 cm wide, multiplier 4) and each tail 14 cm.

    B, a V, is begun from its middle. Half by half, each rounded up to 5 cm:
        B1a  3 stitches 6 cm, 2 shifts of one stitch 1 cm, a tail 14 cm       21.0   0.25 m
        B1b  2 stitches 4 cm, 1 shift 0.5 cm, a tail 14 cm                    18.5   0.20 m
    (Rounded together, 39.5 cm would be 0.40 m, and 0.15 m would be left for the second half.)

    A runs behind B: 10 + 9 + 9 stitches, C's among them, 56 cm; behind 1 + 2 + 2 stitches 2.5 cm;
    two tails 28 cm: 86.5 cm in all. A bobbin holds 60 cm, overfull 66 cm, so one more is joined,
    with two tails:
        A1           60.0   0.60 m
        its refill   86.5 + 28 − 60 = 54.5   0.55 m
    The first gives 60 − 28 = 32 cm: the 20.5 cm of row 1, and not all of the 19 cm of row 2.

    C is embroidered: 1 stitch, 2 cm × 1.1, two tails: 30.2 cm                0.35 m

    Sums are told to a tenth of a metre, a half rounded up: of A 1.15 m       1.2 m
    of B 0.45 m and of C 0.35 m                                               0.5, 0.4 m
    of all 1.95 m                                                             2.0 m
    The swatch, 2 cm square: 5.6 rows of 2 cm × 4 are 44.8 cm                 0.5 m
    which is more than C takes at all, so of C there is none.
    Spare, a tenth: of A 11.5 cm, of B 4.5 cm, of C 3.5 cm                    0.2, 0.1, 0.1 m
    In all 1.15 + 0.5 + 0.2 m of A, 0.45 + 0.5 + 0.1 m of B, 0.35 + 0.1 m of C.
    """
    plan = on_paper("cm")
    assert plan.winding_list.line.tolist() == [
        "1 × A, 0.60 m: A1",
        "1 × B, 0.45 m, begun 0.25 m from one end: B1 (B1a with that end, B1b with the other)",
        "1 × A, 0.55 m: A1 refill 1",
        "1 × C, 0.35 m: embroidery C1",
    ]
    assert plan.winding_list.supply.tolist() == [BOBBIN, LOOSE, BOBBIN, TO_EMBROIDER]
    columns = ["yarn", "piece_m", "of_it_embroidered_m", "swatch_m", "spare_m", "total_m"]
    assert plan.shopping_list[columns].to_numpy().tolist() == [
        ["A", 1.2, 0.0, 0.5, 0.2, 1.9],
        ["B", 0.5, 0.0, 0.5, 0.1, 1.1],
        ["C", 0.4, 0.4, 0.0, 0.1, 0.5],
    ]
    # Balls of 1 m are counted by what is not rounded.
    assert plan.shopping_list.balls_used.tolist() == [1.85, 1.05, 0.45]
    assert plan.shopping_list.balls_to_buy.tolist() == [2, 2, 1]
    # Two to a strand, a join and an embroidered area; a strand begun from its middle has two stops.
    ends = [*zip(plan.ends.strand, plan.ends.end, plan.ends.row, strict=True)]
    assert ends == [
        ("A1", "start", 1),
        ("A1", "join", 2),
        ("A1", "join", 2),
        ("B1", "stop", 3),
        ("B1", "stop", 3),
        ("A1", "stop", 3),
        ("embroidery C1", "embroidery", 3),
        ("embroidery C1", "embroidery", 3),
    ]
    # By area as it is knitted: right of the V, the V, left of it, and within it, where C comes.
    assert plan.ends_by_area.ends.tolist() == [1, 2, 3, 2]
    assert plan.ends_in_all == 8
    # A, and both halves of B from the first row on.
    assert plan.rows.live.tolist() == [3, 3, 3]
    assert plan.summary().splitlines()[2:] == [
        "8 ends to sew in (2 of them from refills, 2 of them from embroidery).",
        "Embroidered after blocking: 1 area, 1 stitch, 0.4 m of yarn if a duplicate stitch takes "
        "1.1 times as much as a knitted one (assumption: measure yours).",
        "At most 3 lengths hang at once, in row 1 (RS): busy.",
        "Held as: 2 × loose strand; 1 × bobbin (the halves counted apart).",
        "Yarn for the piece: 2.0 m, embroidery included. "
        "Yarn a row takes: 4.00 times the knitted width (your own figure). No margin is added.",
    ]


def test_the_same_piece_in_yards():
    """To whole inches: 60 cm is 24 in and 54.5 cm 22; 21 and 18.5 cm are 9 and 8, 17 together;
    30.2 cm is 12 in. Sums are told to a tenth of a yard: A takes 24 + 22 = 46 in, 1.3 yd, B 17 in,
    0.5 yd, C 12 in, 0.3 yd: 75 in in all, 2.1 yd. The swatch, 44.8 cm, is 0.5 yd to the tenth; C
    takes less than that, so it has none."""
    plan = on_paper("in")
    assert plan.winding_list.line.tolist() == [
        "1 × A, 24 in: A1",
        "1 × B, 17 in, begun 9 in from one end: B1 (B1a with that end, B1b with the other)",
        "1 × A, 22 in: A1 refill 1",
        "1 × C, 12 in: embroidery C1",
    ]
    assert plan.winding_list.length_in.tolist() == [24, 17, 22, 12]
    columns = ["yarn", "piece_yd", "of_it_embroidered_yd", "swatch_yd", "spare_yd", "total_yd"]
    assert plan.shopping_list[columns].to_numpy().tolist() == [
        ["A", 1.3, 0.0, 0.5, 0.2, 2.0],
        ["B", 0.5, 0.0, 0.0, 0.1, 0.6],
        ["C", 0.3, 0.3, 0.0, 0.1, 0.4],
    ]
    assert "1 area, 1 stitch, 0.3 yd of yarn" in plan.summary()
    assert "Yarn for the piece: 2.1 yd, embroidery included." in plan.summary()


def test_swatches_of_the_ground_only_or_of_none():
    """A is the yarn of most stitches; of B there would be a swatch, but it is not wanted."""
    plan = on_paper("cm")
    swatches = {"every yarn": [0.5, 0.5, 0], "the ground yarn": [0.5, 0, 0], "no yarn": [0, 0, 0]}
    for wanted, swatch_m in swatches.items():
        allow = replace(plan.project.allow, swatch_in=wanted)
        shopping = make_plan(replace(plan.project, allow=allow)).shopping_list
        assert shopping.swatch_m.tolist() == swatch_m
        assert shopping.total_m.tolist() == pytest.approx(
            (shopping.piece_m + shopping.swatch_m + shopping.spare_m).tolist()
        )


# 200 random pieces

CONSTRUCTIONS = {
    "flat": Construction(),
    "flat, WS first": Construction(first_row="WS"),
    "flat, left-handed": Construction(hand="left", selvedge=1),
    "garter": Construction(fabric="garter", selvedge=2),
    "garter, left-handed": Construction(fabric="garter", hand="left", first_row="WS"),
    "rounds": Construction(worked="rounds"),
    "rounds, left-handed": Construction(worked="rounds", hand="left"),
    "garter in rounds": Construction(worked="rounds", fabric="garter"),
    "turned": Construction(worked="turned"),
    "turned, left-handed, garter": Construction("turned", "WS", "left", "garter"),
}
PIECES_EACH = 20
every_construction = pytest.mark.parametrize("name", CONSTRUCTIONS)


def draw_choices(rng, chart, how, limits, areas):
    """Some small areas embroidered, and some strands and halves held as the knitter says."""
    choices = []
    numbers, sizes = np.unique(areas[areas > 0], return_counts=True)
    for area in numbers[sizes <= 6][::2]:
        row, column = np.argwhere(areas == area)[0].tolist()
        letter = chart.letters[chart.cells[row, column]]
        worked_row = row * how.rows_per_chart_row + 1
        choices.append(embroider(letter, worked_row, chart.columns - column))
    strands = trace_strands(chart, how, limits=limits).table()
    for strand in strands[:: rng.integers(3, 6)].itertuples():
        parts = ["first half", "second half"] if strand.middle_start else ["whole"]
        part, supply = str(rng.choice(parts)), str(rng.choice([*SUPPLIES, BOBBIN, BOBBIN]))
        place = (strand.yarn, strand.first_row, strand.first_stitch)
        choices.append(OwnChoice("supply", *place, part, supply))
    return tuple(choices)


def draw_habits(rng):
    """Where the piece is knitted, in whole and in part, and how many strands are many."""
    bobbin = float(rng.choice([91, 136, 364]))
    return replace(
        SMALL,
        bobbin_up_to_cm=bobbin,
        balls_on_table=int(rng.integers(5)),
        place=str(rng.choice(PLACES, p=[0.8, 0.1, 0.1])),
        elsewhere=str(rng.choice(["", "9-14 train", "rows 1–6 sofa; 12–40 train"])),
        comfortable=int(rng.choice([3, 9])),
        crowded=9,
        rewinding=bool(rng.integers(4)),
    )


def with_a_fork(rng, rows):
    """The same chart with two lines of single stitches in Y that part from one stitch."""
    bottom, apex = int(rng.integers(len(rows) // 2)), int(rng.integers(2, len(rows[0]) - 2))
    forked = list(rows)
    for up in range(len(rows) - bottom):
        cells = list(rows[-1 - bottom - up])
        for column in (apex - up, apex + up):
            if 0 <= column < len(cells) and cells[column] != ".":
                cells[column] = "Y"
        forked[-1 - bottom - up] = "".join(cells)
    return forked


@cache
def random_plans(name):
    """Plans of small random pieces under one construction, many begun from the middle."""
    how, plans = CONSTRUCTIONS[name], []
    for number in range(PIECES_EACH):
        rng = np.random.default_rng([number, list(CONSTRUCTIONS).index(name)])
        rows = draw_chart(
            int(rng.integers(10_000)),
            stitches=int(rng.integers(8, 16)),
            rows=int(rng.integers(5, 12) if number % 5 else rng.integers(14, 26)),
            yarns=int(rng.integers(2, 5)),
            smooth=float(rng.choice([0.8, 1.2, 2])),
            holes=number % 5 == 4,
        )
        if number % 4:
            rows = with_a_fork(rng, rows)
        # In every third, rows of two wide stripes before all the rest.
        if number % 3 == 0:
            left, right, half = rows[-1][0], rows[-1][-1], len(rows[-1]) // 2
            quiet = (left if left != "." else "A") * half + (right if right != "." else "B") * half
            rows = [*rows, *[quiet.ljust(len(rows[-1]), quiet[-1])] * int(rng.integers(7, 14))]
        chart = Chart.from_rows(rows)
        limits = CarryLimits(across=int(rng.integers(4)), sideways=int(rng.integers(3, 8)))
        yarns = {
            letter: Yarn(
                letter,
                metres_per_ball=float(rng.integers(2, rng.choice([5, 30])))
                if rng.random() < 0.9
                else None,
                grams_per_ball=25,
                balls_in_hand=float(rng.integers(4)) / 2,
                feltable=bool(rng.integers(2)),
                superwash=bool(rng.integers(2)),
                surface=str(rng.choice(SURFACES)),
                part_balls_g=tuple(rng.uniform(3, 20, size=rng.integers(2)).tolist()),
            )
            for letter in chart.letters
        }
        choices = ()
        if number % 3:
            choices = draw_choices(rng, chart, how, limits, label_areas(chart, how))
        project = Project(
            f"{name} {number}",
            chart,
            yarns,
            Gauge(float(rng.integers(16, 30)), float(rng.integers(20, 36))),
            how,
            limits=limits,
            habits=draw_habits(rng),
            allow=Allowances(
                tail_cm=float(rng.integers(8, 18)),
                swatch_cm=float(rng.choice([0, 10, 12])),
                spare=float(rng.choice([0, 0.05, 0.1])),
            ),
            choices=choices,
            units=("cm", "in")[number % 2],
        )
        plans.append(make_plan(project))
    return plans


# Each test adds up the same parts.
parts_of = cache(exact_parts)


def tenths(total):
    """A sum to a tenth, a half rounded up."""
    return math.floor(total * 10 + 0.5 + 1e-6) / 10


def in_words(total, unit):
    """A sum as a sentence says it: whole from 10 on."""
    if tenths(total) < 10:
        return f"{tenths(total):.1f} {unit}"
    return f"{math.floor(total + 0.5 + 1e-6)} {unit}"


def long_unit(plan):
    """The unit in which lengths of yarn are shown, and how many cm it is."""
    return ("m", 100) if plan.project.units == "cm" else ("yd", 91.44)


def in_long_unit(words):
    """The metres or yards that are said: "0.95 m", "27 in", "1.25 yd", "2 yd 3 in"."""
    figures = {unit: float(number) for number, unit in re.findall(r"([\d.]+) (m|yd|in)\b", words)}
    return figures.get("m", 0) + figures.get("yd", 0) + figures.get("in", 0) / 36


def added_up(plan, *, supply=None):
    """What the winding list asks to measure off of each yarn, as a knitter adds it up.

    "8 × B, 0.95 m: …" is eight times 0.95 m; what is fed from a ball is one length a line, and so
    is what comes off its ball later: "B1 from row 30: 2.45 m, measured off …".
    """
    totals = defaultdict(float)
    for line in plan.winding_list.itertuples():
        of_one = re.search(
            r": from (?:the ball|ball \d+(?: \(.*?\))?), (.*)|"
            r" from row \d+: (.*), measured off its ball then, not before$",
            line.line,
        )
        measured = of_one[1] or of_one[2] if of_one else line.line.split(": ")[0]
        length = in_long_unit(measured.split(", begun")[0])
        times = re.match(r"(\d+) × ", line.line)
        if supply in (None, line.supply):
            totals[line.yarn] += length * int(times[1] if times else 1)
    return dict(totals)


def taken_cm(plan):
    """What each piece of each yarn takes, cm, by part and refill: what one knitter measures off.

    All but the last piece of a part are as long as its bobbin or its ball, or all are alike where
    that would leave too much for the last; each refill adds two tails. What is measured off in
    mid-strand is a piece of its own, as long as its record says.
    """
    habits, allow = plan.project.habits, plan.project.allow
    pieces = defaultdict(list)
    for part, held in zip(parts_of(plan).itertuples(), plan.held, strict=True):
        rest = part.cm + 2 * allow.tail_cm * part.refills
        alike = rest / (part.refills + 1)
        if held.measured_off:
            assert not part.refills
            check_what_is_measured_off(plan, held)
            pieces[part.yarn].append(held.measured_off.length_cm)
            rest -= held.measured_off.length_cm
        for stage in held.stages[: part.refills]:
            capacity = max(habits.bobbin_up_to_cm, alike)
            if held.supply == BOBBIN:
                assert capacity <= 1.1 * habits.bobbin_up_to_cm + 1e-6
            if held.supply == BALL:
                # What its ball has left when it has fed others too; a ball that nobody has is as
                # long as the longest.
                capacity = stage.length_cm
                balls_cm = plan.balls[part.yarn]
                assert capacity <= (balls_cm[stage.ball - 1] if stage.ball else max(balls_cm))
            pieces[part.yarn].append(capacity)
            rest -= capacity
        assert rest > 0
        pieces[part.yarn].append(rest)
    # The lengths to embroider with, unrounded.
    for yarn, length in zip(plan.to_embroider.yarn, plan.to_embroider.length_cm, strict=True):
        pieces[yarn].append(length)
    return pieces


def check_what_is_measured_off(plan, held):
    """It holds the stitches from its row on and the tail, and no more than what else may be in it:
    carries, margin and bind-off."""
    part, stage = held.part, held.measured_off
    runs = plan.traced.runs
    later = part.runs[runs.row[part.runs] >= stage.row]
    stitch_cm = plan.project.gauge.stitch_cm
    multiplier = plan.multipliers[part.yarn].value
    least = runs.stitches[later].sum() * stitch_cm * multiplier + plan.project.allow.tail_cm
    # At either edge of a row there may be selvedge; in turned rounds there is a yarn-over in each.
    beside = 2 * plan.project.how.selvedge + 1
    selvedge_cm = beside * len(later) * stitch_cm * multiplier
    most = least + selvedge_cm + part.carried_cm + part.margin_cm + part.bind_off_cm
    assert least - 1e-6 <= stage.length_cm <= most + 1e-6, (plan.project.name, part.title)
    assert part.hangs_from < stage.row <= part.last_row


def test_the_random_pieces_try_everything():
    plans = [plan for name in CONSTRUCTIONS for plan in random_plans(name)]
    assert len(plans) == 200
    assert sum(plan.traced.middle_starts for plan in plans) > 150
    assert sum(len(plan.to_embroider) for plan in plans) > 200
    assert sum(plan.refill_ends for plan in plans) > 80
    held = [each for plan in plans for each in plan.held]
    assert sum(each.measured_off is not None for each in held) > 20
    for supply, least in ((BOBBIN, 30), (BALL, 3)):
        assert sum(each.supply == supply and each.refills > 0 for each in held) > least
    lines = [line for plan in plans for line in plan.winding_list.line]
    assert sum(" of a ball)" in line for line in lines) > 5
    assert sum(" g)" in line for line in lines) > 20
    assert sum("not before" in line for line in lines) > 20
    assert sum(stage.ball > 0 for each in held for stage in each.stages) > 100
    # Overfull in one piece, and joined, all pieces alike.
    overfull = Counter()
    for plan in plans:
        for each in plan.held:
            fuller = each.stages[0].length_cm > plan.project.habits.bobbin_up_to_cm + 1e-6
            overfull[min(each.refills, 1)] += each.supply == BOBBIN and fuller
    assert min(overfull.values()) > 10, overfull
    assert sum("(to be bought)" in line for line in lines) > 20
    supplies = Counter(supply for plan in plans for supply in plan.winding_list.supply)
    assert set(SUPPLIES) | {TO_EMBROIDER} < set(supplies)  # and halves held in two ways
    assert sum(" and " in supply for supply in supplies.elements()) > 20
    # A half on the ball, the other wound off.
    titles = [label for plan in plans for label in ", ".join(plan.winding_list.labels).split(", ")]
    assert sum(label[-1] in "ab" for label in titles) > 10
    refilled = [label for label in titles if re.search(r"[ab] refill", label)]
    assert refilled


@every_construction
def test_yarn_is_the_same_in_every_table(name):
    """The lines of the winding list add up to the shopping list and to the summary;
    each is the sum of what is measured off, rounded once, to a tenth or a whole metre or yard."""
    for plan in random_plans(name):
        unit, unit_cm = long_unit(plan)
        shopping = plan.shopping_list.set_index("yarn")
        to_measure = added_up(plan)
        in_tenths = {yarn: tenths(total) for yarn, total in to_measure.items()}
        assert shopping[f"piece_{unit}"].to_dict() == pytest.approx(in_tenths), plan.project.name
        in_all = sum(to_measure.values())
        assert plan.yarn_cm == pytest.approx(in_all * unit_cm)
        assert f"Yarn for the piece: {in_words(in_all, unit)}" in plan.summary()
        assert f"{in_words(in_all, unit)} of yarn" in repr(plan)
        columns = [f"{column}_{unit}" for column in ("piece", "swatch", "spare")]
        assert shopping[f"total_{unit}"].tolist() == pytest.approx(shopping[columns].sum(axis=1))

        # The columns of the winding list beside its lines.
        lines = plan.winding_list
        column, in_one = ("length_m", 1) if unit == "m" else ("length_in", 36)
        by_column = (lines.pieces * lines[column] / in_one).groupby(lines.yarn).sum()
        assert by_column.to_dict() == pytest.approx(to_measure)

        # What is embroidered, in the three places where it stands.
        embroidered = added_up(plan, supply=TO_EMBROIDER)
        table = plan.embroidery.groupby("yarn")[column].sum() / in_one
        assert table.to_dict() == pytest.approx(embroidered)
        assert (f"of_it_embroidered_{unit}" in shopping) is bool(embroidered)
        if embroidered:
            of_it = shopping[f"of_it_embroidered_{unit}"]
            in_tenths = {yarn: tenths(total) for yarn, total in embroidered.items()}
            assert of_it[of_it > 0].to_dict() == pytest.approx(in_tenths)
            assert f", {in_words(sum(embroidered.values()), unit)} of yarn if" in plan.summary()


@every_construction
def test_a_price_says_what_the_summary_says(name):
    """Where nothing is refilled or held in two ways one after the other."""
    for plan in random_plans(name):
        if all(len(each.stages) == 1 for each in plan.held):
            now = Pricing(plan.project).now
            assert now.yarn_cm == pytest.approx(plan.yarn_cm), plan.project.name
            assert now.ends == plan.ends_in_all
            assert now.live == plan.rows.live.max()


@every_construction
def test_yarn_by_a_plain_count(name):
    """Part by part and refill by refill, each rounded up: nothing is left out, nothing is twice."""
    for plan in random_plans(name):
        _, unit_cm = long_unit(plan)
        plain = {}
        for yarn, lengths in taken_cm(plan).items():
            measured = [measured_cm(cm, plan.project.units) for cm in lengths]
            plain[yarn] = sum(measured) / unit_cm
        assert added_up(plan) == pytest.approx(plain), plan.project.name


@every_construction
def test_no_half_is_shorter_than_it_takes(name):
    """ "Begun 0.25 m from one end": so much for the half that is worked first, the rest for the
    other, each rounded up and never by a whole step."""
    for plan in random_plans(name):
        unit, unit_cm = long_unit(plan)
        parts = parts_of(plan).set_index("title")
        for line in plan.winding_list.itertuples():
            begun = re.search(r", ([^,]+), begun (.+) from one end: (.*)$", line.line)
            if not begun:
                continue
            first_cm = in_long_unit(begun[2]) * unit_cm
            second_cm = in_long_unit(begun[1]) * unit_cm - first_cm
            titles = re.findall(r"(\w+) \((\w+) with that end, (\w+) with", begun[3])
            assert len(titles) == line.pieces
            for whole, first, second in titles:
                assert (first, second) == (f"{whole}a", f"{whole}b")
                # Of a half that is refilled only the first piece is in it.
                for title, length_cm in ((first, first_cm), (second, second_cm)):
                    part = parts.loc[title]
                    step = 5 if unit == "m" else 2.54 if length_cm < 91.5 else 22.86
                    if not part.refills:
                        assert part.cm - 1e-6 <= length_cm < part.cm + step, (title, line.line)


@every_construction
def test_a_card_and_the_winding_list_say_the_same(name):
    """Every start on a card has the supply and the length of its line in the winding list."""
    for plan in random_plans(name):
        listed = {}
        for line in plan.winding_list.itertuples():
            if line.supply == TO_EMBROIDER:
                continue
            for label in line.labels.split(", "):
                ball = re.search(r": (from (?:the ball|ball \d+(?: \(.*?\))?)), ", line.line)
                later = re.search(r" from row \d+: (.*), measured off", line.line)
                measured = later or re.match(r"\d+ × \w+, (.*): ", line.line)
                # A card names the very ball.
                listed[label] = ball[1] if ball else f"{line.supply} of {measured[1]}"
        laid_out, measured_off, joined = {}, {}, defaultdict(list)
        for card in cards_in_order(plan):
            for need in card.ready:
                later = re.fullmatch(
                    r"from the work on, measure off (\S+ \S+), cut it from its ball and (.*)",
                    need.words,
                )
                join = re.fullmatch(r"(.*) for (\w+)", need.title)
                if later:
                    supply = HOW_SAID[later[2]]
                    title = f"{need.title} from row {card.row}"
                    measured_off[title] = f"{supply} of {later[1]}"
                elif join:
                    joined[join[2]].append(join[1])
                elif ", cut off now, for its ball is in use when" in need.words:
                    continue  # said again before its row
                else:
                    assert need.title not in laid_out
                    laid_out[need.title] = said_of(need, listed)
        # What is measured off in mid-strand is not begun, but said before its row.
        later = {label: words for label, words in listed.items() if "from row" in label}
        refills = {label: words for label, words in listed.items() if "refill" in label}
        assert measured_off == later
        first = {label: words for label, words in listed.items() if label not in {*later, *refills}}
        assert laid_out == first
        check_refills_on_cards(joined, refills)


HOW_SAID = {
    "let it hang as a loose strand": LOOSE,
    "wind a butterfly": BUTTERFLY,
    "wind it on a bobbin": BOBBIN,
}


def cards_in_order(plan):
    """The cards of a plan; what is cast on with lies ready then, and not again in row 1."""
    cast_on, rows, _ = plan.all_cards
    return [cast_on, *rows] if cast_on else rows


def said_of(need, listed):
    """How a card says that a piece is held, in the words of the winding list.

    The halves are one length, unless one of them is on the ball: then each has its supply, and what
    is wound is measured off first.
    """
    words, off_ball = re.subn(r", measured off the ball first and not cut from it$", "", need.words)
    half, is_half = re.subn(r"[ab]$", "", need.title)
    other = half + {"a": "b", "b": "a"}.get(need.title[-1], "")
    goes_on = is_half and listed.get(other, "").startswith("from ")
    assert bool(off_ball) is bool(goes_on and not words.startswith("from "))
    words, halves = re.subn(r" \((\w+)a with that end, \1b with the other\)$", "", words)
    assert bool(halves) is ("begun" in words)
    return re.sub(r"^([^,]*), ", r"\1 of ", words)


def check_refills_on_cards(joined, listed):
    """Where a piece runs out the card names what to join: so much, or that ball; refills are
    numbered as they fall due."""
    on_cards = {}
    for part, titles in joined.items():
        for number, words in enumerate(titles, 1):
            on_cards[f"{part} refill {number}"] = words
    in_list = {}
    for label, words in listed.items():
        ball = re.match(r"from (ball \d+)", words)
        in_list[label] = ball[1] if ball else re.sub(r"^bobbin of", "a refill of", words)
        # A ball that nobody has has no number; if there is no other, nor has the ball in the list.
        if words == BALL:
            in_list[label] = "the next ball"
    assert on_cards == in_list


@every_construction
def test_no_list_asks_more_of_a_ball_than_it_has(name):
    """All that comes off a ball as it is listed, rounded up: what it feeds, what is measured off
    later, and the half that is wound of a length whose other half it feeds."""
    for plan in random_plans(name):
        units = plan.project.units
        halves = defaultdict(list)
        for held in plan.held:
            halves[held.part.label].append(held)
        off_ball = defaultdict(float)
        for held in plan.held:
            numbered = [stage for stage in held.stages if stage.ball]
            for stage in numbered:
                off_ball[held.part.yarn, stage.ball] += measured_cm(stage.length_cm, units)
            if numbered:
                rest = [held.measured_off] if held.measured_off else []
                for half in halves[held.part.label]:
                    rest += half.stages[:1] if half is not held else []
                first = (held.part.yarn, numbered[0].ball)
                off_ball[first] += sum(measured_cm(stage.length_cm, units) for stage in rest)
        balls = {each.yarn.letter: each.balls_cm for each in plan.needed}
        for (yarn, ball), length_cm in off_ball.items():
            assert length_cm <= balls[yarn][ball - 1] + 1e-6, (plan.project.name, yarn, ball)


@every_construction
def test_ends_are_the_same_in_every_table(name):
    """Two to a strand, to a join that is not spliced and to an embroidered area."""
    for plan in random_plans(name):
        yarns = plan.project.yarns.items()
        spliced = [letter for letter, yarn in yarns if yarn.feltable and not yarn.superwash]
        joins = plan.supplies[~plan.supplies.yarn.isin(spliced)].refills.sum()
        plain = 2 * (len(plan.strands) + joins + len(plan.embroidery))
        assert plan.ends_in_all == plain, plan.project.name
        assert len(plan.ends) == plan.ends_by_area.ends.sum() == plain
        assert (plan.ends.end == "embroidery").sum() == 2 * len(plan.embroidery)
        by_area = plan.ends.area.value_counts().sort_index()
        assert plan.ends_by_area.set_index("area").ends.to_dict() == by_area.to_dict()
        of_them = []
        if joins:
            of_them.append(f"{2 * joins} of them from refills")
        if len(plan.embroidery):
            of_them.append(f"{2 * len(plan.embroidery)} of them from embroidery")
        extra = f" ({', '.join(of_them)})" if of_them else ""
        assert f"{plain} ends to sew in{extra}." in plan.summary().splitlines()


@every_construction
def test_what_hangs_at_once_is_the_same_everywhere(name):
    """In the rows, on the cards, in the summary and in the ways: the lengths that hang, both halves
    of a middle start from its first row on."""
    for plan in random_plans(name):
        parts = parts_of(plan)
        for row, live in zip(plan.rows.row, plan.rows.live, strict=True):
            assert live == ((parts.hangs_from <= row) & (row <= parts.last_row)).sum()
        assert [card.live for card in plan.cards] == plan.rows.live.tolist()
        most = plan.rows.live.max()
        said = "1 length hang" if most == 1 else f"{most} lengths hang"
        assert f"At most {said} at once, in " in plan.summary()
        # A card says it where it is not as in the row before.
        before = None
        for card in plan.cards:
            said = "1 hangs" if card.live == 1 else f"{card.live} hang at once"
            is_new = before != (before := (card.live, card.load))
            assert (f"{said}: {card.load}." in str(card).splitlines()) is is_new

        # Of what is live, some hangs and some lies on the table, in the mix and in any other way.
        for way in plan.ways.itertuples():
            first, last = map(int, way.rows.split("–"))
            live = plan.rows.live[first - 1 : last].max()
            assert way.most_at_once == live
            assert way.balls_on_table <= live


@every_construction
def test_the_sections_wind_what_the_list_winds(name):
    """What the suggested mix has to wind, section by section, is each wound piece of the winding
    list once: both halves of a strand as one, a refill in the section in which it is joined, what
    is measured off in mid-strand in that where it hangs."""
    for plan in random_plans(name):
        mix = plan.ways[plan.ways.way == "as planned"]
        wound = [piece for piece in plan.pieces if piece.supply not in (BALL, TO_EMBROIDER)]
        assert mix.lengths_to_wind.sum() == len(wound), plan.project.name
        for way in mix.itertuples():
            first, last = map(int, way.rows.split("–"))
            begun = sum(first <= piece.row + 1 <= last for piece in wound)
            # A half that is taken up later is wound with its strand all the same.
            assert way.lengths_to_wind == begun, (plan.project.name, way.rows)


@every_construction
def test_copies_are_so_many_times_the_plan(name):
    """One copy is the plan itself; of three everything is three times as much, but what hangs at
    once and the swatch."""
    for plan in random_plans(name)[::3]:
        unit, unit_cm = long_unit(plan)
        to_wind = plan.winding_list[plan.winding_list.supply != BALL].pieces.sum()
        for count in (1, 3):
            table = copies_table(copies(plan, count))
            for line in table.to_dict("records"):
                assert line["strands"] == count * len(plan.strands)
                assert line["ends"] == count * len(plan.ends)
                assert line["most_at_once"] == plan.rows.live.max()
                assert line["lengths_to_wind"] == count * to_wind
                in_all = count * sum(added_up(plan).values())
                assert line[f"yarn_{unit}"] == pytest.approx(tenths(in_all))
            shopping = shop_for([plan] * count).set_index("yarn")
            in_all = {yarn: count * length for yarn, length in added_up(plan).items()}
            assert (shopping.piece_cm / unit_cm).to_dict() == pytest.approx(in_all)
            # One swatch for all, of each yarn that takes as much.
            allow, gauge = plan.project.allow, plan.project.gauge
            for yarn, total in in_all.items():
                swatch_cm = plan.multipliers[yarn].value * allow.swatch_cm**2 / gauge.row_cm
                tenth_up = math.ceil(swatch_cm / unit_cm * 10 - 1e-9) / 10
                expected = tenth_up if swatch_cm <= total * unit_cm else 0
                assert shopping.swatch_cm[yarn] / unit_cm == pytest.approx(expected)
