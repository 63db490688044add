"""The supply of each part: section by section, by the yarn, the place and the knitter's choices."""

from dataclasses import replace

import pytest

from planner import CarryLimits, PlanError, Yarn
from planner.piece import (
    BALL,
    BOBBIN,
    BUTTERFLY,
    LOOSE,
    SUPPLIES,
    Allowances,
    Habits,
    OwnChoice,
)
from tests.helpers.parts import exact_parts, fewest_pieces, supplies_of, why
from tests.helpers.plans import (
    FEW_THEN_MANY,
    RANDOM_PLANS,
    WS_FIRST,
    every_random_plan,
    plan_of,
    random_plan,
    stripes,
)

# More than one hangs, which is more than this knitter finds comfortable: then length decides.
BUSY = Habits(comfortable=1)
BESIDE = 5  # a stripe of so many stitches beside the one that is looked at
BY_LENGTH = [
    (3, 270, LOOSE),
    (4, 350, BUTTERFLY),
    (13, 1070, BUTTERFLY),
    (14, 1150, BOBBIN),
    (33, 2670, BOBBIN),
    (34, 2750, BALL),
]
FEW_AND_WIDE = "few hang here and it is wide: nothing to wind"


def first_held(plan):
    """How the first part of yarn A is held."""
    return next(each for each in plan.held if each.part.yarn == "A")


# Section by section


@pytest.mark.parametrize(("rows", "cm", "supply"), [(1, 110, LOOSE), *BY_LENGTH])
def test_by_length_where_many_hang(rows, cm, supply):
    """Up to 2.75 m loose, 11 m butterfly, 27 m bobbin, else from the ball (common practice, no
    source): rows of 80 cm."""
    plan = plan_of(stripes(40, BESIDE, rows=rows), habits=BUSY)
    held = plan.supplies[plan.supplies.yarn == "A"]
    assert held.wound_m.tolist() == [cm / 100]
    assert held.supply.tolist() == [supply]
    assert held.chosen.tolist() == ["suggested"]
    assert held.refills.tolist() == [0]


@pytest.mark.parametrize(("rows", "cm", "supply"), BY_LENGTH)
def test_by_length_where_it_is_narrow(rows, cm, supply):
    """Ten times the rows of a tenth of the width: the same lengths, alone on the needle."""
    plan = plan_of(stripes(4, rows=10 * rows))
    assert plan.supplies.wound_m.tolist() == [cm / 100]
    assert supplies_of(plan) == {"A1": supply}


@pytest.mark.parametrize("rows", [6, 13, 14, 33, 34, 200])
def test_few_and_wide_are_fed_from_balls_at_any_length(rows):
    plan = plan_of(stripes(20, 40, 10, rows=rows))
    assert supplies_of(plan) == {"A1": BALL, "B1": BALL, "C1": BALL}
    assert {why(plan, strand) for strand in ("A1", "B1", "C1")} == {FEW_AND_WIDE}


@pytest.mark.parametrize(
    ("live", "wide", "supply"),
    [(5, 5, BALL), (6, 5, LOOSE), (5, 4, LOOSE)],
)
def test_few_and_wide_by_the_figures(live, wide, supply):
    """Five at once are easy, six are not; four stitches are narrow, five are not. By hand: twelve
    rows of five stitches take 1.50 m."""
    widths = [wide, *[8] * (live - 1)]
    plan = plan_of(stripes(*widths, rows=12), habits=Habits(balls_on_table=9))
    assert supplies_of(plan)["A1"] == supply


def test_one_narrow_row_does_not_make_a_strand_narrow():
    """Twelve rows of ten stitches, but for one of one: wide. Seven rows of three and five of ten:
    narrow, for three is the usual width."""
    widths = [10] * 6 + [1] + [10] * 5
    wide = plan_of(["B" * (20 - w) + "A" * w for w in widths], limits=CarryLimits(sideways=9))
    assert first_held(wide).typical == 10
    assert supplies_of(wide)["A1"] == BALL
    widths = [3] * 7 + [10] * 5
    narrow = plan_of(["B" * (20 - w) + "A" * w for w in widths], limits=CarryLimits(sideways=9))
    assert first_held(narrow).typical == 3
    assert supplies_of(narrow)["A1"] == LOOSE


def test_a_few_short_rows_beside_others_stay_loose():
    """Five rows of ten stitches, 1.30 m: nobody lays out a ball. Six rows are worth one; so are
    five rows of twenty stitches, 2.30 m, only to a knitter whose loose strands are shorter. Alone
    on the needle there is nothing in the way of the ball."""
    for wide, rows, habits, supply in (
        (10, 5, Habits(), LOOSE),
        (10, 6, Habits(), BALL),
        (20, 5, Habits(), LOOSE),
        (20, 5, Habits(loose_up_to_cm=200), BALL),
    ):
        chart = ["B" * 60] * 4 + ["B" * 20 + "A" * wide + "B" * (40 - wide)] * rows + ["B" * 60] * 4
        plan = plan_of(chart, habits=habits)
        assert supplies_of(plan)["A1"] == supply
    assert supplies_of(plan_of(["A" * 10] * 5)) == {"A1": BALL}


@pytest.mark.parametrize(("limit", "supply"), [(270, LOOSE), (269.99, BUTTERFLY)])
def test_a_limit_is_still_allowed(limit, supply):
    plan = plan_of(stripes(40, BESIDE, rows=3), habits=replace(BUSY, loose_up_to_cm=limit))
    assert supplies_of(plan)["A1"] == supply


@pytest.mark.parametrize("supply", [LOOSE, BUTTERFLY, BOBBIN])
def test_a_length_that_just_fits_is_held_so(supply):
    """Each supply holds what is exactly as long as it may be, and nothing longer."""
    rows = stripes(30, BESIDE, rows=30)
    length_cm = first_held(plan_of(rows)).part.wound_cm
    order = [LOOSE, BUTTERFLY, BOBBIN]
    names = ["loose_up_to_cm", "butterfly_up_to_cm", "bobbin_up_to_cm"]
    for up_to, fits in ((length_cm, True), (length_cm - 0.01, False)):
        shorter = {name: 10 * (i + 1) for i, name in enumerate(names)}
        longer = dict.fromkeys(names[order.index(supply) :], up_to)
        plan = plan_of(rows, habits=replace(BUSY, **shorter | longer))
        assert (first_held(plan).supply == supply) is fits


# From the ball, measured off and wound in mid-strand


def test_from_the_ball_then_measured_off():
    """By hand: 29 rows of A are 29 m; then 20 rows of 10 stitches, 4 m, and a tail. So 4.15 m are
    measured off before row 30 and wound as a butterfly; what comes off the ball before is 29 m and
    the tail it begins with. No join, no end."""
    plan = plan_of(FEW_THEN_MANY, how=WS_FIRST)
    held = first_held(plan)
    assert [(stage.supply, stage.row + 1) for stage in held.stages] == [(BALL, 1), (BUTTERFLY, 30)]
    assert [stage.length_cm for stage in held.stages] == pytest.approx([2915, 415])
    assert (held.measured_off.row, held.refills, held.on_ball_until()) == (29, 0, 29)
    assert (
        held.why
        == f"{FEW_AND_WIDE}; then a butterfly: weighs next to nothing and feeds from "
        + ("its middle")
    )
    line = plan.supplies.set_index("strand").loc["A1"]
    assert line.supply == "from the ball, then butterfly"
    assert (line.measured_off_before, line.measured_off_m) == (30, 4.15)
    assert plan.ends_in_all == 2 * len(plan.strands)
    # What begins in row 30 and is as long is not held another way.
    assert [supplies_of(plan)[strand] for strand in ("C1", "D1", "E1", "F1")] == [BUTTERFLY] * 4


def test_what_is_measured_off_is_held_as_it_hangs_best():
    """The same 4.15 m among too many: drawn free. Slippery: on a bobbin. Hairy: not loose."""
    for yarn, habits, supply in (
        (Yarn("A"), Habits(crowded=5), LOOSE),
        (Yarn("A", surface="hairy"), Habits(crowded=5), BUTTERFLY),
        (Yarn("A", surface="slippery"), Habits(), BOBBIN),
    ):
        plan = plan_of(FEW_THEN_MANY, {"A": yarn}, how=WS_FIRST, habits=habits)
        assert supplies_of(plan)["A1"] == f"from the ball, then {supply}"


def test_who_would_rather_not_rewind_stays_on_the_ball():
    """What is measured off would be wound on a bobbin: the ball stays where there is room for it,
    and only where there is none it is a bobbin after all."""
    habits = Habits(loose_up_to_cm=10, butterfly_up_to_cm=20, rewinding=False)
    plan = plan_of(FEW_THEN_MANY, how=WS_FIRST, habits=habits)
    assert (supplies_of(plan)["A1"], why(plan)) == (BALL, "you would rather not rewind")
    habits = replace(habits, elsewhere="30-49 train")
    plan = plan_of(FEW_THEN_MANY, how=WS_FIRST, habits=habits)
    assert supplies_of(plan)["A1"] == "from the ball, then bobbin"
    assert first_held(plan).against == "you would rather not rewind"


def test_for_a_few_rows_nobody_changes():
    """Five rows among many at the end of 29: the ball stays. Five rows among few before 29 among
    many: wound from the beginning, for it has to be wound all the same."""
    ends_among_many = FEW_THEN_MANY[15:20] + FEW_THEN_MANY[20:]
    plan = plan_of(ends_among_many, how=WS_FIRST, habits=Habits(balls_on_table=9))
    assert supplies_of(plan)["A1"] == BALL
    # The section is busy from row 7 on; A begins in row 3 of it.
    many = ["GG" + "".join(y * 8 for y in "BCDEF") + "A" * 8] * 20
    few = ["G" * 42 + "A" * 8] * 4 + ["G" * 50] * 6
    plan = plan_of(many + few, habits=Habits(balls_on_table=9))
    assert plan.strands.set_index("strand").first_row["A1"] == 7
    assert supplies_of(plan)["A1"] == BUTTERFLY


def test_too_long_to_wind_is_fed_until_the_rest_can_be_wound():
    """Many all along, 40 stitches in 60 rows, 48.30 m, and no ball that is free for all of it: fed
    from the ball only until the rest, 27 m, goes on a bobbin, so that the ball feeds the other
    stripe of A, which begins then."""
    rows = [*["A" * 40 + "B" * 6 + "C" * 40] * 30, *["B" * 46 + "C" * 40] * 30]
    yarns = {
        "A": Yarn("A", metres_per_ball=500, balls_in_hand=1),
        "C": Yarn("C", metres_per_ball=500, balls_in_hand=1),
    }
    habits = replace(BUSY, balls_on_table=1, elsewhere="31-60 train")
    plan = plan_of(rows, yarns, habits=habits)
    held = next(each for each in plan.held if each.part.yarn == "C")
    assert held.part.wound_cm == 4830
    # From row 28 on 33 rows and a tail take 26.55 m.
    assert [(stage.supply, stage.row + 1) for stage in held.stages] == [(BALL, 1), (BOBBIN, 28)]
    assert held.stages[1].length_cm == pytest.approx(2655)
    assert held.why.startswith("too long to wind; then a bobbin")


# The place


def test_in_the_train_no_ball_is_laid():
    plan = plan_of(stripes(40, rows=60), habits=Habits(place="train"))
    assert supplies_of(plan) == {"A1": BOBBIN}
    assert "there is no place to lay a ball" in why(plan)
    assert plan.supplies.refills[0] == 1


def test_on_a_sofa_two_balls_lie_still():
    """Three wide stripes: three balls on the table, two on the sofa, however many the table
    holds."""
    for place, balls in (("table", 3), ("sofa", 2), ("train", 0)):
        plan = plan_of(stripes(10, 20, 15, rows=20), habits=Habits(place=place))
        assert list(supplies_of(plan).values()).count(BALL) == balls
    plan = plan_of(stripes(10, 20, rows=20), habits=Habits(place="sofa", balls_on_table=1))
    assert list(supplies_of(plan).values()).count(BALL) == 1


def test_a_stretch_of_rows_in_the_train():
    """Few and wide all along; rows 31 to 60 are knitted in the train, so what is left is measured
    off before row 31: 29 rows more and a tail, 30 × 40 cm and 15 cm."""
    plan = plan_of(stripes(20, rows=60), habits=Habits(elsewhere="31-60 train"))
    held = first_held(plan)
    assert [(stage.supply, stage.row + 1) for stage in held.stages] == [(BALL, 1), (BOBBIN, 31)]
    assert held.stages[1].length_cm == pytest.approx(1215)
    # Begun in the train, it is wound; what begins after it has its ball.
    rows = ["A" * 20] * 30 + ["B" * 20] * 30
    plan = plan_of(rows, habits=Habits(elsewhere="rows 1–30 train"))
    assert supplies_of(plan) == {"B1": BOBBIN, "A1": BALL}


def test_the_last_rows_in_the_train():
    """Even for five rows a ball cannot come along."""
    plan = plan_of(stripes(20, rows=60), habits=Habits(elsewhere="56-60 train"))
    assert supplies_of(plan) == {"A1": "from the ball, then loose strand"}
    assert first_held(plan).measured_off.row == 55


def test_a_stretch_of_rows_on_the_sofa():
    """Three stripes, at home on a sofa, with rows 1 to 20 at a table: the third begins at the
    table and would lie on the sofa, where there is room for two, so it is wound."""
    habits = Habits(place="sofa", elsewhere="1-20 table")
    plan = plan_of(stripes(10, 20, 15, rows=40), habits=habits)
    assert supplies_of(plan) == {"A1": BUTTERFLY, "B1": BALL, "C1": BALL}
    plan = plan_of(stripes(10, 20, 15, rows=20), habits=habits)
    assert set(supplies_of(plan).values()) == {BALL}


# The yarn


@pytest.mark.parametrize("drop", ["short", "long"])
@pytest.mark.parametrize("crowded", [1, 11])
@pytest.mark.parametrize("rows", range(1, 34, 4))
def test_hairy_never_loose_slippery_never_a_butterfly(rows, crowded, drop):
    habits = replace(BUSY, drop=drop, crowded=crowded)
    yarns = {"A": Yarn("A", surface="hairy"), "B": Yarn("B", surface="slippery"), "C": Yarn("C")}
    held = supplies_of(plan_of(stripes(40, 40, 40, rows=rows), yarns, habits=habits))
    assert held["A1"] != LOOSE
    assert held["B1"] != BUTTERFLY
    if held["C1"] != LOOSE:
        assert held["A1"] == held["C1"]
    if held["C1"] != BUTTERFLY:
        assert held["B1"] == held["C1"]


def test_hairy_and_slippery_by_hand():
    """1.10 m of hairy yarn is a butterfly; 3.50 m of slippery yarn go on a bobbin, 1.10 m hang
    loose."""
    for surface, rows, supply in (
        ("hairy", 1, BUTTERFLY),
        ("slippery", 4, BOBBIN),
        ("slippery", 1, LOOSE),
        ("smooth", 4, BUTTERFLY),
    ):
        yarns = {"A": Yarn("A", surface=surface)}
        plan = plan_of(stripes(40, BESIDE, rows=rows), yarns, habits=BUSY)
        assert supplies_of(plan)["A1"] == supply


def test_long_drops():
    """By eye: 4.3 m hangs free where long drops would wrap each other, 5.1 m does not; with short
    drops a butterfly."""
    for rows, drop, supply in ((5, "short", BUTTERFLY), (5, "long", LOOSE), (6, "long", BUTTERFLY)):
        plan = plan_of(stripes(40, BESIDE, rows=rows), habits=replace(BUSY, drop=drop))
        assert supplies_of(plan)["A1"] == supply
        if drop == "long":
            assert "long drops wrap each other" in (why(plan) + first_held(plan).against)


def test_long_drops_up_to_what_a_butterfly_would_hold():
    """4.3 m, all that a butterfly holds here, hangs free still; what is longer is wound."""
    for up_to, supply in ((430, LOOSE), (429, BOBBIN)):
        habits = replace(BUSY, drop="long", butterfly_up_to_cm=up_to)
        assert supplies_of(plan_of(stripes(40, BESIDE, rows=5), habits=habits))["A1"] == supply


def test_crowded_rows():
    """In rows with more strands than are thought crowded, up to 4.57 m (5 yd) hangs free."""
    plan = plan_of(stripes(40, BESIDE, rows=5), habits=Habits(comfortable=1, crowded=1))
    assert supplies_of(plan)["A1"] == LOOSE
    assert "crowded" in why(plan)
    assert supplies_of(plan_of(stripes(40, BESIDE, rows=5), habits=BUSY))["A1"] == BUTTERFLY


def test_rewinding_is_a_bother():
    habits = replace(BUSY, rewinding=False)
    plan = plan_of(stripes(40, BESIDE, rows=20), habits=habits)
    assert supplies_of(plan)["A1"] == BALL
    assert "rather not rewind" in why(plan)
    bobbin = plan_of(stripes(40, BESIDE, rows=20), habits=replace(habits, place="train"))
    assert supplies_of(bobbin)["A1"] == BOBBIN
    assert "rather not rewind" in first_held(bobbin).against


def test_a_yarn_that_must_not_be_cut():
    """A variegated yarn is fed from its ball however short, before longer strands of others; where
    it cannot be, that is said, once for all strands of a yarn that the same stands against."""
    yarns = {"A": Yarn("A", may_be_cut=False)}
    plan = plan_of(stripes(2, 60, rows=40), yarns, habits=Habits(balls_on_table=1))
    assert supplies_of(plan) == {"A1": BALL, "B1": BOBBIN}
    without = plan_of(stripes(2, 60, rows=40), yarns, habits=Habits(place="train"))
    assert supplies_of(without)["A1"] != BALL
    words = "A1 should be fed from the ball, because A must not be cut, but there is no place to "
    assert any(note.startswith(words) for note in without.notes)
    plan = plan_of(
        ["A" * 9 + "B" * 9 + "A" * 9 + "C" * 9] * 20,
        yarns | {"C": Yarn("C", may_be_cut=False)},
        habits=Habits(place="train"),
    )
    assert [note for note in plan.notes if "must not be cut" in note] == [
        "C1 should be fed from the ball, because C must not be cut, but there is no place to lay "
        "a ball.",
        "A1, A2 should be fed from the ball, because A must not be cut, but there is no place to "
        "lay a ball.",
    ]


def test_a_bobbin_that_holds_only_tails_is_refused():
    with pytest.raises(PlanError, match="at least four tails"):
        plan_of(
            ["A" * 20] * 10, habits=Habits(10, 20, 30, place="train"), allow=Allowances(tail_cm=15)
        )


def test_small_bobbins_do_no_harm_where_nothing_is_joined():
    """By eye: 10 stitches of 2 cm and two tails are 50 cm, all that a bobbin holds here; 12 are
    54 cm, which it holds overfull; 13 are too long for one, and two would hold little but tails."""
    small = Habits(10, 20, 50, place="train")
    for stitches in (10, 12):
        plan = plan_of(["A" * stitches], habits=small)
        assert (supplies_of(plan), plan.supplies.refills[0]) == ({"A1": BOBBIN}, 0)
    with pytest.raises(PlanError, match="at least four tails"):
        plan_of(["A" * 13], habits=small)
    # Four tails are enough.
    assert plan_of(["A" * 100], habits=Habits(10, 20, 60, place="train")).supplies.refills[0] > 0


def test_a_choice_that_is_no_supply_is_refused():
    with pytest.raises(PlanError) as caught:
        plan_of(["AA"], choices=(OwnChoice("supply", "A", 1, 1, "whole", "hat"),))
    message = str(caught.value)
    assert [word for word in ("A1", '"hat"', *SUPPLIES) if word not in message] == []


def test_the_random_charts_try_everything():
    plans = [random_plan(number) for number in range(RANDOM_PLANS)]
    held = [each for plan in plans for each in plan.held]
    assert {each.supply for each in held} == set(SUPPLIES)
    measured_off = {each.measured_off.supply for each in held if each.measured_off}
    assert measured_off == {BUTTERFLY, BOBBIN}
    for words, least in (
        ("every ball", 0),
        ("room for", 2),
        ("no place", 2),
        ("holds enough", 1),
        ("few hang here", 20),
        ("too long to wind", 5),
    ):
        assert sum(words in each.why for each in held) > least, words
    # One ball joined to another.
    assert sum(each.refills and each.supply == BALL for each in held) > 2
    assert sum((plan.supplies.refills > 0).sum() for plan in plans) > 10
    assert sum(plan.traced.middle_starts for plan in plans) > 5


# The knitter's own choices


@pytest.mark.parametrize("choice", SUPPLIES)
def test_own_choice_wins(choice):
    """Each of the four, however unsuitable for 32 m; the stripe beside it is held as suggested."""
    plan = plan_of(
        stripes(5, 40, rows=40),
        choices=(OwnChoice("supply", "B", 1, 1, "whole", choice),),
        habits=BUSY,
    )
    held = plan.supplies.set_index("strand")
    assert held.loc["B1", ["supply", "chosen", "why"]].tolist() == [
        choice,
        "by you",
        "your own choice",
    ]
    assert held.loc["A1", ["supply", "chosen"]].tolist() == [BUTTERFLY, "suggested"]


def test_own_choice_of_one_piece_is_one_piece():
    """A butterfly of 32 m is the knitter's business; a bobbin holds no more than it can, so it is
    refilled."""
    for choice, refills in ((LOOSE, 0), (BUTTERFLY, 0), (BOBBIN, 1)):
        plan = plan_of(
            stripes(40, rows=40), choices=(OwnChoice("supply", "A", 1, 1, "whole", choice),)
        )
        assert plan.supplies.refills.tolist() == [refills]
        assert ("long to draw free" in plan.supplies.against[0]) is (choice == LOOSE)


def test_own_choice_without_a_table_is_kept():
    plan = plan_of(
        ["AAAA"] * 4,
        choices=(OwnChoice("supply", "A", 1, 1, "whole", BALL),),
        habits=Habits(place="train"),
    )
    assert supplies_of(plan) == {"A1": BALL}
    assert plan.supplies.against[0] == "no ball or no place for it"
    words = "You chose to feed A1 from the ball, but there is no place to lay a ball. It is kept."
    assert plan.notes == (words,)


def test_of_two_choices_for_a_strand_that_for_its_half_is_nearer():
    rows = ["AABAAAAABAA", "AAAAABAAAAA"]
    both = (
        OwnChoice("supply", "B", 1, 6, "whole", BUTTERFLY),
        OwnChoice("supply", "B", 1, 6, "second half", BALL),
    )
    plan = plan_of(rows, choices=both)
    assert plan.supplies[plan.supplies.yarn == "B"].supply.tolist() == [BUTTERFLY, BALL]


# Refills


@every_random_plan
def test_a_loose_strand_and_a_butterfly_have_no_refill(number):
    """Whoever chose them; and what is suggested is no longer than they hold."""
    plan = random_plan(number)
    habits = plan.project.habits
    for held in plan.held:
        for stage in held.stages:
            if stage.supply not in (LOOSE, BUTTERFLY):
                continue
            assert not held.refills
            if not held.by_hand:
                longest = 457 if stage.supply == LOOSE else habits.butterfly_up_to_cm
                assert stage.length_cm <= longest + 1e-6


@every_random_plan
def test_what_is_suggested_suits_the_yarn_and_the_place(number):
    plan = random_plan(number)
    for held in plan.held:
        yarn = plan.project.yarns[held.part.yarn]
        if held.by_hand:
            continue
        supplies = [stage.supply for stage in held.stages]
        assert not (yarn.surface == "hairy" and LOOSE in supplies)
        assert not (yarn.surface == "slippery" and BUTTERFLY in supplies)
        room = plan.project.habits.room(len(plan.rows))[held.part.hangs_from : held.on_ball_until()]
        assert all(room)
        # What must not be cut is not measured off, whatever else.
        assert yarn.may_be_cut or not held.measured_off


@every_random_plan
def test_stages_add_up_to_the_part(number):
    """What comes off the ball and what is measured off are the part; each join adds two tails. In
    each row before the last stage something is left to measure off."""
    plan = random_plan(number)
    tail_cm = plan.project.allow.tail_cm
    for held in plan.held:
        part, stages = held.part, held.stages
        in_all = part.wound_cm + 2 * tail_cm * held.refills
        assert sum(stage.length_cm for stage in stages) == pytest.approx(in_all)
        assert [stage.joined for stage in stages[1:]] == [not held.measured_off] * len(stages[1:])
        rows = [stage.row for stage in stages]
        assert rows == sorted(rows)
        assert (rows[0], rows[-1] <= part.last_row) == (part.hangs_from, True)
        assert all(stage.length_cm > 0 for stage in stages)


@every_random_plan
def test_as_few_refills_as_can_be(number):
    plan = random_plan(number)
    habits, tail = plan.project.habits, plan.project.allow.tail_cm
    for part in exact_parts(plan).itertuples():
        if part.supply == BOBBIN:
            # Rather than for one more join each is filled by a tenth more.
            most_cm = 1.1 * habits.bobbin_up_to_cm
            assert part.refills == fewest_pieces(part.cm, most_cm, tail) - 1


@pytest.mark.parametrize(
    ("rows", "pieces_cm"),
    [
        # All that a bobbin holds, and all that it holds overfull.
        (24, [1950]),
        (26, [2110]),
        # Two: the first holds all it may, the second what is left.
        (27, [1950, 270]),
        (45, [1950, 1710]),
        # 40.60 m in two would leave too much for the second: each is filled alike.
        (50, [2030, 2030]),
        # 43.30 m are more than two overfull ones: three.
        (54, [1950, 1950, 510]),
    ],
)
def test_overfull_rather_than_joined(rows, pieces_cm):
    """By hand, bobbins of 19.50 m, so of 21.45 m at the most: rows of 40 stitches take 80 cm, the
    strand two tails of 15 cm, and each join two more."""
    habits = Habits(bobbin_up_to_cm=1950, place="train")
    [held] = plan_of(stripes(40, rows=rows), habits=habits).held
    assert [stage.length_cm for stage in held.stages] == pytest.approx(pieces_cm)
    assert {stage.supply for stage in held.stages} == {BOBBIN}
    too_full = f"longer than you like for a bobbin ({pieces_cm[0] / 100:.2f} m)"
    assert (too_full in held.against) is (pieces_cm == [2110])


def rows_when_out(needs, piece_cm, tail):
    """The worked rows in which one piece after another runs out: `needs` is the yarn wanted row by
    row, in working order.

    Each piece gives what is in it but two tails, or one if the length is worked from its middle and
    has no tail there."""
    due, left = [], piece_cm - 2 * tail
    for row, need in needs:
        while need > left + 1e-6:
            need -= left
            due.append(row)
            left = piece_cm - 2 * tail
        left -= need
    return due


def test_rows_where_a_piece_runs_out():
    """By eye: 40 stitches × 2 cm a row; a bobbin of 4 m gives 3.7 m, so it lasts 4.6 rows. Where
    20 rows, 16.30 m and six tails more, go on four overfull ones each holds 4.30 m and gives 4 m:
    five rows."""
    for rows, piece_cm, due in ((22, 400, [5, 10, 14, 19]), (20, 430, [6, 11, 16])):
        plan = plan_of(
            stripes(40, rows=rows),
            habits=Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train"),
        )
        needs = [(row, 80) for row in range(1, rows + 1)]
        assert rows_when_out(needs, piece_cm, 15) == due
        assert plan.supplies.refill_rows.tolist() == [", ".join(map(str, due))]
        assert plan.rows.loc[plan.rows.refills > 0, "row"].tolist() == due


def test_rows_where_a_piece_runs_out_at_the_end_of_a_row():
    """A bobbin that gives 4 rows to the last centimetre is out before row 5, not in row 4."""
    plan = plan_of(
        stripes(40, rows=12),
        habits=Habits(bobbin_up_to_cm=350, butterfly_up_to_cm=300, place="train"),
    )
    assert plan.supplies.refill_rows.tolist() == ["5, 9"]


def test_rows_where_a_piece_runs_out_in_uneven_rows():
    """A triangle, by hand: rows of 4, 8, 12 … stitches in A, 2 cm to the stitch, beside B."""
    widths = [4 * row for row in range(1, 13)]
    rows = ["B" * (60 - w) + "A" * w for w in reversed(widths)]
    # Four stitches are carried to every other row.
    needs = [(row, 2 * w + 2 * (row % 2 == 0)) for row, w in enumerate(widths, start=1)]
    all_cm = sum(need for _, need in needs)
    assert all_cm == 636
    # Five pieces of 1.60 m; where six do of 1.36 m, all are filled alike.
    for holds_cm, piece_cm, refills in ((160, 160, 4), (130, 636 / 6 + 30, 5)):
        habits = Habits(loose_up_to_cm=50, butterfly_up_to_cm=60, bobbin_up_to_cm=holds_cm)
        habits = replace(habits, place="train")
        plan = plan_of(rows, habits=habits, limits=CarryLimits(sideways=4))
        assert plan.strands.set_index("strand").carried_m["A1"] == 0.12
        due = rows_when_out(needs, piece_cm, 15)
        assert len(due) == refills
        assert plan.supplies.set_index("strand").refill_rows["A1"] == ", ".join(map(str, due))


def test_cast_on_and_bind_off_take_their_yarn_when_they_are_worked():
    """The cast-on, 4 widths, is gone before row 1, the bind-off, 6 widths, is wanted after the
    last: rows of 20 cm width."""
    allow = Allowances(tail_cm=15, cast_on=4, bind_off=6)
    plan = plan_of(
        stripes(40, rows=20),
        allow=allow,
        habits=Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train"),
    )
    needs = [(1, 4 * 20), *((row, 80) for row in range(1, 21)), (20, 6 * 20)]
    assert rows_when_out(needs, 400, 15) == [4, 9, 13, 18]
    assert plan.supplies.refill_rows.tolist() == ["4, 9, 13, 18"]


def test_a_half_has_no_tail_where_it_begins():
    """Legs of 20 stitches, 40 cm of yarn a row by hand, bobbins of 120 cm: the second half lasts
    105 cm, then 90, then 90."""
    rows = ["A" * 36 + "B" * 20 + "AA" + "B" * 20 + "A" * 42] * 9 + ["A" * 38 + "B" * 20 + "A" * 62]
    habits = Habits(loose_up_to_cm=50, butterfly_up_to_cm=60, bobbin_up_to_cm=120, place="train")
    plan = plan_of(rows, habits=habits, allow=Allowances(tail_cm=15, cast_on=0, bind_off=0))
    held = plan.supplies[(plan.supplies.strand == "B1") & (plan.supplies.part == "second half")]
    assert held.refill_rows.tolist() == ["4, 6, 9"]


def test_feltable_yarn_is_spliced_superwash_never():
    habits = Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train")
    for yarn, ends, words in (
        (Yarn("A", feltable=True), 0, "4 refills (spliced, no ends)"),
        (Yarn("A"), 8, "4 refills (8 more ends)"),
        (Yarn("A", feltable=True, superwash=True), 8, "4 refills (8 more ends)"),
    ):
        plan = plan_of(stripes(40, rows=22), {"A": yarn}, habits=habits)
        assert plan.supplies.refill_ends.tolist() == [ends]
        assert words in plan.supplies.against[0]
        assert len(plan.ends) == 2 + ends
