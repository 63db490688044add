"""Ripping back: a knitter who rips and knits again, what hangs where, and yarn by another road."""

from dataclasses import replace
from itertools import pairwise

import pytest

from planner import PlanError, Yarn, make_plan
from planner.knitting import left_on_supplies, will_it_last
from planner.mending import TWISTED, WRONG_YARN, cures, rip_back, standing_in_words
from planner.mending.cure import KNIT_BACK, RIP
from planner.multiplier import multipliers_of
from planner.piece import (
    BALL,
    BUTTERFLY,
    HAIRY,
    JOINED,
    LEFT,
    STOPPED,
    Allowances,
    Entry,
    OwnChoice,
    rows_worked,
)
from tests.helpers.carded import CASES, HOW, LIMITS, case, walk
from tests.helpers.mending import (
    at,
    cure_named,
    every_knitted_case,
    fault,
    knitted_case,
    noted,
    read_cards,
    stitches_before,
    with_rows,
)
from tests.helpers.plans import plan_of, stripes

# Rows of 4 A, 6 B and 4 C; nothing is carried, and a stitch takes 2 cm.
THREE = stripes(4, 6, 4, rows=12)
WOUND = tuple(
    OwnChoice("supply", letter, 1, stitch, "whole", BUTTERFLY)
    for letter, stitch in (("C", 1), ("B", 5), ("A", 11))
)


def undone_to(plan, row):
    """The log as the workbook takes rows back: one line more."""
    log = plan.project.progress
    return (*log, Entry(len(log) + 1, "2025-03-02", "row undone", row + 1))


def supplies_of(ripped):
    return {each.title: each for each in ripped.supplies}


@every_knitted_case
def test_who_rips_and_knits_again_comes_out_with_the_chart_and_the_same_strands(name, number):
    """The first cards are those she had, the others those of the plan after the rip."""
    _, whole = case(name, number)
    plan = knitted_case(name, number)
    done = rows_worked(plan.project.progress)
    expected = read_cards(whole, [str(card) for card in whole.cards])
    for stays in (1, done // 2, done - 1):
        ripped = rip_back(plan, stays)
        before = [str(card) for card in plan.cards[:stays]]
        again = [str(card) for card in ripped.plan.cards[stays:]]
        knit = read_cards(ripped.plan, before + again)
        assert knit.letters == expected.letters
        assert knit.strands == expected.strands
        assert knit.links == expected.links


@every_knitted_case
def test_the_plan_after_a_rip_is_the_one_that_the_log_then_gives(name, number):
    plan = knitted_case(name, number)
    stays = rows_worked(plan.project.progress) // 2
    after = make_plan(replace(plan.project, progress=undone_to(plan, stays)))
    assert rows_worked(after.project.progress) == stays
    ripped = rip_back(plan, stays)
    assert [str(card) for card in ripped.plan.cards] == [str(card) for card in after.cards]
    counts = [int(card.in_all.split()[0]) for card in plan.cards]
    done = rows_worked(plan.project.progress)
    assert (ripped.rows, ripped.stitches) == (done - stays, sum(counts[stays:done]))


@every_knitted_case
def test_each_yarn_hangs_where_the_words_say(name, number):
    """She finds it by the runs on her needle; there the cards before have left it."""
    plan = knitted_case(name, number)
    how = plan.project.how
    if how.selvedge and (plan.project.chart.cells < 0).any():
        return  # where an edge is among the stitches of a selvedge that moves, no chart shows
    knit = read_cards(plan, [str(card) for card in plan.cards])
    looked_at = 0
    for stays in range(1, rows_worked(plan.project.progress)):
        card, following = plan.cards[stays - 1], plan.cards[stays]
        words = [f"{line.stitches} {line.name} {line.strand}" for line in card.lines]
        if len(set(words)) < len(words):
            continue  # runs alike are told apart as "2nd of 3"
        needle = words if card.works == following.works else words[::-1]
        leftwards = following.works == "right to left"
        total = sum(line.stitches for line in card.lines)
        for each in rip_back(plan, stays).supplies:
            if not each.place:
                assert each.title not in knit.hanging[stays - 1]
                continue
            before = stitches_before(each.place, needle)
            left = total - before if leftwards else before
            looked_at += 1
            # In a tube the beginning and the end of a round are one place.
            places = {left} | ({0, total} if how.is_tube and left in (0, total) else set())
            assert places & knit.hanging[stays - 1][each.title]
    assert looked_at


def used_by_hand(plan, stretches, rows):
    """What a part's stretches in some rows take, cm: stitches, and the straight way to each."""
    gauge = plan.project.gauge
    multiplier = multipliers_of(plan.project)[stretches[0].yarn].value
    cm = 0.0
    for before, run in pairwise([None, *stretches]):
        if run.row not in rows:
            continue
        cells = plan.project.chart.cells[run.row // plan.project.how.rows_per_chart_row]
        stitches = int((cells[run.lo : run.hi + 1] >= 0).sum())
        cm += multiplier * stitches * gauge.stitch_cm
        if before is not None:
            across = abs(before.leave - run.enter)
            if plan.project.how.is_tube and before.row != run.row:
                across = min(across, plan.project.chart.columns - across)
            cm += across * gauge.stitch_cm + max(0, run.row - before.row - 1) * gauge.row_cm
    return cm


PLAIN_WAYS = [(name, n) for name, n in CASES if HOW[name].selvedge == 0 and "turned" not in name]


@pytest.mark.parametrize(("name", "number"), PLAIN_WAYS)
def test_yarn_that_comes_back_by_another_road(name, number):
    """Stretch by stretch of each strand, as a knitter sees them; halves are left out."""
    plan = knitted_case(name, number)
    done = rows_worked(plan.project.progress)
    stays = done // 2
    parts = walk(name, number)
    halved = {label for label, half in parts if half}
    compared = 0
    for each in rip_back(plan, stays).supplies:
        if each.title in halved or (each.title, 0) not in parts:
            continue
        expected = used_by_hand(plan, parts[each.title, 0], range(stays, done))
        assert each.comes_back_cm == pytest.approx(expected)
        compared += 1
    assert compared


def test_every_length_of_three_stripes_by_hand():
    """12 rows of 4 A, 6 B, 4 C: 9 are knitted, ripped back to row 6; a tail is 15 cm."""
    plan = with_rows(plan_of(THREE, choices=WOUND), 9)
    ripped = rip_back(plan, 6)
    assert (ripped.rows, ripped.stitches) == (3, 3 * 14)
    found = supplies_of(ripped)
    # 3 rows come back, 6 are still to knit; there are 12 rows and a tail less the 6 that stay.
    for title, stitches in (("A1", 4), ("B1", 6), ("C1", 4)):
        each = found[title]
        assert each.comes_back_cm == pytest.approx(2 * stitches * 3)
        assert each.has_cm == pytest.approx(2 * stitches * 6 + 15)
        assert each.needs_cm == pytest.approx(2 * stitches * 6 + 15)
        assert not each.missing_cm
    # Row 7 is a RS row, worked from the right: it meets C first.
    assert [(e.title, e.place) for e in ripped.supplies] == [
        ("C1", "where the next row begins"),
        ("B1", "between 4 C C1 and 6 B B1"),
        ("A1", "between 6 B B1 and 4 A A1"),
    ]


PATCH_ABOVE = ["AAAAAAAA"] * 3 + ["AABBBBAA"] * 4 + ["AAAAAAAA"] * 3


def test_what_was_cut_in_what_is_ripped_comes_back_as_a_short_length():
    """B1 works rows 4 to 7 and is cut; ripped back to row 5, two rows of 4 come back: 16 cm."""
    plan = with_rows(plan_of(PATCH_ABOVE), 9)
    b1 = supplies_of(rip_back(plan, 5))["B1"]
    assert (b1.cut_in, b1.wanted_in, b1.is_wanted) == (7, None, True)
    assert b1.comes_back_cm == pytest.approx(16)
    assert b1.has_cm == pytest.approx(16 + 15)
    assert not b1.missing_cm
    said = standing_in_words(plan, b1)
    assert "0.31 m with its tail, just what it takes again, if the tail is not trimmed" in said


def test_what_was_begun_in_what_is_ripped_comes_out_whole():
    """All four rows of B1 come out: 32 cm and both tails."""
    plan = with_rows(plan_of(PATCH_ABOVE), 9)
    ripped = rip_back(plan, 2)
    b1 = supplies_of(ripped)["B1"]
    assert (b1.place, b1.wanted_in) == ("", 4)
    assert b1.has_cm == b1.needs_cm == pytest.approx(32 + 30)
    assert standing_in_words(plan, b1).endswith("; keep it for row 4")
    assert "row 4: B1 was begun; take it out and keep it for later" in ripped.undone


def with_line(plan, what, row, strand, cm):
    """The plan with one more line about a supply in its log."""
    return noted(plan, Entry(0, "2025-03-02", what, row, strand=strand, length_cm=cm))


def test_what_was_measured_in_what_is_ripped_still_counts():
    """30 cm of C1 were measured after row 9; three rows of 4 give 24 cm back."""
    plan = with_line(with_rows(plan_of(THREE, choices=WOUND), 9), LEFT, 9, "C1", 30)
    c1 = supplies_of(rip_back(plan, 6))["C1"]
    assert c1.is_measured
    assert c1.has_cm == pytest.approx(30 + 24)
    # Six rows of 8 cm and a tail: 63 cm. So it is 9 cm short, and a piece with two tails is joined.
    assert c1.missing_cm == pytest.approx(9)
    assert standing_in_words(plan, c1) == (
        "0.10 m too short: join 0.40 m at a border when it runs out, two ends"
    )
    rip = cure_named(cures(plan, fault(TWISTED, at(plan, 7, 2))), RIP)
    assert (rip.ends, rip.yarn_cm) == (2, 40)


def test_what_felts_is_spliced_and_leaves_no_end():
    yarns = {"C": Yarn("C", feltable=True)}
    plan = with_line(with_rows(plan_of(THREE, yarns, choices=WOUND), 9), LEFT, 9, "C1", 30)
    assert "splice on 0.40 m" in standing_in_words(plan, supplies_of(rip_back(plan, 6))["C1"])
    assert cure_named(cures(plan, fault(TWISTED, at(plan, 7, 2))), RIP).ends == 0


def test_what_comes_off_a_ball_goes_back_onto_it():
    fed = OwnChoice("supply", "C", 1, 1, "whole", BALL)
    plan = with_rows(plan_of(THREE, choices=(fed,)), 9)
    c1 = supplies_of(rip_back(plan, 6))["C1"]
    assert c1.has_cm is None
    assert not c1.missing_cm
    assert standing_in_words(plan, c1) == "from its ball: wind what comes back onto it"


def test_a_join_in_what_is_ripped_is_opened():
    plan = with_line(with_rows(plan_of(THREE, choices=WOUND), 9), JOINED, 8, "C1", 80)
    ripped = rip_back(plan, 6)
    c1 = supplies_of(ripped)["C1"]
    assert c1.joins == 1
    assert not c1.is_measured
    assert "in 2 pieces: join them again" in standing_in_words(plan, c1)
    assert "row 8: a new length was joined to C1; open the join" in ripped.undone


@every_knitted_case
def test_what_is_long_enough_before_is_so_after(name, number):
    """Nothing is lost in ripping: only a measurement or a changed plan can make a supply short."""
    plan = knitted_case(name, number)
    for stays in range(0, rows_worked(plan.project.progress), 3):
        for each in rip_back(plan, stays).supplies:
            assert each.is_wanted
            assert not each.missing_cm, each


def test_what_is_told_is_what_will_it_last_says_after_it():
    plan = with_rows(plan_of(THREE, choices=WOUND), 9)
    ripped = rip_back(plan, 6)
    table = will_it_last(ripped.plan, ripped.plan.project.progress).set_index("strand")
    for each in ripped.supplies:
        assert table.left_planned_m[each.title] == pytest.approx(each.has_cm / 100)
        assert table.still_needed_m[each.title] == pytest.approx(each.needs_cm / 100)


def test_a_length_that_was_cut_in_what_is_ripped_is_told_alike_in_both():
    """Two runs of four at 2 cm and the tail of 15; nobody winds it anew, and it takes as much."""
    chart = ["AAAAAA", "AAAAAA", "ABBBBA", "ABBBBA", "AAAAAA"]
    wound = OwnChoice("supply", "B", 2, 2, "whole", BUTTERFLY)
    plan = with_rows(plan_of(chart, choices=(wound,)), 5)
    after = rip_back(plan, 2).plan
    table = will_it_last(after, after.project.progress).set_index("strand")
    assert table.left_planned_m["B1"] == pytest.approx((4 * 2 + 15) / 100)
    assert table.what_to_do["B1"] == ""
    # Ripped farther down it comes out whole: a row more, and the tail of its beginning.
    farther = rip_back(after, 1)
    left = left_on_supplies(farther.plan, farther.plan.project.progress)
    assert left["B1"] == pytest.approx(8 * 2 + 15)
    assert supplies_of(farther)["B1"].has_cm == pytest.approx(8 * 2 + 30)


@every_knitted_case
def test_what_was_cut_is_told_alike_in_any_piece(name, number):
    """What hangs after a rip: by the mending's own sum, and by the log that follows."""
    plan = knitted_case(name, number)
    done = rows_worked(plan.project.progress)
    for stays in range(1, done):
        ripped = rip_back(plan, stays)
        cut = [each for each in ripped.supplies if each.place and each.cut_in is not None]
        left = left_on_supplies(ripped.plan, ripped.plan.project.progress)
        for each in cut:
            assert left[each.title] == pytest.approx(each.has_cm)


def test_binding_off_is_not_counted_twice():
    """All is worked, and bound off with six widths: that yarn is still there, ripped or not."""
    allow = Allowances(tail_cm=15, cast_on=0, bind_off=6)
    plan = with_rows(plan_of(THREE, allow=allow, choices=WOUND), 12)
    b1 = supplies_of(rip_back(plan, 10))["B1"]
    assert b1.cut_in is None
    assert b1.comes_back_cm == pytest.approx(24)
    # Two rows of 12 cm, six widths of 3 cm, a tail.
    assert b1.has_cm == pytest.approx(24 + 18 + 15)
    assert b1.needs_cm == pytest.approx(24 + 18 + 15)


def test_a_cast_on_stays_with_its_yarns():
    """Four widths of 3 cm were cast on with B1: they stay, and what hangs from them is enough."""
    allow = Allowances(tail_cm=15, cast_on=4, bind_off=0)
    plan = with_rows(plan_of(THREE, allow=allow, choices=WOUND), 9)
    b1 = supplies_of(rip_back(plan, 0))["B1"]
    assert b1.place == "from its section of the cast-on"
    assert b1.comes_back_cm == pytest.approx(9 * 12)
    assert b1.has_cm == b1.needs_cm == pytest.approx(12 * 12 + 15)
    steps = cure_named(cures(plan, fault(TWISTED, at(plan, 1, 2))), RIP).steps
    assert any("down to the cast-on, which stays" in step for step in steps)


def test_the_wrong_yarn_comes_out_too_and_is_put_aside():
    """B hangs from row 4 on, C nowhere, and A everywhere; a stitch takes 2 cm, a tail is 15 cm."""
    plan = with_rows(plan_of(PATCH_ABOVE, {"C": Yarn("C")}), 9)
    two = [at(plan, 2, 5), at(plan, 2, 6)]
    for wrong in ("B", "C"):
        steps = cure_named(cures(plan, fault(WRONG_YARN, *two, in_yarn=wrong)), RIP).steps
        ends = [n for n, step in enumerate(steps) if f"The wrong {wrong} has 2 ends" in step]
        rips = [n for n, step in enumerate(steps) if "and rip 8 rows" in step]
        (said,) = [step for step in steps if f"The wrong {wrong} in row 2 comes out too" in step]
        # What is sewn in is drawn out before anything is ripped.
        assert ends < rips
        assert "about 34 cm of it with its tails" in said
        assert "put it aside" in said
        assert steps.index(said) > rips[0]
    hanging = cures(plan, fault(WRONG_YARN, at(plan, 5, 4), in_yarn="A"))
    words = " ".join(cure_named(hanging, RIP).steps)
    assert "The wrong A in row 5 comes out too, about 2 cm of it: wind it up again with" in words
    assert "The wrong A has" not in words
    twisted = cure_named(cures(plan, fault(TWISTED, *two)), RIP)
    assert "comes out too" not in " ".join(twisted.steps)


def test_the_wrong_yarn_comes_out_in_knitting_back_too():
    plan = with_rows(plan_of(PATCH_ABOVE, {"C": Yarn("C")}), 9)
    back = cure_named(cures(plan, fault(WRONG_YARN, at(plan, 9, 6), in_yarn="C")), KNIT_BACK)
    assert back.steps[0].startswith("The wrong C has 2 ends of its own")
    assert back.steps[1].startswith("Knit back")
    assert back.steps[2].startswith("The wrong C in row 9 comes out too, about 32 cm of it")


def test_hairy_yarn_is_not_left_to_be_pulled_through():
    """Common practice, no source: shared/sketches."""
    yarns = {"B": Yarn("B", "Mohair", surface=HAIRY)}
    plan = with_rows(plan_of(THREE, yarns, choices=WOUND), 9)
    cure = cure_named(cures(plan, fault(TWISTED, at(plan, 7, 2))), RIP)
    (said,) = [each for each in cure.mind if "hairy" in each]
    assert said.startswith("Mohair is hairy: rip it stitch by stitch, and never leave it to be")


def test_knitting_back_takes_the_stitches_after_the_wrong_one():
    """Row 9 has 14 stitches; the 12th is wrong, so three are taken back."""
    plan = with_rows(plan_of(THREE, choices=WOUND), 9)
    found = cures(plan, fault(WRONG_YARN, at(plan, 9, 12), in_yarn="B"))
    back = cure_named(found, KNIT_BACK)
    assert (back.stitches, back.stays, back.after) == (3, 8, 11)
    # Farther down there is no knitting back, but ripping.
    lower = cures(plan, fault(WRONG_YARN, at(plan, 8, 12), in_yarn="B"))
    assert KNIT_BACK not in [cure.name for cure in lower]


def test_in_the_row_on_the_needles_what_is_worked_can_be_knitted_back():
    begun = Entry(0, "2025-03-02", STOPPED, 10, stitch=5)
    plan = noted(with_rows(plan_of(THREE, choices=WOUND), 9), begun)
    found = cures(plan, fault(TWISTED, at(plan, 10, 4)))
    assert (cure_named(found, KNIT_BACK).stitches, cure_named(found, KNIT_BACK).stays) == (2, None)
    assert "knit back to it" in cure_named(found, RIP).barred
    with pytest.raises(PlanError, match="that one is not knitted yet"):
        cures(plan, fault(TWISTED, at(plan, 10, 6)))


def test_no_more_is_ripped_than_is_knitted():
    plan = with_rows(plan_of(THREE, choices=WOUND), 9)
    with pytest.raises(PlanError, match="cannot be the last one that stays"):
        rip_back(plan, 9)
    with pytest.raises(PlanError, match="none to take back"):
        rip_back(plan_of(THREE, choices=WOUND), 0)


@every_knitted_case
def test_ripped_after_the_plan_was_changed_on_the_way(name, number):
    """Three quarters are knitted, then other limits are set: what hangs is what her cards left."""
    knitted_so_far = knitted_case(name, number)
    other = LIMITS[(number + 1) % len(LIMITS)]
    plan = make_plan(replace(knitted_so_far.project, limits=other))
    knit = read_cards(plan, [str(card) for card in plan.cards])
    for stays in (2, rows_worked(plan.project.progress) - 2):
        ripped = rip_back(plan, stays)
        hangs = {each.title for each in ripped.supplies if each.place}
        # Whether the whole is called W7 or its halves W7a and W7b is the new plan's affair.
        labels = {title.rstrip("ab") for title in hangs}
        assert {title.rstrip("ab") for title in knit.hanging[stays - 1]} == labels
        for each in ripped.supplies:
            assert standing_in_words(ripped.plan, each)
        # The cards of the plan that follows can be knitted, to the same fabric.
        again = read_cards(ripped.plan, [str(card) for card in ripped.plan.cards])
        assert again.letters == knit.letters
