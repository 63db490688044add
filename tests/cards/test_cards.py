"""Row cards by eye: small pieces with their cards in full, and plain counts on random charts.

That cards can be followed word for word is tried in test_reader.
"""

from collections import defaultdict
from itertools import groupby, pairwise

import pytest

from planner import CarryLimits, Chart, Construction, Project, Yarn, make_plan
from planner.cards import how_to_cross
from planner.charts import read_rows
from planner.piece import Allowances, MultiplierChoice
from tests.helpers.carded import HOW, case, every_case, plan_of, walk, woven_by
from tests.helpers.parts import names_of

FOUR = MultiplierChoice("own", 4, 0)  # a stitch is half a centimetre wide: it takes 2 cm
NO_EDGES = Allowances(cast_on=0, bind_off=0)


def printed(card):
    return str(card).splitlines()


def test_a_piece_of_one_row():
    """Worked out by hand: cast on from the left, worked from the right, bound off from the left.

    For each stitch 2 cm in the row, 2 to cast on, 3 to bind off, and 30 cm of tails: A1 takes 37
    cm, B1 51 and A2 44. The tail for casting on is 15 cm and 2 a stitch.
    """
    cards = plan_of(["AABBBA"], multiplier=FOUR).all_cards
    under = "lay the old yarn over the new one to the left; the new one comes up from under it."
    assert printed(cards.cast_on) == [
        "Cast on: 6 stitches",
        "Ready: A1: loose strand, 0.40 m; B1: loose strand, 0.55 m; A2: loose strand, 0.45 m",
        "Cast on in this order: row 1 (RS) begins with the last stitch cast on.",
        "Where two yarns meet, cross them, so that the sections hang together.",
        "For a long-tail cast-on each tail has 4 times the width of its sections in it; knit on "
        "with the yarn, not with what is left of the tail.",
        "  2 A A2: new, tail 0.20 m",
        "  3 B B1: new, tail 0.25 m",
        "  1 A A1: new, tail 0.20 m",
    ]
    (row,) = cards.rows
    assert printed(row) == [
        "Row 1 (RS), knit, right to left: 6 stitches",
        f"At each border: behind the work, {under}",
        "  1 A A1",
        "  3 B B1",
        "  2 A A2",
        "3 hang at once: easy.",
        "Next: bind off.",
    ]
    assert printed(cards.bind_off) == [
        "Bind off, purl, left to right: 6 stitches",
        "Turn the work and bind off each section in its own yarn.",
        f"At each border: on the side that faces you, {under}",
        "  2 A A2: cut, tail 15 cm",
        "  3 B B1: cut, tail 15 cm",
        "  1 A A1: cut, tail 15 cm",
    ]
    assert (row.aloud(), row.written()) == ("1 A1, 3 B1, 2 A2", "Row 1 (RS): 1 A, 3 B, 2 A")


def test_two_turned_rounds():
    """A enters round 1 at the right, B enters round 2 at the left, each with a yarn-over there.

    A1 works 6 stitches and a yarn-over, 14 cm, B1 4 and one, 10 cm; each has 30 cm of tails.
    """
    plan = plan_of(["BBAAA"] * 2, Construction(worked="turned"), multiplier=FOUR, allow=NO_EDGES)
    under = "lay the old yarn over the new one to the left; the new one comes up from under it."
    never = "for the first and the last yarn never cross by themselves."
    first, second = plan.cards
    assert printed(first) == [
        "Round 1 (RS), knit, right to left: 5 stitches",
        "Ready: A1: loose strand, 0.45 m; B1: loose strand, 0.40 m",
        f"At each border: behind the work, {under}",
        "At the join: a yarn-over before the first stitch; work the last stitch together with it "
        f"(ssk, leaning to the left on the RS), {never}",
        "  3 A A1: new, tail 15 cm",
        "  2 B B1: new, tail 15 cm",
        "2 hang at once: easy.",
        "Next, round 2 (WS): nothing new.",
    ]
    assert printed(second) == [
        "Round 2 (WS), purl, left to right: 5 stitches",
        f"At each border: on the side that faces you, {under}",
        "At the join: after the turn, a yarn-over before the first stitch; work the last stitch "
        f"together with it (p2tog, leaning to the right on the RS), {never}",
        "  2 B B1: cut, tail 15 cm",
        "  3 A A1: cut, tail 15 cm",
    ]
    assert plan.all_cards.cast_on is plan.all_cards.bind_off is None


def test_yarns_have_their_names():
    yarns = {"A": Yarn("A", "Midnight"), "B": Yarn("B", "Cream")}
    piece = Project("named", Chart.from_rows(["ABB"]), yarns, allow=NO_EDGES)
    (card,) = make_plan(piece).cards
    assert [str(line) for line in card.lines] == [
        "  2 Cream B1: new, tail 15 cm; cut, tail 15 cm",
        "  1 Midnight A1: new, tail 15 cm; cut, tail 15 cm",
    ]


# What is not said again


def test_what_has_not_changed_is_not_said_again():
    """How to cross is said once for each side, how full the row is when that changes."""
    cards = plan_of(["AABB", "AABB", "AABB", "AABB", "AAAA"], allow=NO_EDGES).cards
    crossing = [any(said.startswith("At each border") for said in card.said) for card in cards]
    assert crossing == [False, True, True, False, False]
    assert [card.foot for card in cards] == [
        ("1 hangs: easy.",),
        ("2 hang at once: easy.",),
        *[()] * 3,
    ]


@every_case
def test_how_to_cross_is_there_on_call(name, number):
    _, plan = case(name, number)
    told = set()
    for card in plan.cards:
        assert card.cross == how_to_cross(HOW[name], card.side)
        is_new = len(card.lines) > 1 and card.side not in told
        assert (f"At each border: {card.cross}" in card.said) is is_new
        told |= {card.side} if is_new else set()


def test_the_next_row_is_told():
    """By eye: B begins in row 2, C and another length of A, behind it, in row 3."""
    cards = plan_of(["ACAAAA", "AAAABB", "AAAAAA"], allow=NO_EDGES).cards
    assert [card.ahead for card in cards] == [
        "Next, row 2 (WS): have B1 ready.",
        "Next, row 3 (RS): have C1, A2 ready.",
        "",
    ]
    ready = [[need.title for need in card.ready] for card in cards]
    assert ready == [["A1"], ["B1"], ["C1", "A2"]]
    assert str(cards[1].ready[0]) == "B1: loose strand, 0.40 m"


# Casting on and binding off


ORDER = {
    # A piece of A, B and C from the left: which way row 1 goes, and which way it is cast on.
    "RS, right-handed": (Construction(), "CBA", "ABC"),
    "WS first": (Construction(first_row="WS"), "ABC", "CBA"),
    "left-handed": (Construction(hand="left"), "ABC", "CBA"),
    "WS first, left-handed": (Construction(first_row="WS", hand="left"), "CBA", "ABC"),
    "rounds": (Construction(worked="rounds"), "CBA", "ABC"),
    "rounds, left-handed": (Construction(worked="rounds", hand="left"), "ABC", "CBA"),
    "turned": (Construction(worked="turned"), "CBA", "ABC"),
}


@pytest.mark.parametrize("name", ORDER)
def test_the_last_stitch_cast_on_is_the_first_worked(name):
    how, worked, cast_on = ORDER[name]
    cards = plan_of(["AAAABBCCC"], how).all_cards
    widths = {"A": 4, "B": 2, "C": 3}
    assert [line.yarn for line in cards.rows[0].lines] == list(worked)
    assert [line.yarn for line in cards.cast_on.lines] == list(cast_on)
    assert [line.stitches for line in cards.cast_on.lines] == [widths[yarn] for yarn in cast_on]
    assert [line.so_far for line in cards.cast_on.lines][-1] == 9
    begins = cards.cast_on.said[0]
    assert f"{cards.rows[0].name} begins with the last stitch cast on" in begins
    assert ("it joins the ring" in begins) is how.is_tube
    # What is cast on is not begun again.
    assert not any(line.steps for line in cards.rows[0].lines)


@pytest.mark.parametrize("name", ORDER)
def test_binding_off_goes_back(name):
    """It goes the other way than the last row, so that each yarn is where its section begins; in
    rounds, which are not turned, the work is turned for it."""
    how, worked, _ = ORDER[name]
    cards = plan_of(["AAAABBCCC"], how).all_cards
    last, bind_off = cards.rows[-1], cards.bind_off
    assert [line.yarn for line in bind_off.lines] == list(reversed(worked))
    assert {last.works, bind_off.works} == {"right to left", "left to right"}
    assert {last.side, bind_off.side} == {"RS", "WS"}
    assert bind_off.said[0].startswith("Turn the work and bind off")
    assert f"At each border: {how_to_cross(how, bind_off.side)}" in bind_off.said


def test_a_yarn_with_two_sections():
    """A runs behind B. It is begun once, with a tail for both sections, and cut once."""
    plan = plan_of(["AABBBA"], limits=CarryLimits(across=3))
    cast_on, (row,), bind_off = plan.all_cards
    along = "A yarn with more than one section is taken along behind those between."
    assert [str(line) for line in cast_on.lines] == [
        "  2 A A1: new, tail 0.25 m",  # 15 cm, and four times 1.5 cm
        "  3 B B1: new, tail 0.25 m",
        "  1 A A1",
    ]
    assert [str(line) for line in row.lines] == [
        "  1 A A1: then take it along the wrong side of the next 3 stitches",
        "  3 B B1: catch A1 at the 2nd",
        "  2 A A1",
    ]
    assert [str(line) for line in bind_off.lines] == [
        "  2 A A1",
        "  3 B B1: cut, tail 15 cm",
        "  1 A A1: cut, tail 15 cm",
    ]
    assert along in cast_on.said
    assert along in bind_off.said


def test_a_strand_begun_from_its_middle_is_cast_on_with_both_ends():
    """By eye: B enters row 1 at edge 14 and row 2 at edge 10."""
    rows = ["A" * 10 + "BBBB" + "A" * 6, "A" * 10 + "BBBB" + "A" * 6]
    rows[1] = "AAAAAABBBB" + "A" * 10
    plan = plan_of(rows, limits=CarryLimits(sideways=0, up=0))
    (line,) = [line for line in plan.all_cards.cast_on.lines if line.yarn == "B"]
    assert line.steps == (
        "begin B1 from its middle and cast on with both ends: this end is B1a, B1b hangs beside it "
        "until row 2 (WS)",
    )
    assert "take up B1b, the other end of B1" in str(plan.cards[1])


def test_no_cast_on_and_no_bind_off():
    """Set into a larger piece, row 1 begins its yarns and the last row cuts them."""
    cards = plan_of(["BBBB", "BBAA"], allow=NO_EDGES).all_cards
    assert (cards.cast_on, cards.bind_off) == (None, None)
    assert [line.steps for line in cards.rows[0].lines] == [
        ("new, tail 15 cm", "cut, tail 15 cm"),
        ("new, tail 15 cm",),
    ]
    assert [line.steps for line in cards.rows[1].lines] == [("cut, tail 15 cm",)]


def test_only_what_is_there_at_the_end_is_bound_off():
    """By eye: A stops in row 1, B in row 2, which is the last."""
    cards = plan_of(["BBBB", "BBAA"]).all_cards
    assert cards.rows[0].lines[0].steps == ("cut, tail 15 cm",)
    assert cards.rows[1].lines[0].steps == ()
    assert [line.strand for line in cards.bind_off.lines] == ["B1"]


# Shaping


SHAPED = {
    # Rows 1 and 2 from below, what row 2 says of it, worked from the left; no selvedge, then one.
    "neither": ("AAAAAAAA", "AAAAAAAA", "", ""),
    "both ends": (
        "AAAAAAAA",
        "...AAAA.",
        "bind off 3 at the beginning, decrease 1 at the end: 4 stitches in this row",
        "bind off 3 at the beginning, decrease 1 at the end: 6 stitches in this row",
    ),
    "wider": (
        ".AAAA...",
        "AAAAAAAA",
        "increase 1 at the beginning, cast on 3 at the end: 8 stitches in this row",
        "increase 1 at the beginning, cast on 3 at the end: 10 stitches in this row",
    ),
    "a neck": (
        "AAAAAAAA",
        "AAA..AAA",
        "bind off 2 after 3 stitches: 6 stitches in this row",
        "bind off 2 after 4 stitches: 8 stitches in this row",
    ),
    "on both sides of a gap": (
        "AAAA.AAA",
        "AAA...AA",
        "bind off 2 after 3 stitches: 5 stitches in this row",
        "bind off 2 after 4 stitches: 7 stitches in this row",
    ),
    "ends and middle": (
        "..AAAAAA",
        ".AA.AAA.",
        "increase 1 at the beginning, decrease 1 after 2 stitches, decrease 1 at the end: "
        "5 stitches in this row",
        "increase 1 at the beginning, decrease 1 after 3 stitches, decrease 1 at the end: "
        "7 stitches in this row",
    ),
}


@pytest.mark.parametrize("name", SHAPED)
@pytest.mark.parametrize("selvedge", [0, 1])
def test_shaping_is_said_as_the_row_comes_to_it(name, selvedge):
    below, above, *words = SHAPED[name]
    cards = plan_of([above, below], Construction(selvedge=selvedge)).cards
    said = [each for each in cards[1].said if "in this row" in each]
    assert said == list(filter(None, [words[selvedge]]))
    assert cards[1].in_all == f"{above.count('A') + 2 * selvedge} stitches"


def test_shaping_of_58_stitches():
    rows = ["." * 5 + "A" * 58, "A" * 63]
    assert "bind off 5 at the beginning: 58 stitches in this row" in plan_of(rows).cards[1].said
    # In garter once, in the first row of the ridge; worked from the right it is the end of the row.
    ridges = plan_of(rows, Construction(fabric="garter")).cards
    shaped = ["bind off 5 at the end: 58 stitches in this row" in card.said for card in ridges]
    assert shaped == [False, False, True, False]
    (rounds,) = [
        said
        for said in plan_of(rows, Construction(worked="rounds")).cards[1].said
        if "bind off" in said
    ]
    assert rounds == "bind off 5 at the end: 58 stitches in this round"


# Plain counts


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
        assert [[line.yarn, line.stitches] for line in card.lines] == expected
        total = 0
        for line in card.lines:
            total += line.stitches
            assert line.so_far == total
        assert total == len(in_order) + 2 * how.selvedge
        assert card.in_all == f"{total} stitches"
        assert (card.row, card.chart_row) == (i + 1, i // how.rows_per_chart_row + 1)
        assert card.works == ("right to left" if leftwards else "left to right")
        assert card.aloud() == ", ".join(f"{line.stitches} {line.strand}" for line in card.lines)


@every_case
def test_each_run_is_told_by_the_name_of_its_half(name, number):
    """Who works B1b must not pick up B1a: the runs of a card are those of the halves."""
    _, plan = case(name, number)
    parts = walk(name, number)
    names, expected = names_of(parts), defaultdict(list)
    for key, runs in parts.items():
        for run in runs:
            expected[run.row + 1].append(names[key])
    for card in plan.cards:
        assert sorted(line.strand for line in card.lines) == sorted(expected[card.row])


@every_case
def test_the_join_is_closed_in_turned_rounds(name, number):
    """Every turned round begins with a yarn-over that its last stitch is worked together with; in
    stockinette ssk on the RS and p2tog on the WS. The stitch leans as its round goes."""
    _, plan = case(name, number)
    for card in plan.cards:
        joins = [said for said in card.said if said.startswith("At the join: ")]
        if HOW[name].worked != "turned":
            assert joins == []
            continue
        (join,) = joins
        begin = "a yarn-over" if card.row == 1 else "after the turn, a yarn-over"
        assert join.startswith(f"At the join: {begin} before the first stitch; work the last ")
        on_ws = "k2tog" if HOW[name].fabric == "garter" else "p2tog"
        lean = "left" if card.works == "right to left" else "right"
        together = "ssk" if card.side == "RS" else on_ws
        assert f"({together}, leaning to the {lean} on the RS)" in join


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


@every_case
def test_hanging_against_a_walk(name, number):
    """A yarn hangs where its last stretch left it, or where it was taken along to; a second half
    where it is taken up."""
    rows, plan = case(name, number)
    how, columns = HOW[name], len(rows[0])
    piece = [line for line in reversed(rows) for _ in range(how.rows_per_chart_row)]
    parts = walk(name, number)
    names, expected = names_of(parts), defaultdict(dict)
    for (label, half), runs in parts.items():
        title = names[label, half]
        for a, b in pairwise(runs):
            cells, (lo, hi) = piece[a.row], sorted((a.leave, b.enter))
            beyond = cells[:lo] if b.enter < a.leave else cells[hi:]
            stitches = hi - lo - cells[lo:hi].count(".")
            stitches += 0 if beyond.strip(".") else how.selvedge
            # Two stitches or fewer are left to the next row, and so is what goes over the join.
            taken = woven_by(a, b, how, columns) and stitches > 2
            for row in range(a.row, b.row):
                expected[row][title] = (a.leave, b.enter if taken else a.leave)
        if half:
            begun = parts[label, 0][0]
            for row in range(begun.row, runs[0].row):
                expected[row][title] = (begun.enter, begun.enter)
    for i, card in enumerate(plan.cards):
        assert {title for title, _ in card.hanging} == set(expected[i])
        for title, edge in card.hanging:
            _, wanted = expected[i][title]
            cells = piece[i]
            is_at_join = not cells[:edge].strip(".") or not cells[edge:].strip(".")
            if how.is_tube and edge != wanted and is_at_join:
                continue  # taken along to the join, over which the next round has it
            # Beside cells without a stitch several edges are one place.
            between = cells[min(edge, wanted) : max(edge, wanted)]
            assert set(between) <= {"."}, (i, title, edge, wanted)
        edges = [edge for _, edge in card.hanging]
        assert edges == sorted(edges)
    assert plan.cards[-1].hanging == ()
