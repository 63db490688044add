"""Written rows: what is written reads back as the same chart, and patterns' ways are understood."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner import Chart, Construction, PlanError
from planner.charts.written import read_rows, write_rows
from tests.helpers.knitter import draw_chart

FLAT = Construction()
HOW = {
    "flat": FLAT,
    "flat, WS first": Construction(first_row="WS"),
    "flat, left-handed": Construction(hand="left"),
    "garter": Construction(fabric="garter"),
    "garter, WS first, left-handed": Construction(fabric="garter", first_row="WS", hand="left"),
    "rounds": Construction(worked="rounds"),
    "rounds, left-handed": Construction(worked="rounds", hand="left"),
    "garter in rounds": Construction(worked="rounds", fabric="garter"),
    "turned": Construction(worked="turned"),
    "turned, WS first": Construction(worked="turned", first_row="WS"),
}


def read(text, how=FLAT, **kwargs):
    return ["".join(row) for row in read_rows(text, how, **kwargs).to_rows()]


# There and back


LETTERS = st.characters(categories=["L", "Nl", "No"])
# Words of written rows that are yarns all the same, as the chart allows them.
OWN_MEANING = [
    "WS",
    "St",
    "RS",
    "sts",
    "no",
    "k",
    "P",
    "rep",
    "end",
    "to",
    "sl",
    "BO",
    "inc",
    "and",
]


@st.composite
def charts(draw):
    letters = [
        *draw(
            st.lists(
                st.one_of(
                    st.sampled_from(["A", "B", "MC", "Grn", "É", "x", *OWN_MEANING]),
                    st.text(LETTERS, min_size=1, max_size=3),
                ),
                min_size=1,
                max_size=4,
                unique=True,
            )
        ),
        ".",
    ]
    width, height = draw(st.integers(1, 9)), draw(st.integers(1, 7))
    row = st.lists(st.sampled_from(letters), min_size=width, max_size=width).filter(
        lambda cells: set(cells) != {"."}
    )
    return draw(st.lists(row, min_size=height, max_size=height))


@settings(derandomize=True, deadline=None, max_examples=250)
@given(charts(), st.sampled_from(sorted(HOW)))
def test_round_trip(rows, name):
    chart = Chart.from_rows(rows)
    assert read_rows(write_rows(chart, HOW[name]), HOW[name]) == chart
    assert read_rows(write_rows(chart, HOW[name]), HOW[name], yarns=chart.letters) == chart


@pytest.mark.parametrize("name", HOW)
def test_round_trip_of_a_large_chart(name):
    chart = Chart.from_rows(draw_chart(4, stitches=120, rows=90, yarns=5, smooth=3, holes=True))
    assert read_rows(write_rows(chart, HOW[name]), HOW[name]) == chart


WRITTEN = {  # by hand: the chart below, under each construction, as it is worked
    "flat": "Row 1 (RS): 1 B, 3 A\nRow 2 (WS): 2 A, 2 B\n",
    "flat, WS first": "Row 1 (WS): 3 A, 1 B\nRow 2 (RS): 2 B, 2 A\n",
    "flat, left-handed": "Row 1 (RS): 3 A, 1 B\nRow 2 (WS): 2 B, 2 A\n",
    "rounds": "Round 1: 1 B, 3 A\nRound 2: 2 B, 2 A\n",
    "rounds, left-handed": "Round 1: 3 A, 1 B\nRound 2: 2 A, 2 B\n",
    "turned": "Round 1 (RS): 1 B, 3 A\nRound 2 (WS): 2 A, 2 B\n",
    "turned, WS first": "Round 1 (WS): 3 A, 1 B\nRound 2 (RS): 2 B, 2 A\n",
    "garter": "Ridge 1: 1 B, 3 A\nRidge 2: 2 B, 2 A\n",
    "garter, WS first, left-handed": "Ridge 1: 1 B, 3 A\nRidge 2: 2 B, 2 A\n",
}


@pytest.mark.parametrize("name", WRITTEN)
def test_rows_are_written_in_working_order(name):
    """Garter has one line a ridge, as its first row is worked."""
    rows = ["AABB", "AAAB"]
    assert write_rows(Chart.from_rows(rows), HOW[name]) == WRITTEN[name]
    assert read(WRITTEN[name], HOW[name]) == rows


def test_no_stitch_is_written_out():
    rows = ["..AB", "A.BB"]
    text = write_rows(Chart.from_rows(rows), FLAT)
    assert text == "Row 1 (RS): 2 B, 1 no stitch, 1 A\nRow 2 (WS): 2 no stitch, 1 A, 1 B\n"
    assert read(text.replace("2 no stitch", "2 no sts").replace("1 no stitch", "1 no-st")) == rows


@pytest.mark.parametrize("letter", [*OWN_MEANING, "x", "M", "in", "R", "one"])
def test_a_yarn_may_have_any_name_of_three_letters(letter):
    """Words that patterns use are yarn names too; they go out in quotation marks."""
    chart = Chart.from_rows([[letter, "A", letter, letter], ["A"] * 4])
    assert read_rows(write_rows(chart, FLAT), FLAT) == chart
    assert read_rows(write_rows(chart, FLAT), FLAT, yarns=("A", letter)) == chart


# As patterns write


READ = {  # text, chart, top row first
    "one row": ("Row 1 (RS): 2 A, 1 B", ["BAA"]),
    "several rows at once": ("Rows 1–3: 2 A, 1 B", ["BAA", "AAB", "BAA"]),
    "rows with a hyphen": ("Rows 1-2: 2 A, 1 B\nRow 3 (RS): 3 A", ["AAA", "AAB", "BAA"]),
    "rows to": ("rows 1 to 2: 3 A", ["AAA", "AAA"]),
    "Rows 5–8": (
        "Row 1: 2A\nRows 2–4: 2A\nRows 5–8: 1 A, 1 B",
        ["AB", "BA", "AB", "BA", "AA", "AA", "AA", "AA"],
    ),
    "lines in any order": ("Row 2 (WS): 3 B\n\nRow 1 (RS): 3 A", ["BBB", "AAA"]),
    "side without brackets": ("Row 1 RS: 2 A, 1 B", ["BAA"]),
    "letter first": ("Row 1 (RS): A2, B1.", ["BAA"]),
    "nothing between": ("Row 1 (RS): 2A 1B", ["BAA"]),
    "then, and": ("Row 1 (RS): 2 A, then 1 B and 1 A", ["ABAA"]),
    "letters of three": ("Row 1 (RS): 2 MC, 1 Grn", None),
    "brackets": ("Row 1 (RS): (2 A, 1 B) 2 times, 1 C", ["CBAABAA"]),
    "square brackets": ("Row 1 (RS): [2 A, 1 B] × 2, 1 C", ["CBAABAA"]),
    "brackets x": ("Row 1 (RS): (2 A, 1 B) x2, 1 C", ["CBAABAA"]),
    "brackets twice": ("Row 1 (RS): 1 C, (2 A, 1 B) twice", ["BAABAAC"]),
    "brackets once": ("Row 1 (RS): 1 C, (2 A, 1 B) once", ["BAAC"]),
    "nested": ("Row 1 (RS): (1 A, (1 B, 1 C) twice) 2 times, 1 A", ["ACBCBACBCBA"]),
    "repeat more times": ("Row 1 (RS): 1 C, *2 A, 1 B; repeat from * 2 more times", ["BAABAABAAC"]),
    "rep once more": ("Row 1 (RS): *2 A, 1 B; rep from * once more, 1 C.", ["CBAABAA"]),
    "repeat to end": (
        "Row 1 (RS): 7 A\nRow 2 (WS): 1 C, *2 A, 1 B; repeat from * to end",
        ["CAABAAB", "AAAAAAA"],
    ),
    "to end but the last": (
        "Row 1 (RS): 8 A\nRow 2 (WS): 1 C, *2 A, 1 B; rep from * to end, 1 C",
        None,
    ),
    "a part in brackets repeated": (
        "Row 1 (RS): *(1 A, 1 B) twice, 1 C; repeat from * once more",
        ["CBABACBABA"],
    ),
    "total in brackets": ("Row 1 (RS): 2 A, 1 B (3 sts)", ["BAA"]),
    "total with a dash": ("Row 1 (RS): 2 A, 1 B – 3 stitches.", ["BAA"]),
    "total without no-stitch cells": ("Row 1 (RS): 2 A, 2 no stitch, 1 B (3 sts)", ["B..AA"]),
    "total on a repeat to the end": (
        "Row 1 (RS): 6 A\nRow 2 (WS): *2 A, 1 B; rep from * to end (6 sts)",
        ["AABAAB", "AAAAAA"],
    ),
}
READ["letters of three"] = (READ["letters of three"][0], [["Grn", "MC", "MC"]])
READ["to end but the last"] = (READ["to end but the last"][0], ["CAABAABC", "AAAAAAAA"])


@pytest.mark.parametrize("name", READ)
def test_as_patterns_write(name):
    text, rows = READ[name]
    assert read_rows(text, FLAT) == Chart.from_rows(rows)


@pytest.mark.parametrize("name", ["garter", "garter in rounds", "garter, WS first, left-handed"])
def test_garter_one_line_a_ridge(name):
    assert read("Ridge 1: 2 A, 1 B\nRidges 2–3: 3 B", HOW[name]) == ["BBB", "BBB", "BAA"]


@pytest.mark.parametrize("word", ["Row", "Round", "Rnd", "rd", "R"])
def test_a_round_may_be_called_row_or_round(word):
    how = HOW["rounds"]
    assert read(f"{word} 1: 2 A, 1 B\n{word} 2: 2 A, 1 B", how) == ["BAA", "BAA"]


# Half charts


@pytest.mark.parametrize("centre_at", ["left", "right"])
@pytest.mark.parametrize(("columns", "centre", "whole"), [(34, "once", 67), (31, "twice", 62)])
def test_half_charts(columns, centre, whole, centre_at):
    """freevintageknitting.com, two sock leaflets (published).

    34 columns with the centre stitch not repeated make 67 stitches, 31 mirrored whole make 62.
    """
    rows = draw_chart(1, stitches=columns, rows=5, yarns=3, smooth=1)
    half = read_rows(write_rows(Chart.from_rows(rows), FLAT), FLAT)
    full = ["".join(row) for row in half.whole(centre_at=centre_at, centre=centre).to_rows()]
    for row, line in zip(rows, full, strict=True):
        assert len(line) == whole
        assert line == line[::-1]
        assert (line[-columns:] if centre_at == "left" else line[:columns]) == row


def test_a_half_chart_of_one_column():
    half = Chart.from_rows(["A", "B"])
    assert half.whole(centre_at="left", centre="once") == half
    assert half.whole(centre_at="right", centre="twice") == Chart.from_rows(["AA", "BB"])


# Bad input


WRONG = {  # text, what the message must name
    "nothing": ("", ["no written rows", "Row 1 (RS): 32 A"]),
    "only empty lines": ("\n  \n", ["no written rows"]),
    "no row at all": (
        "Row 1 (RS): 3 A\nKnit to the end.",
        ["Line 2", "Knit to the end.", "Write it like"],
    ),
    "wrong total": ("Row 1 (RS): 2 A, 1 B (4 sts)", ["Line 1", "4", "3", "Count it again"]),
    "wrong total on a later line": (
        "Row 1: 3 A (3 sts)\nRow 2: 2 A, 1 B – 5 sts",
        ["Line 2", "5", "3"],
    ),
    "wrong total on a repeat to the end": (
        "Row 1 (RS): 6 A\nRow 2 (WS): *2 A, 1 B; repeat from * to end (9 sts)",
        ["Line 2", "9", "6"],
    ),
    "rows of two widths": (
        "Row 1: 3 A\nRow 2: 3 A\nRow 3: 4 A",
        ["Line 3", "row 3", "4 stitches", "the others 3", "again"],
    ),
    "missing row": ("Row 1: 3 A\nRow 3: 3 A", ["Row 2", "missing"]),
    "missing first row": ("Row 2: 3 A", ["Row 1", "missing"]),
    "a row twice": ("Row 1: 3 A\nRow 2: 3 A\nRow 1: 3 B", ["Line 3", "row 1", "line 1"]),
    "a row within a range twice": ("Rows 1–4: 3 A\nRow 3: 3 B", ["Line 2", "row 3", "line 1"]),
    "wrong side": ("Row 1 (RS): 3 A\nRow 2 (RS): 3 A", ["Line 2", "RS", "WS", "Correct"]),
    "wrong side of the first": ("Row 1 (WS): 3 A", ["Line 1", "row 1", "WS", "RS"]),
    "row 0": ("Row 0: 3 A", ["Line 1", "0", "from 1"]),
    "rows backwards": ("Rows 4–2: 3 A", ["Line 1", "4", "2"]),
    "unreadable word": ("Row 1: 3 A, knit, 2 B", ["Line 1", "knit", "Write counts and letters"]),
    "a letter without a count": ("Row 1: 3 A, B", ["Line 1", "B", "Write counts and letters"]),
    "unknown yarn": ("Row 1: 3 A\nRow 2: 2 A, 1 Q", ["Line 2", "Q", "A, B"]),
    "bracket not closed": ("Row 1: 3 A, (2 B, 1 A", ["Line 1", "never closed"]),
    "bracket without times": ("Row 1: 3 A, (2 B, 1 A), 3 B", ["Line 1"]),
    "bracket not opened": ("Row 1: 3 A, 2 B) twice", ["Line 1", "never opened"]),
    "repeat without a star": ("Row 1: 3 A, 2 B; repeat from * twice more", ["Line 1", "*"]),
    "to the end, does not fit": (
        "Row 1: 8 A\nRow 2: *2 A, 1 B; repeat from * to end",
        ["Line 2", "3", "8", "again"],
    ),
    "to the end only": (
        "Row 1: *2 A, 1 B; repeat from * to end",
        ["repeats to its end", "Write one row out"],
    ),
    "a row of no stitches": ("Row 1: 3 A\nRow 2: 3 no stitch", ["row 2", "no worked stitch"]),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_text_is_refused_with_line_and_reason(name):
    text, named = WRONG[name]
    with pytest.raises(PlanError) as refused:
        read_rows(text, FLAT, yarns=("A", "B"))
    for word in named:
        assert re.search(rf"(?<!\d){re.escape(word)}(?!\d)", str(refused.value)), (
            word,
            str(refused.value),
        )


def test_a_count_of_nothing_is_refused():
    """A run of no stitches leaves a row short or empty: it is not silently taken for a chart."""
    for text in ("Row 1: 0 A", "Row 1: 3 A\nRow 2: 0 A"):
        with pytest.raises(PlanError):
            read_rows(text, FLAT)
