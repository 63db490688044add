"""The check before cast-on: what is found on small pieces, and what is not."""

import numpy as np
import pandas as pd
import pytest
from coloraide import Color

from planner import CarryLimits, Chart, Construction, Gauge, PlanError, Yarn, trace_strands
from planner.choices.check import find_issues, place, rows_for
from planner.colour import apart
from planner.strands import label_areas
from tests.helpers.colours import PAIRS

GARTER = Construction(fabric="garter")
ROUNDS = Construction(worked="rounds")
SQUARE = Gauge(20, 20)
COLUMNS = ["about", "row", "stitch", "where", "finding", "what_to_do"]


def found(rows, *, listed=None, how=None, gauge=SQUARE, limits=None):
    """All findings of a piece whose yarns are listed, each in a colour of its own, if not said."""
    chart = Chart.from_rows(rows)
    strands = trace_strands(chart, how, gauge, limits)
    plain = {letter: Yarn(letter, colour=f"#{i * 5:x}00") for i, letter in enumerate(chart.letters)}
    listed = plain if listed is None else {yarn.letter: yarn for yarn in listed}
    return find_issues(strands, plain | listed, listed)


def about(what, rows, **asked):
    """The findings about one thing, as plain values."""
    table = found(rows, **asked)
    lines = table[table.about == what].drop(columns="about")
    return [tuple(None if value is pd.NA else value for value in line) for line in lines.to_numpy()]


def test_nothing_to_find_in_a_plain_piece():
    table = found(["AAAA"] * 4)
    assert table.empty
    assert list(table) == COLUMNS


def test_what_is_found_stands_in_this_order():
    """A piece in which everything is wrong."""
    rows = ["lIa.AAAAAAAAA", "aaaaAAAAAAAAA"]
    yarns = [Yarn("A", colour="#112233"), Yarn("a", colour="#112234"), Yarn("z")]
    limits = CarryLimits(0, 0, 0)
    table = found(rows, listed=yarns, how=ROUNDS, gauge=Gauge(60, 20), limits=limits)
    kinds = ["yarns", "letters", "stray stitches", "row totals", "gauge", "aspect", "gauge"]
    assert table.about.drop_duplicates().tolist() == [*dict.fromkeys(kinds), "rounds", "colours"]
    assert str(table["row"].dtype) == str(table.stitch.dtype) == "Int64"


# Yarns


def test_a_yarn_that_is_not_listed():
    """B, 3 stitches, is first worked in row 2, which begins at the left; from the right it is
    stitch 2."""
    rows = ["AAABB", "AAABA", "AAAAA"]
    assert about("yarns", rows, listed=[Yarn("A")]) == [
        (
            2,
            2,
            "first in row 2 (WS), which begins at the left, stitch 2 from the right",
            "3 stitches of B, but no such yarn in yarns.csv",
            "Add B to yarns.csv, or correct the letter.",
        )
    ]
    (one,) = about("yarns", ["AAAAA", "AAABA", "AAAAA"], listed=[Yarn("A")])
    assert one[3].startswith("1 stitch of B, but")


def test_a_yarn_that_is_only_embroidered():
    """C is among the chart's letters, but on none of its cells."""
    chart = Chart(Chart.from_rows(["AB"]).cells, ("A", "B", "C"))
    yarns = {letter: Yarn(letter) for letter in "ABC"}
    table = find_issues(trace_strands(chart, gauge=SQUARE), yarns, {"A": Yarn("A"), "B": Yarn("B")})
    line = table[table.about == "yarns"].iloc[0]
    assert line["where"] == "the whole piece"
    assert line.finding == "C is embroidered, but no such yarn in yarns.csv"
    assert line["row"] is pd.NA
    assert line.stitch is pd.NA


def test_a_listed_yarn_that_is_not_on_the_chart():
    (line,) = about("yarns", ["AAA"], listed=[Yarn("A"), Yarn("B")])
    assert line[2:4] == ("yarns.csv", "B is listed but not on the chart")
    assert line[:2] == (None, None)


@pytest.mark.parametrize(
    ("letters", "alike"),
    [("Aa", True), ("Il", True), ("AB", False), ("Ii", True), ("IL", False), ("lL", True)],
)
def test_letters_easily_taken_for_each_other(letters, alike):
    a, b = sorted(letters)
    expected = [f"{a} and {b} are easily taken for each other"] if alike else []
    assert [line[3] for line in about("letters", [letters])] == expected


# Strays


def test_a_stray_is_named_with_its_place():
    """A stray B in row 3, third from the right; its row begins at the right-hand edge."""
    rows = ["AAAAAA"] * 2 + ["AAABAA"] + ["AAAAAA"] * 2
    where = "row 3 (RS), which begins at the right, stitch 3 from the right"
    (line,) = about("stray stitches", rows)
    assert line[:3] == (3, 3, where)
    assert line[3] == "a single B costs a strand and two ends"
    assert "duplicate stitch" in line[4]
    (two,) = about("stray stitches", ["AAAAAA", "AABBAA", "AAAAAA"])
    assert two[2] == "row 2 (WS), which begins at the left, stitch 4 from the right"
    assert two[3] == "2 stitches of B on their own cost a strand and two ends"


@pytest.mark.parametrize(
    "rows",
    [
        ["AAAAAA", "ABBBAA", "AAAAAA"],  # three are a motif
        ["AAAAAA", "AAABAA", "AABAAA", "ABAAAA"],  # three in a slanting line, too
        ["AAAAAA", "ABBAAA", "AAAABB", "AAABBB"],  # one that begins wide of where it goes on
        ["BAAAAA", "AAAAAA", "BAAAAA"],  # two rows up
    ],
)
def test_no_strays(rows):
    assert about("stray stitches", rows) == []


def test_strays_depend_on_the_limits():
    """One B to the left of two of A, then another B: across two stitches it is within reach."""
    rows = ["AAAAAA", "ABAABA", "AAAAAA"]
    strict = CarryLimits(across=1, middle_start=False)
    assert len(about("stray stitches", rows, limits=strict)) == 2
    assert about("stray stitches", rows, limits=CarryLimits(across=2, middle_start=False)) == []


def test_a_stray_at_the_side():
    """B stands where other rows begin too; those are of another yarn and not alone."""
    (line,) = about("stray stitches", ["AAAAAA", "BAAAAA", "AAAAAA"])
    assert line[:2] == (2, 6)


def test_a_stray_in_garter_is_found_once():
    """Each of its stitches is worked twice, there and back, in a ridge of its own."""
    rows = ["AAAAAAAAA", "AAAAABAAA", "AAAAAAAAA"]
    (line,) = about("stray stitches", rows, how=GARTER, gauge=Gauge(20, 40))
    assert line[:3] == (
        3,
        4,
        "row 3 (RS, ridge 2), which begins at the right, stitch 4 from the right",
    )
    in_one_row = ["AAAAAAAAA", "AAABABAAA", "AAAAAAAAA"]
    near = CarryLimits(across=1)
    assert about("stray stitches", in_one_row, how=GARTER, limits=near) == []
    (line,) = about("stray stitches", ["AAAABA", "AAABAA"], how=GARTER)
    assert line[2].endswith(", to row 4 (WS, ridge 2)")
    assert line[3] == "2 stitches of B on their own cost a strand and two ends"


NOTHING_CARRIED = CarryLimits(across=0, sideways=0, up=0, middle_start=False)


def test_an_area_is_looked_at_whole():
    """C starts and widens, so fast that rows 2 and 3 need strands of their own, and ends in a
    point; a column of A stands alone; of all these nothing is a slip of the pen."""
    rows = [
        "BBBBBBBBABBB",
        "BBBCBBBBABBB",
        "BCCCCCBBABBB",
        "BBCCCCCBBBBB",
        "BBBCCBBBBBBB",
        "BBBBBBBBBBBB",
    ]
    strict = CarryLimits(across=0, sideways=1, up=0, middle_start=False)
    assert about("stray stitches", rows, limits=strict) == []


def test_the_stray_that_costs_most_comes_first():
    """Two stitches that meet at a corner, of which neither can be gone on to from the other."""
    rows = ["AAAAAAAABA", "AABAAAAAAA", "ACAAAAAAAA", "AAAAAAAAAA", "AAAACAAAAA", "AAAAACAAAA"]
    lines = about("stray stitches", rows, limits=NOTHING_CARRIED)
    assert [line[3] for line in lines] == [
        "2 stitches of C on their own cost 2 strands and 4 ends",
        "a single C costs a strand and two ends",
        "a single B costs a strand and two ends",
        "a single B costs a strand and two ends",
    ]


@pytest.mark.parametrize("seed", range(25))
def test_a_stray_saves_what_is_said_when_it_is_taken_out(seed):
    """By brute force: the stitches of each small area are left without yarn, and the rest is traced
    anew. What is told of costs so many strands of its yarn; computed."""
    random = np.random.default_rng(seed)
    cells = np.full((9, 12), "A", dtype=object)
    for _ in range(9):
        row, stitch = random.integers(0, 9), random.integers(0, 11)
        cells[row, stitch : stitch + random.integers(1, 3)] = random.choice(["B", "C"])
    limits = CarryLimits(across=1, sideways=int(seed % 2), up=0, middle_start=False)
    before = trace_strands(Chart.from_rows(cells.tolist()), None, SQUARE, limits)
    labels = label_areas(before.chart)[::-1]
    tops = {}
    for line in about("stray stitches", cells.tolist(), limits=limits):
        tops[labels[9 - line[0], 12 - line[1]]] = line[3]
    for area in np.unique(labels):
        where = labels == area
        small = where.sum() <= 2
        assert small or area not in tops
        if area in tops:
            rest = cells.copy()
            letter = rest[where][0]
            rest[where] = "."
            if not (rest == letter).any():
                continue
            after = trace_strands(Chart.from_rows(rest.tolist()), None, SQUARE, limits)
            saved = _strands_of(before, letter) - _strands_of(after, letter)
            told = tops[area]
            assert saved == (1 if "a strand and two ends" in told else int(told.split()[-5]))


def _strands_of(strands, letter):
    return sum(label.startswith(letter) for label in strands.labels)


# Rows and stitches


def test_row_totals():
    """A shaped neck: the rows with other totals, stretch by stretch."""
    rows = [".AAAA.", ".AAAA.", "AAAAAA", "AAAAA.", "AAAAAA", "AAAAAA"]
    lines = about("row totals", rows)
    assert [line[2:4] for line in lines] == [
        ("chart row 3", "5 stitches, most rows have 6"),
        ("chart rows 5 to 6", "4 stitches, most rows have 6"),
    ]
    stairs = about("row totals", ["A...", "AA..", "AAAA", "AAAA", "AAAA", "A..."])
    assert [line[2] for line in stairs] == ["chart row 1", "chart row 5", "chart row 6"]


def test_rows_for_a_height():
    """By eye: 28 rows to 10 cm are 70 in 25 cm; 30 rows to 4 in are 60 in 8 in."""
    assert rows_for(25, Gauge(20, 28)) == 70
    assert rows_for(8, Gauge(24, 30, 4, "in"), "in") == 60
    with pytest.raises(PlanError, match='height is "tall"'):
        rows_for("tall", Gauge())


@pytest.mark.parametrize(
    ("how", "run", "where"),
    [
        (Construction(), 0, "row 1 (RS), which begins at the right, stitch 1 from the right"),
        (Construction(), 1, "row 1 (RS), which begins at the right, stitch 2 from the right"),
        (Construction(), 2, "row 2 (WS), which begins at the left, stitch 3 from the right"),
        (Construction(hand="left"), 1, "row 1 (RS), which begins at the left, stitch 1 from "),
        (ROUNDS, 3, "round 2, which begins at the right, stitch 3 from the right"),
    ],
)
def test_where_a_run_begins(how, run, where):
    strands = trace_strands(Chart.from_rows(["ABB", "AAB"]), how)
    assert place(strands, run).startswith(where)


# Gauge


@pytest.mark.parametrize(
    ("gauge", "unusual"),
    [
        (Gauge(5, 5), []),
        (Gauge(4.9, 4.9), ["4.9 stitches in 10 cm is unusual for knitting"]),
        (Gauge(45, 45), []),
        (Gauge(45.1, 45.1), ["45.1 stitches in 10 cm is unusual for knitting"]),
        (Gauge(20, 20, 4, "in"), []),
        (Gauge(2, 2, 1, "cm"), []),
    ],
)
def test_an_unusual_gauge(gauge, unusual):
    assert [line[3] for line in about("gauge", ["AAA"], gauge=gauge)] == unusual


@pytest.mark.parametrize(
    ("label", "apart"),
    [(None, False), (30, True), (29.9, False), (15.1, False), (15, True), (20, False)],
)
def test_a_gauge_far_from_the_band(label, apart):
    """At 20 stitches in 10 cm, a third less and a third more lie at bands of 30 and 15."""
    yarn = Yarn("A", label_stitches_10cm=label)
    lines = about("gauge", ["AAA"], listed=[yarn])
    assert len(lines) == apart
    if apart:
        words = f"20.0 stitches in 10 cm, its band says {label:g}: more than a third apart"
        assert lines[0][2:4] == ("yarn A", words)


@pytest.mark.parametrize(
    ("rows", "how", "words"),
    [
        (20, None, []),
        (20.4, None, []),  # 20 ÷ 20.4 = 0.98
        (19.7, None, []),
        (20.5, None, ["a row is 0.98 times as high as a stitch is wide, so the piece is flatter"]),
        (19.5, None, ["a row is 1.03 times as high as a stitch is wide, so the piece is taller"]),
        (40, GARTER, []),
        (28, GARTER, ["a ridge is 1.43 times as high as a stitch is wide, so the piece is taller"]),
        (
            50,
            GARTER,
            ["a ridge is 0.80 times as high as a stitch is wide, so the piece is flatter"],
        ),
    ],
)
def test_a_chart_on_squares(rows, how, words):
    lines = about("aspect", ["AAA"], how=how, gauge=Gauge(20, rows))
    assert [line[3] for line in lines] == [f"{what} than a chart on squares" for what in words]


@pytest.mark.parametrize(
    ("rows", "how", "words"),
    [
        (40, None, []),
        (41, None, ["rows and stitches are far apart (aspect 0.49; 0.7 to 0.8 is usual)"]),
        (16, None, []),
        (15.9, None, ["rows and stitches are far apart (aspect 1.26; 0.7 to 0.8 is usual)"]),
        (41, GARTER, []),
        (27, GARTER, []),
        (26, GARTER, ["few rows for garter: a ridge would be 1.5 stitches high"]),
        (15, GARTER, ["few rows for garter: a ridge would be 2.7 stitches high"]),
    ],
)
def test_rows_that_do_not_go_with_the_stitches(rows, how, words):
    """At 20 stitches: the aspect is 20 ÷ rows."""
    lines = about("gauge", ["AAA"], how=how, gauge=Gauge(20, rows))
    assert [line[3] for line in lines] == words


# Rounds and colours


def test_intarsia_in_rounds():
    assert len(about("rounds", ["ABBA", "ABBA"], how=ROUNDS, limits=CarryLimits(0, 0, 0))) == 1
    for how in (Construction(), Construction(worked="turned")):
        assert about("rounds", ["ABBA", "ABBA"], how=how, limits=CarryLimits(0, 0, 0)) == []
    assert about("rounds", ["AAAA", "AAAA"], how=ROUNDS) == []


# Published pairs of colours that a screen can show, and whose difference is no mere rounding.
ON_A_SCREEN = [pair for pair in PAIRS if max(map(abs, pair[1])) < 79 and pair[2] > 2.1]


@pytest.mark.parametrize(("one", "other", "difference"), ON_A_SCREEN)
def test_look_alike_yarns(one, other, difference):
    """As yarns in #rrggbb those below 10 are found, with a difference near the published."""
    colours = [Color("lab-d65", lab).convert("srgb").to_string(hex=True) for lab in (one, other)]
    yarns = [Yarn(letter, colour=colour) for letter, colour in zip("AB", colours, strict=True)]
    found = about("colours", ["AB"], listed=yarns)
    lines = [line for line in found if "to any eye" in line[3]]
    assert len(lines) == (difference < 10)
    if lines:
        assert lines[0][:3] == (1, 2, "yarns A and B")
        assert apart(*colours) == pytest.approx(difference, abs=0.8)  # #rrggbb is rounded


def test_black_and_white_do_not_look_alike():
    yarns = [Yarn("A", colour="#000000"), Yarn("B", colour="#ffffff")]
    assert about("colours", ["AB"], listed=yarns) == []


def test_look_alikes_that_touch_nowhere():
    """Side by side in the basket they are taken for each other as well."""
    yarns = [Yarn("A", colour="#203050"), Yarn("B", colour="#253355"), Yarn("C", colour="#ffffff")]
    (line,) = about("colours", ["ACCB"], listed=yarns)
    assert line[2] == "yarns A and B"
    assert "but touch nowhere" in line[3]


def test_yarns_that_are_not_on_the_chart_are_not_compared():
    assert about("colours", ["AAA"], listed=[Yarn("A"), Yarn("B")]) == []
    assert len(about("colours", ["AB"], listed=[Yarn("A"), Yarn("B")])) == 1
