"""Row cards, read as a knitter reads them, against plain counts on the chart."""

import re
from collections import defaultdict
from itertools import groupby, pairwise

import pytest

from planner import Chart, Construction
from planner.charts import read_rows
from planner.piece import Allowances, MultiplierChoice
from planner.rows import how_to_cross
from tests.helpers.carded import HOW, case, every_case, plan_of, walk, woven_by
from tests.helpers.parts import names_of


@every_case
def test_counts_add_up_to_the_charts_stitches(name, number):
    rows, plan = case(name, number)
    how = HOW[name]
    piece = [line for line in reversed(rows) for _ in range(how.rows_per_chart_row)]
    assert len(plan.cards) == len(piece)
    for i, (card, cells) in enumerate(zip(plan.cards, piece, strict=True)):
        leftwards = (not how.is_turned or (i % 2 == 0) == (how.first_row == "RS")) == (
            how.hand == "right"
        )
        in_order = [cell for cell in (cells[::-1] if leftwards else cells) if cell != "."]
        expected = [[yarn, len(list(same))] for yarn, same in groupby(in_order)]
        expected[0][1] += how.selvedge
        expected[-1][1] += how.selvedge
        assert [[yarn, n] for _, yarn, n, _ in card.runs] == expected
        total = 0
        for _, _, n, so_far in card.runs:
            total += n
            assert so_far == total
        assert total == len(in_order) + 2 * how.selvedge
        assert (card.row, card.chart_row) == (i + 1, i // how.rows_per_chart_row + 1)
        assert card.works == ("right to left" if leftwards else "left to right")
        assert card.aloud() == ", ".join(f"{n} {strand}" for strand, _, n, _ in card.runs)


@every_case
def test_crossing_is_said_only_at_borders(name, number):
    _, plan = case(name, number)
    for card in plan.cards:
        assert (f"At each border: {card.cross}" in str(card)) is (len(card.runs) > 1)
        assert card.cross == how_to_cross(HOW[name], card.side)


@every_case
def test_the_join_is_closed_in_turned_rounds(name, number):
    """Every turned round begins with a yarn-over that its last stitch is worked together with; in
    stockinette ssk on the RS and p2tog on the WS. The stitch leans as its round goes."""
    _, plan = case(name, number)
    for card in plan.cards:
        lines = [line for line in str(card).splitlines() if line.startswith("At the join: ")]
        if HOW[name].worked != "turned":
            assert (card.join, lines) == ("", [])
            continue
        assert lines == [f"At the join: {card.join}"]
        ring = "with the cast-on joined to a ring, a yarn-over"
        assert card.join.startswith(ring if card.row == 1 else "after the turn, a yarn-over")
        on_ws = "k2tog" if HOW[name].fabric == "garter" else "p2tog"
        lean = "left" if card.works == "right to left" else "right"
        together = "ssk" if card.side == "RS" else on_ws
        assert f"({together}, leaning to the {lean} on the RS)" in card.join


def test_a_turned_round_by_eye():
    """Two rounds of 3 A and 2 B. A stitch is half a centimetre wide and takes 2 cm. A enters round
    1 at the right, B enters round 2 at the left, each with a yarn-over there.

        A1  6 stitches and a yarn-over 14 cm, tails 30: 44
        B1  4 stitches and a yarn-over 10 cm, tails 30: 40
    """
    cards = plan_of(
        ["BBAAA"] * 2,
        Construction(worked="turned"),
        multiplier=MultiplierChoice("own", 4, 0),
        allow=Allowances(cast_on=0, bind_off=0),
    ).cards
    under = "lay the old yarn over the new one to the left; the new one comes up from under it."
    cross = "for the first and the last yarn never cross by themselves."
    assert str(cards[0]).splitlines() == [
        "Round 1 (RS), right to left: 3 A1, 2 B1 (5 stitches)",
        f"At each border: behind the work, {under}",
        "At the join: with the cast-on joined to a ring, a yarn-over before the first stitch; work "
        f"the last stitch together with it (ssk, leaning to the left on the RS), {cross}",
        "- cast on in sections, from the right: 3 A1, 2 B1",
        "- at 3 A1: start A1 (loose strand of 0.45 m), leaving a tail of 15 cm",
        "- at 2 B1: start B1 (loose strand of 0.40 m), leaving a tail of 15 cm",
        "2 lengths hanging: easy",
    ]
    assert str(cards[1]).splitlines() == [
        "Round 2 (WS), left to right: 2 B1, 3 A1 (5 stitches)",
        f"At each border: on the side that faces you, {under}",
        "At the join: after the turn, a yarn-over before the first stitch; work the last stitch "
        f"together with it (p2tog, leaning to the right on the RS), {cross}",
        "- at 2 B1: cut B1, leaving a tail of 15 cm",
        "- at 3 A1: cut A1, leaving a tail of 15 cm",
        "2 lengths hanging: easy",
    ]


def test_a_row_in_one_yarn_by_eye():
    """A stitch is half a centimetre: 4 cm in the row, 4 to cast on, 6 to bind off, 30 of tails.

    So 44 cm, 45 as they are measured off.
    """
    (card,) = plan_of(["AA"], multiplier=MultiplierChoice("own", 4, 0)).cards
    assert str(card).splitlines() == [
        "Row 1 (RS), right to left: 2 A1 (2 stitches)",
        "- at 2 A1: start A1 (loose strand of 0.45 m), leaving a tail of 15 cm; then bind off with "
        "it, then cut A1, leaving a tail of 15 cm",
        "1 length hanging: easy",
    ]


@pytest.mark.parametrize("first_row", ["RS", "WS"])
@pytest.mark.parametrize("hand", ["right", "left"])
def test_cast_on_in_sections(first_row, hand):
    """From the right as the chart shows it, whatever the direction of the first row; selvedge
    counted in."""
    cards = plan_of(
        ["AAAABBCCC"] * 2, Construction(first_row=first_row, hand=hand, selvedge=2)
    ).cards
    said = re.sub(r"(\d+ [A-Z])\d", r"\1", cards[0].steps[0])
    assert said == "cast on in sections, from the right: 5 C, 2 B, 6 A"
    assert not any("cast on" in step for step in cards[1].steps)
    two = plan_of(["AABB"] * 2, Construction(first_row=first_row, hand=hand)).cards[0].steps[0]
    assert re.sub(r"(\d+ [A-Z])\d", r"\1", two) == "cast on in sections, from the right: 2 B, 2 A"
    plain = plan_of(["AABB", "AAAA"], Construction(first_row=first_row, hand=hand)).cards
    assert not any("cast on" in step for card in plain for step in card.steps)


@pytest.mark.parametrize("name", [name for name, how in HOW.items() if how.fabric != "garter"])
@pytest.mark.parametrize("number", [0, 2])
def test_written_cards_read_back_as_the_chart(name, number):
    rows, _ = case(name, number)
    how = Construction(HOW[name].worked, HOW[name].first_row, HOW[name].hand)
    plan = plan_of(rows, how)
    text = "\n".join(card.written() for card in plan.cards)
    assert read_rows(text, how) == Chart.from_rows(rows)
    first = {
        "flat": f"Row 1 ({how.first_row}): ",
        "rounds": "Round 1: ",
        "turned": f"Round 1 ({how.first_row}): ",
    }
    assert text.startswith(first[how.worked])


# Where the yarns hang


@every_case
def test_hanging_against_a_walk(name, number):
    """A yarn hangs where its last stretch left it, or where it was woven along to; a second half
    where it is taken up."""
    rows, plan = case(name, number)
    parts, columns = walk(name, number), len(rows[0])
    names, expected = names_of(parts), defaultdict(list)
    for (label, half), runs in parts.items():
        title = names[label, half]
        for a, b in pairwise(runs):
            edge = b.enter if woven_by(a, b, HOW[name], columns) else a.leave
            for row in range(a.row, b.row):
                expected[row].append((title, edge))
        if half:
            for row in range(parts[label, 0][0].row, runs[0].row):
                expected[row].append((title, runs[0].enter))
    for i, card in enumerate(plan.cards):
        assert sorted(card.hanging) == sorted(expected[i])
        edges = [edge for _, edge in card.hanging]
        assert edges == sorted(edges)
    assert plan.cards[-1].hanging == ()
