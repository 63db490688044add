"""Cards of random pieces, read by a knitter who has their words alone (tests/helpers/card_reader).

What comes off her needles is the chart, and her strands, carries and hanging yarns are the plan's.
READ_CARDS_OF=3000 in the environment reads so many charts instead of 500.
"""

import os
import random
import re
from dataclasses import asdict, replace
from functools import cache
from itertools import pairwise, product

import pytest

from planner import CarryLimits, Chart, Construction, Gauge, Project, Yarn, make_plan
from planner.piece import Allowances, Habits
from planner.piece.log import WORKED, Entry
from planner.strands.knitted import note_row
from tests.helpers.card_reader import CardReader, Refused, Way
from tests.helpers.knitter import draw_chart

CHARTS = int(os.environ.get("READ_CARDS_OF", "500"))
AT_ONCE = 25

WAYS = list(
    product(
        ("flat", "rounds", "turned"), ("RS", "WS"), ("right", "left"), ("stockinette", "garter")
    )
)
LIMITS = (
    CarryLimits(),
    CarryLimits(across=4, sideways=7, up=3),
    CarryLimits(across=1, sideways=3, up=1, middle_start=False),
    CarryLimits(across=5, sideways=10, up=6),
)
SIZES = ((6, 8), (10, 10), (18, 12), (24, 8))  # stitches, rows; in a narrow tube much goes round
OUTLINES = ("plain", "plain", "holes", "triangle", "neck", "zigzag")
YARNS = {"A": Yarn("A", "Midnight blue"), "B": Yarn("B", "Cream"), "C": Yarn("C", feltable=True)}
SMALL = Habits(loose_up_to_cm=30, butterfly_up_to_cm=60, bobbin_up_to_cm=90)
KINDS = ("across", "on", "up", "middle")


def is_gone(outline, draw, place, size):
    """Whether the outline has no stitch at a place: column and row from the top."""
    (column, row), (columns, rows) = place, size
    off_middle = abs(column - columns / 2 + 0.5)
    return {
        "plain": False,
        "holes": draw.random() < 0.06,
        "triangle": off_middle > (row + 1) * columns / 2 / rows,
        "neck": row < rows // 2 and off_middle < (rows // 2 - row) // 2 + 1,
        "zigzag": (column < 2 or column > columns - 3) and draw.random() < 0.5,
    }[outline]


def draw_rows(number, draw, outline):
    """A random chart's rows, top row first; every row keeps a stitch."""
    size = columns, rows = draw.choice(SIZES)
    yarns, smooth = draw.choice((2, 3, 4)), draw.choice((0, 0.5, 0.7, 1, 2))
    drawn = draw_chart(number, stitches=columns, rows=rows, yarns=yarns, smooth=smooth)
    shaped = []
    for row, line in enumerate(drawn):
        cells = [
            "." if is_gone(outline, draw, (column, row), size) else letter
            for column, letter in enumerate(line)
        ]
        if set(cells) == {"."}:
            cells[columns // 2] = "A"
        shaped.append("".join(cells))
    return shaped


@cache
def drawn_piece(number):
    """A random piece: its rows, top row first, and its plan."""
    draw = random.Random(number)
    outline = draw.choice(OUTLINES)
    worked, first_row, hand, fabric = WAYS[number % len(WAYS)]
    rows = draw_rows(number, draw, outline)
    # Nobody has a selvedge at an edge that goes in and out, or where next to nothing is left.
    goes_in_and_out = outline in ("holes", "zigzag") or len(rows[0]) == SIZES[0][0]
    selvedge = 0 if goes_in_and_out else draw.choice((0, 1, 2))
    letters = set("".join(rows)) - {"."}
    piece = Project(
        f"random {number}",
        Chart.from_rows(rows),
        {letter: yarn for letter, yarn in YARNS.items() if letter in letters},
        Gauge(20, 25),
        Construction(worked, first_row, hand, fabric, selvedge),
        draw.choice(LIMITS),
        allow=Allowances(cast_on=draw.choice((0, 4)), bind_off=draw.choice((0, 6))),
        habits=replace(draw.choice((Habits(), SMALL)), tails_caught=draw.random() < 0.3),
        units=draw.choice(("cm", "in")),
    )
    plan = make_plan(piece)
    if draw.random() < 0.3:
        # Some rows are knitted, and then the plan is changed.
        worked_rows = range(1, draw.randrange(1, len(plan.cards)) + 1)
        log = [
            Entry(row, "2025-01-01", WORKED, row, runs=note_row(plan.traced, row))
            for row in worked_rows
        ]
        piece = replace(piece, limits=draw.choice(LIMITS), progress=tuple(log))
        plan = make_plan(piece)
    return rows, plan


def texts_of(plan):
    """The cards as they are printed: that of the cast-on, those of the rows, that of binding off.

    The first and the last are None where there are none.
    """
    cards = plan.all_cards
    before = cards.cast_on and str(cards.cast_on)
    after = cards.bind_off and str(cards.bind_off)
    return before, [str(card) for card in cards.rows], after


def knit(plan, texts):
    return CardReader(Way(**asdict(plan.project.how))).read(*texts)


def worked_rows(rows, how):
    """The cells of each worked row, first row first."""
    return [line for line in reversed(rows) for _ in range(how.rows_per_chart_row)]


def check_fabric(rows, how, knitted):
    """Each row's stitches, and how they stand on those of the row before."""
    selvedge, piece = how.selvedge, worked_rows(rows, how)
    columns = [[i for i, letter in enumerate(cells) if letter != "."] for cells in piece]
    for cells, on, letters in zip(piece, columns, knitted.letters, strict=True):
        expected = [cells[i] for i in on]
        edges = [expected[0]] * selvedge, [expected[-1]] * selvedge
        assert letters == edges[0] + expected + edges[1]
    for (before, on), kept in zip(pairwise(columns), knitted.kept[1:], strict=True):
        place = {column: i + selvedge for i, column in enumerate(before)}
        inside = range(selvedge, selvedge + len(before))
        below = [i if i in inside else None for i in kept[selvedge : selvedge + len(on)]]
        assert below == [place.get(column) for column in on]


def check_strands(plan, knitted):
    """Which strand works each run, and where each comes from and goes."""
    traced = plan.traced
    titles = []
    for strand, half in zip(traced.of_run.tolist(), traced.half.tolist(), strict=True):
        letter = "ab"[half] if traced.has_middle[strand] else ""
        titles.append(traced.labels[strand] + letter)
    assert knitted.strands == titles
    links = traced.links
    a, b, kind = links.a.tolist(), links.b.tolist(), links.kind.tolist()
    assert knitted.links == {(a, b, KINDS[k]) for a, b, k in zip(a, b, kind, strict=True)}


def check_hanging(rows, plan, knitted):
    """Where the yarns hang after each row, in stitches from the left."""
    how, selvedge = plan.project.how, plan.project.how.selvedge
    if selvedge and "." in "".join(rows):
        return  # where an edge is among the stitches of a selvedge that moves, no chart shows
    piece = worked_rows(rows, how)
    # After the last row they hang for binding off, which is no row.
    for card, cells, hanging in zip(plan.cards[:-1], piece, knitted.hanging, strict=False):
        assert {name for name, _ in card.hanging} == set(hanging)
        for name, edge in card.hanging:
            left = sum(letter != "." for letter in cells[:edge])
            left += selvedge * ((edge > 0) + (edge == len(cells)))
            assert left in hanging[name]


@pytest.mark.parametrize("first", range(0, CHARTS, AT_ONCE))
def test_cards_can_be_followed_word_for_word(first):
    for number in range(first, min(first + AT_ONCE, CHARTS)):
        rows, plan = drawn_piece(number)
        try:
            knitted = knit(plan, texts_of(plan))
        except Refused as why:
            pytest.fail(f"piece {number}: {why}")
        check_fabric(rows, plan.project.how, knitted)
        check_strands(plan, knitted)
        check_hanging(rows, plan, knitted)


def test_the_random_pieces_have_all_that_cards_say():
    """Each kind of step stands on some card that is read above."""
    said = set()
    for number in range(200):
        before, rows, after = texts_of(drawn_piece(number)[1])
        said |= set(re.findall(r"[a-z]{2,}", " ".join([before or "", *rows, after or ""])))
    words = "new begin middle take other end comes up across join away loosely catch every float "
    words += "waits pass past let hang cut along farther leave bind decrease increase beginning "
    words += "round ridge ready caught twisted turn refill butterfly"
    assert set(words.split()) - said == set()


# What is wrong is found


def steps_left_out(text):
    """The card, each time without one of its steps."""
    lines = text.splitlines()
    for number, line in enumerate(lines):
        told = re.fullmatch(r"( *\d+ [^:]+): (.*)", line)
        steps = told[2].split("; ") if told else []
        for left_out in range(len(steps)):
            # Of what waits through many rows, not every catch is needed.
            if "which waits here" in steps[left_out]:
                continue
            # Beside stitches that are cast on a yarn may hang on either side of them.
            if "hangs 1 stitch" in steps[left_out] and "cast on" in text:
                continue
            others = steps[:left_out] + steps[left_out + 1 :]
            shorter = f"{told[1]}: {'; '.join(others)}" if others else told[1]
            yield "\n".join([*lines[:number], shorter, *lines[number + 1 :]])


# The numbers of a card that say how much or where, but not where yarn is caught: there a stitch
# more or less is as good.
COUNTS = re.compile(
    r"(?m)(?<=next )\d+(?= stitches)|(?<=hanging for r... )\d+|(?<=hanging for round )\d+|"
    r"(?<=comes up )\d+|(?<=after )\d+(?= stitch)|^ *\d+(?= )|\d+(?= stitch\w* in this r)"
)


def counts_changed(text):
    """The card, each time with one of its counts one more."""
    for found in COUNTS.finditer(text):
        more = str(int(found[0]) + 1)
        yield text[: found.start()] + more + text[found.end() :]


def makes_the_piece(chart, plan, texts):
    """Whether the cards can be followed, and come to the chart."""
    try:
        check_fabric(chart, plan.project.how, knit(plan, texts))
    except AssertionError:
        # Shaping at another place can be followed, but makes another piece.
        return False
    return True


@pytest.mark.parametrize("change", [steps_left_out, counts_changed])
def test_what_is_wrong_is_found(change):
    tried = 0
    for number in range(48):
        chart, plan = drawn_piece(number)
        before, rows, after = texts_of(plan)
        row = number % len(rows)
        for wrong in change(rows[row]):
            tried += 1
            texts = (before, [*rows[:row], wrong, *rows[row + 1 :]], after)
            assert not makes_the_piece(chart, plan, texts), wrong
    assert tried > 200


def test_a_name_that_is_not_there_is_refused():
    """Every strand named on a card, one after the other by a name that nothing has."""
    tried = 0
    for number in range(24):
        _, plan = drawn_piece(number)
        before, rows, after = texts_of(plan)
        row = number % len(rows)
        names = set(re.findall(r"\b[A-D]\d+[ab]?\b", rows[row]))
        for name in names:
            wrong = re.sub(rf"\b{name}\b", f"{name[0]}99", rows[row], count=1)
            tried += 1
            with pytest.raises(Refused):
                knit(plan, (before, [*rows[:row], wrong, *rows[row + 1 :]], after))
    assert tried > 50
