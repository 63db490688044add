"""All cures of a fault: in which order, in what is knitted, and as a table."""

import pytest

from planner import Construction, PlanError, Yarn
from planner.mending import (
    COVER,
    FAULTS,
    HOLE,
    LADDER,
    RIP,
    TWISTED,
    WRONG_YARN,
    Fault,
    Stitch,
    Work,
    cures,
    cures_table,
)
from tests.helpers.mending import at, cure_named, every_knitted_case, fault, knitted_case, with_rows
from tests.helpers.plans import plan_of

PLAIN = ["A" * 20] * 40
YARNS = {"A": Yarn("A", "Cream"), "B": Yarn("B", "Rock")}


def plain(done=30):
    return with_rows(plan_of(PLAIN, YARNS), done)


def test_what_is_not_knitted_can_still_be_changed_on_the_chart():
    with pytest.raises(PlanError, match=r"Row 40 is not knitted yet; the chart can still be"):
        cures(plain(), fault(TWISTED, Stitch(39, 4)))
    with pytest.raises(PlanError, match=r"There is no row 41"):
        cures(plain(), fault(TWISTED, Stitch(40, 4)))


def test_the_yarn_of_the_chart_is_no_wrong_one():
    with pytest.raises(PlanError, match="By the chart, too, the 1st of 20 Cream A1 in row 5"):
        cures(plain(), fault(WRONG_YARN, at(plain(), 5, 1), in_yarn="A"))
    with pytest.raises(PlanError, match="In which yarn was it knitted"):
        cures(plain(), fault(WRONG_YARN, at(plain(), 5, 1)))
    with pytest.raises(PlanError, match="Touch the stitch that is wrong"):
        cures(plain(), Fault(TWISTED, ()))


def test_the_cheapest_comes_first():
    """One stitch three rows down is laddered; twenty rows down, too, before 400 are knitted again.

    Where it cannot be laddered, covering costs four ends, which is less than 20 rows of 20.
    """
    near = cures(plain(), fault(WRONG_YARN, Stitch(27, 9), in_yarn="B"))
    # Covering leaves four ends, those of the wrong yarn too: more work than three rows.
    assert [cure.name for cure in near] == [LADDER, RIP, COVER]
    edge = cures(plain(), fault(WRONG_YARN, Stitch(10, 0), in_yarn="B"))
    assert [cure.name for cure in edge] == [COVER, RIP, LADDER]
    assert edge[-1].barred
    # Of a row that was knitted last, knitting three stitches back is the least.
    last = cures(plain(), fault(WRONG_YARN, at(plain(), 30, 18), in_yarn="B"))
    assert last[0].name in (LADDER, "knitted back to it")
    edge_of_last = cures(plain(), fault(WRONG_YARN, at(plain(), 30, 20), in_yarn="B"))
    assert edge_of_last[0].name == "knitted back to it"


def test_costs_as_a_table():
    found = cures(plain(), fault(WRONG_YARN, Stitch(10, 0), in_yarn="B"))
    table = cures_table(found, "cm")
    assert list(table.columns) == [
        *("cure", "rows_again", "stitches_again", "rungs_picked_up"),
        *("more_ends", "more_yarn", "why_not"),
    ]
    ripped = table.set_index("cure").loc[RIP]
    assert (ripped.rows_again, ripped.stitches_again, ripped.more_ends) == (20, 400, 0)
    assert table.set_index("cure").loc[LADDER].why_not.endswith("where the yarn turns.")
    assert table.set_index("cure").loc[COVER].more_yarn == "0.35 m"


@every_knitted_case
def test_every_fault_at_every_stitch_has_a_cure_or_a_reason(name, number):
    """Ripping back always mends; what is a cure has words, and what is none a reason."""
    plan = knitted_case(name, number)
    work = Work(plan)
    letters = plan.project.chart.letters
    tried = 0
    for row in range(0, work.done, 3):
        for column in work.columns(row)[:: 6 + row % 3]:
            stitch = Stitch(row, column)
            wrong = next(letter for letter in letters if letter != work.letter(stitch))
            what = FAULTS[tried % len(FAULTS)]
            in_yarn = wrong if what == WRONG_YARN else ""
            tried += 1
            try:
                found = cures(plan, Fault(what, (stitch,), in_yarn))
            except PlanError:
                assert what == HOLE
                continue
            assert not cure_named(found, RIP).barred
            for cure in found:
                assert bool(cure.steps) != bool(cure.barred)
            barred = [bool(cure.barred) for cure in found]
            assert barred == sorted(barred)
    assert tried >= len(FAULTS)


@every_knitted_case
def test_stitches_are_counted_as_the_card_counts_them(name, number):
    """By the lines of the card: so many of the run, and so many before it."""
    plan = knitted_case(name, number)
    work = Work(plan)
    for row in range(0, work.done, 3):
        card = plan.cards[row]
        selvedge = plan.project.how.selvedge
        count = card.lines[-1].so_far
        for number_in_row in range(1 + selvedge, count - selvedge + 1):
            stitch = work.at(row, number_in_row)
            line = next(line for line in card.lines if number_in_row <= line.so_far)
            assert work.number(stitch) == number_in_row
            assert work.letter(stitch) == line.yarn
            assert f"{line.stitches} {line.name} {line.strand}" in work.words(stitch)


def test_places_are_said_by_their_neighbours():
    plan = with_rows(plan_of(["AAABBBBAAA"] * 4), 3)
    assert Work(plan).words(at(plan, 1, 5)) == (
        "the 2nd of 4 B B1 in row 1 (RS), after 3 A A1 and before 3 A A2"
    )
    assert Work(plan).words(at(plan, 2, 1)) == "the 1st of 3 A A2 in row 2 (WS), before 4 B B1"


def test_a_selvedge_stitch_is_not_on_the_chart():
    plan = with_rows(plan_of(["AAAA"] * 3, how=Construction(selvedge=1)), 2)
    assert at(plan, 1, 2) == Stitch(0, 3)
    with pytest.raises(PlanError, match=r"In row 1 \(RS\) stitches 2 to 5 are on the chart"):
        at(plan, 1, 1)
