"""The pieces to wind and the winding list, against sums made piece by piece."""

import re

import numpy as np
import pandas as pd
import pytest

from planner import CarryLimits, Yarn
from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, Allowances, Habits, OwnChoice
from planner.units import CM_PER, show
from tests.helpers.parts import exact_parts, measured_halves_cm, pieces_of, step_cm
from tests.helpers.plans import FEW_THEN_MANY, WS_FIRST, V, every_random_plan, plan_of, random_plan


@every_random_plan
def test_pieces_add_up_to_the_strand_and_two_tails_a_refill(number):
    plan = random_plan(number)
    tail = plan.project.allow.tail_cm
    held = exact_parts(plan).groupby("strand").agg({"cm": "sum", "refills": "sum"})
    pieces = pieces_of(plan).groupby("strand").agg({"length_cm": "sum", "refill": "sum"})
    np.testing.assert_allclose(pieces.length_cm, held.cm + 2 * tail * held.refills)
    assert pieces.refill.tolist() == held.refills.tolist()


@every_random_plan
def test_no_piece_is_longer_than_its_supply_holds(number):
    plan = random_plan(number)
    habits = plan.project.habits
    by_hand = set(plan.supplies.strand[plan.supplies.chosen == "by you"])
    holds = {
        LOOSE: habits.loose_up_to_cm,
        BUTTERFLY: habits.butterfly_up_to_cm,
        # A tenth more rather than a join.
        BOBBIN: 1.1 * habits.bobbin_up_to_cm,
    }
    if habits.drop == "long" or (plan.rows.live > habits.crowded).any():
        holds[LOOSE] = 457
    for piece in pieces_of(plan).itertuples():
        if piece.supply == BALL:
            # As it is listed, which is rounded up.
            ball_cm = 100 * plan.project.yarns[piece.yarn].metres_per_ball
            assert piece.to_measure_cm <= ball_cm + 1e-6, piece.label
        elif piece.supply in holds and not piece.from_middle and piece.strand not in by_hand:
            assert piece.length_cm <= holds[piece.supply] + 1e-6, piece.label
        assert piece.length_cm > 2 * plan.project.allow.tail_cm * (
            piece.refill or piece.strand in by_hand
        )


def test_rows_in_which_the_pieces_hang():
    """By eye, as the refills fall due in rows 5, 10, 14 and 19: each piece hangs until the row in
    which the next is joined, and the last to the end."""
    habits = Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train")
    pieces = plan_of(["A" * 40] * 22, habits=habits).pieces
    rows = [(piece.from_row, piece.to_row) for piece in pieces]
    assert rows == [(1, 5), (5, 10), (10, 14), (14, 19), (19, 22)]
    assert [piece.label for piece in pieces] == ["A1", *(f"A1 refill {n}" for n in range(1, 5))]
    # 17.60 m and ten tails in bobbins of 4 m: the last takes the rest.
    assert [piece.length_cm for piece in pieces] == [400, 400, 400, 400, 310]


def test_stages_in_the_winding_list():
    """By hand: A and B come from their balls for 29 rows; then 4.15 m of each are measured off, in
    rows of six lengths. What is fed comes first, what is measured off when it is needed. C to F, as
    long and two tails, are lines of their own."""
    yarns = {
        "A": Yarn("A", metres_per_ball=80, grams_per_ball=40, balls_in_hand=1, part_balls_g=(20,)),
        "B": Yarn("B"),
    }
    plan = plan_of(FEW_THEN_MANY, yarns, how=WS_FIRST)
    assert plan.winding_list.line.tolist() == [
        "B1: from the ball, 5.95 m",
        "A1: from ball 2 (20 g), 29.15 m",
        "B1 from row 30: 4.15 m, measured off its ball then, not before",
        "A1 from row 30: 4.15 m, measured off its ball then, not before",
        "1 × F, 4.30 m: F1",
        "1 × E, 4.30 m: E1",
        "1 × D, 4.30 m: D1",
        "1 × C, 4.30 m: C1",
    ]
    later = next(piece for piece in plan.pieces if piece.label == "A1 from row 30")
    assert (later.strand, later.part, later.supply) == ("A1", "A1", BUTTERFLY)
    assert (later.before_row, later.from_row, later.to_row) == (29, 30, 49)
    assert (later.refill, later.rule_cm, later.is_first) == (0, None, False)
    first = next(piece for piece in plan.pieces if piece.label == "A1")
    assert (first.from_row, first.to_row, first.before_row) == (1, 29, None)
    # The rule of three is for a whole part: of what is fed until row 29 it says nothing.
    assert plan.winding_list.rule_of_three_m.isna().tolist() == [*[True] * 4, *[False] * 4]


def test_which_ball():
    """Two balls and a bit in hand, one to be bought: three stripes of 27 m and one of 45 m.
    The bit holds one of the short ones."""
    rows = ["A" * 30 + "B" * 6 + "A" * 30 + "C" * 6 + "A" * 30 + "B" * 6 + "A" * 50] * 45
    yarns = {
        "A": Yarn("A", metres_per_ball=50, grams_per_ball=50, balls_in_hand=2, part_balls_g=(30,))
    }
    allow = Allowances(tail_cm=15, cast_on=0, bind_off=0, label_error=0)
    habits = Habits(balls_on_table=9, comfortable=9)
    plan = plan_of(rows, yarns, habits=habits, allow=allow)
    lines = [line for line in plan.winding_list.line if line[0] == "A"]
    assert [line.split(": ")[1] for line in lines] == [
        "from ball 1, 45.30 m",
        "from ball 3 (30 g), 27.30 m",
        "from ball 2, 27.30 m",
        "from ball 4 (to be bought), 27.30 m",
    ]


def test_middle_start_is_one_length():
    """The V is wound as one, and the list says how far its middle lies from one end.

    By hand: in row 1 one stitch, in each row after it two, so ten in the first half and nine in the
    second, 2 cm each; from one to the next a shift of one, 0.5 cm; a tail of 15 cm each. So
    20 + 4.5 + 15 and 18 + 4 + 15 cm: 39.5 and 37 cm, each 40 cm as it is measured off.
    """
    plan = plan_of(V, limits=CarryLimits(across=1))
    halves = plan.supplies[plan.supplies.yarn == "B"]
    assert halves.part.tolist() == ["first half", "second half"]
    line = plan.winding_list[plan.winding_list.yarn == "B"]
    assert line.labels.tolist() == ["B1"]
    assert line.pieces.tolist() == [1]
    assert line.line.tolist() == [
        "1 × B, 0.80 m, begun 0.40 m from one end: B1 (B1a with that end, B1b with the other)"
    ]
    # The rule of three for 19 stitches of half a centimetre, and two tails: 28.5 + 30 cm.
    assert line.rule_of_three_m.iloc[0] == pytest.approx(0.585, abs=0.006)


def test_one_half_wound_off_the_other_on_the_ball():
    plan = plan_of(
        V,
        limits=CarryLimits(across=1),
        choices=(OwnChoice("supply", "B", 1, 16, "first half", BALL),),
    )
    assert plan.supplies[plan.supplies.yarn == "B"].supply.tolist() == [BALL, LOOSE]
    lines = plan.winding_list[plan.winding_list.yarn == "B"].set_index("labels")
    assert lines.supply.to_dict() == {"B1a": BALL, "B1b": LOOSE}
    assert not lines.line.str.contains("begun").any()


# The list


def listed(plan):
    """Every label on the list with its line."""
    return [
        (label, line)
        for line in plan.winding_list.itertuples()
        for label in line.labels.split(", ")
    ]


@every_random_plan
def test_every_strand_is_listed_once(number):
    plan = random_plan(number)
    labels = [label for label, _ in listed(plan)]
    assert len(labels) == len(set(labels)) == plan.winding_list.pieces.sum()
    bases = [label for label in labels if label.isalnum()]
    wholes = {label for label in bases if label[-1].isdigit()}
    halves = {}
    for label in sorted(set(bases) - wholes):
        halves.setdefault(label[:-1], []).append(label[-1])
    assert wholes | set(halves) == set(plan.traced.labels)
    assert not wholes & set(halves)
    assert all(letters == ["a", "b"] for letters in halves.values())
    refills = plan.supplies.groupby("strand").refills.sum()
    assert sum("refill" in label for label in labels) == refills.sum()
    later = plan.supplies[plan.supplies.measured_off_before.notna()]
    names = exact_parts(plan).title[later.index]
    measured_off = [
        f"{title} from row {row}"
        for title, row in zip(names, later.measured_off_before, strict=True)
    ]
    assert sorted(label for label in labels if "from row" in label) == sorted(measured_off)


def place_on_card(plan, label, row):
    """Where a strand begins, told by its neighbours on the row's card; halves are one strand."""
    strands = [line.strand.rstrip("ab") for line in plan.cards[row - 1].lines]
    before, after = [None, *strands], [*strands[1:], None]
    at = strands.index(label)
    before, after = before[at], after[at]
    if before and after:
        return f"between {before} and {after}"
    if before or after:
        return f"last, after {before}" if before else f"first, before {after}"
    return "the whole row"


@every_random_plan
def test_in_the_order_of_first_need(number):
    """By row, and within a row as it is worked: from stitch 1 on where it runs from right to left,
    else towards it."""
    plan = random_plan(number)
    works = plan.rows.set_index("row").works
    stitches = {piece.label: piece.stitch for piece in plan.pieces}
    order = []
    for line in plan.winding_list.itertuples():
        stitch = stitches[line.labels.split(", ")[0]]
        # A refill comes after all that starts in its row; what is measured off before the row comes
        # before.
        if "from row" in line.labels:
            stitch = -10_000
        elif line.place.startswith("cut off before"):
            stitch = -9_000
        elif stitch is None:
            stitch = 10_000
        elif works[line.first_row] == "left to right":
            stitch = -stitch
        order.append((line.first_row, stitch))
    assert order == sorted(order)
    first = plan.strands.set_index("strand")
    for label, line in listed(plan):
        if label in first.index and label == line.labels.split(", ")[0]:
            begins = first.loc[label]
            if line.place.startswith("cut off before"):
                assert line.first_row < begins.first_row
                assert f"begins in row {begins.first_row}" in line.place.replace("round", "row")
                continue
            assert (line.first_row, line.first_side) == (begins.first_row, begins.first_side)
            assert line.place == place_on_card(plan, label, line.first_row)


@every_random_plan
def test_alike_pieces_stand_on_one_line(number):
    table = random_plan(number).winding_list
    unit, units = ("m", "cm") if "length_m" in table else ("in", "in")
    begun = r"(, begun [\d.]+ \w+(?: \d+ in)? from one end(?:, each half wound from its end)?)"
    middle = table.line.str.extract(begun)[0].fillna("")
    table = table.assign(middle=middle, later=table.labels.str.contains("from row"))
    # What is cut off before its ball is in use goes by the row of that.
    early = table.place.str.startswith("cut off before")
    table = table.assign(early=table.first_row.where(early, 0))
    wound = table[(table.supply != BALL) & ~table.later]
    assert not wound.duplicated(["yarn", "supply", f"length_{unit}", "middle", "early"]).any()
    # What is measured off in mid-strand is not wound beforehand: each has a line of its own.
    for line in table[table.later].itertuples():
        measured = show(getattr(line, f"length_{unit}") * float(CM_PER[unit]), units)
        assert line.line == f"{line.labels}: {measured}, measured off its ball then, not before"
        assert (line.pieces, line.middle) == (1, "")
    for line in wound.itertuples():
        # What is wound up has no middle to begin from; a loose strand has.
        is_wound_up = bool(line.middle) and line.supply != LOOSE
        assert line.middle.endswith("each half wound from its end") is is_wound_up
        length, titles = getattr(line, f"length_{unit}"), line.labels
        # A length begun from its middle is two halves, each with its name.
        if line.middle:
            titles = re.sub(r"(\w+)", r"\1 (\1a with that end, \1b with the other)", titles)
        measured = show(length * float(CM_PER[unit]), units) + line.middle
        assert line.line == f"{line.pieces} × {line.yarn}, {measured}: {titles}"


@every_random_plan
def test_rounded_up_never_down(number):
    """To 5 cm, or to an inch and from a yard on to a quarter of a yard, never short of the piece,
    never a whole step too long; of a length begun from its middle this holds for each half."""
    plan, units = random_plan(number), random_plan(number).project.units
    unit, unit_cm = ("m", 100) if units == "cm" else ("in", 2.54)
    pieces = {piece.label: piece for piece in pieces_of(plan).itertuples()}
    for label, line in listed(plan):
        lengths = [getattr(line, f"length_{unit}") * unit_cm]
        exact = [pieces[label].length_cm]
        if pieces[label].from_middle:
            begun = re.search(r"begun ([\d.]+) (\w+) from one end", line.line)
            first = float(begun[1]) * {"m": 100, "yd": 91.44, "in": 2.54}[begun[2]]
            lengths, exact = [first, lengths[0] - first], pieces[label].halves_cm
        for length, takes in zip(lengths, exact, strict=True):
            step = step_cm(takes, units)
            assert length / step == pytest.approx(round(length / step), abs=1e-6)
            assert takes - 1e-6 <= length < takes + step, label
        assert lengths == pytest.approx(measured_halves_cm(pieces[label], plan.project.units))


@every_random_plan
def test_wraps_and_weights(number):
    plan = random_plan(number)
    unit, unit_m = ("m", 1) if plan.project.units == "cm" else ("in", 0.0254)
    for line in plan.winding_list.itertuples():
        metres = getattr(line, f"length_{unit}") * unit_m
        yarn = plan.project.yarns[line.yarn]
        assert line.weight_g == pytest.approx(metres * 25 / yarn.metres_per_ball, abs=0.051)
        # Nothing is wound of what hangs as it is cut, or stays on its ball.
        if line.supply in (BALL, LOOSE):
            assert pd.isna(line.wraps)
        else:
            assert line.wraps * 0.20 >= metres - 1e-6 > (line.wraps - 1) * 0.20


def test_winding_list_by_eye():
    """Three spots alike on one line, in the place of the first; 4 × 4 stitches of 2 cm and two
    tails are 0.62 m."""
    spots = ["A" * 12] + ["AABBBBAAAAAA"] * 4 + ["A" * 12] * 3 + ["ABBBBABBBBAA"] * 4 + ["A" * 12]
    yarns = {"B": Yarn("B", "Rust", metres_per_ball=100, grams_per_ball=50)}
    table = plan_of(spots, yarns, by_yarn={"A": CarryLimits(across=4)}).winding_list
    line = table[table.yarn == "B"].iloc[0]
    assert line.line == "3 × B, 0.65 m: B1, B2, B3"
    assert (line["name"], line.supply) == ("Rust", LOOSE)
    assert (line.length_m, line.weight_g) == (0.65, 0.3)
    assert pd.isna(line.wraps)
    assert (line.first_row, line.first_side, line.place) == (2, "WS", "within A1")
    assert line.rule_of_three_m == pytest.approx(16 * 0.005 * 3 + 0.3, abs=0.006)
    assert len(table) == 2
    wound = OwnChoice("supply", "B", 2, 11, "whole", BUTTERFLY)
    for wrap_cm, wraps in ((20, 4), (10, 7)):
        on_a_card = plan_of(
            spots,
            yarns,
            by_yarn={"A": CarryLimits(across=4)},
            habits=Habits(wrap_cm=wrap_cm),
            choices=(wound,),
        ).winding_list
        is_wound = on_a_card.supply == BUTTERFLY
        assert on_a_card[is_wound].wraps.tolist() == [wraps]


def test_the_rule_of_three_of_a_line_is_that_of_its_longest():
    """By eye: 16 stitches take 62 cm and 17 take 64, both measured off as 65. By the rule of three
    they are 54 and 55.5 cm."""
    rows = ["A" * 14, "ABBBBBABBBBAAA", *["ABBBBAABBBBAAA"] * 3, "A" * 14]
    limits = CarryLimits(across=4)
    table = plan_of(rows, by_yarn={"A": limits, "B": CarryLimits(across=0)}).winding_list
    line = table[table.yarn == "B"].iloc[0]
    assert (line.labels, line.length_m) == ("B1, B2", 0.65)
    assert line.rule_of_three_m == pytest.approx(0.555, abs=0.006)


def test_winding_list_in_yards():
    plan = plan_of(
        ["ABBBBA"] * 4, {"B": Yarn("B", metres_per_ball=100, grams_per_ball=50)}, units="in"
    )
    line = plan.winding_list[plan.winding_list.yarn == "B"].iloc[0]
    # 16 stitches of 2 cm and two tails, 62 cm, are 24.4 in.
    assert line.line == "1 × B, 25 in: B1"
    assert line.length_in == 25
    assert line.weight_g == pytest.approx(25 * 0.0254 / 2, abs=0.051)
