"""Written rows: what is said and asked, and that no word of the craft becomes a yarn."""

import random

import pytest

from planner import Chart, Construction, PlanError
from planner.charts import ROW_CHOICES, has_written_rows, read_written_rows, write_rows
from tests.helpers.knitter import draw_chart
from tests.helpers.written_styles import blocks, pairs, patches, repeats

FLAT = Construction()
ROUNDS = Construction(worked="rounds")
LEAN = ["AAAAAABBAA", "AAAAAABBAA", "AAAAAAABBA", "AAAAAAABBA"]  # no row reads the same both ways


def rows_of(text, how=FLAT, **answers):
    return ["".join(row) for row in read_written_rows(text, how, **answers).chart.to_rows()]


def asked(text, how=FLAT, **answers):
    return {ask.setting: ask.taken for ask in read_written_rows(text, how, **answers).asks}


def refusal(text, how=FLAT, **answers):
    with pytest.raises(PlanError) as caught:
        read_written_rows(text, how, **answers)
    return str(caught.value)


# What is in doubt is asked, and settled by the answer


def one_way(rows):
    """The rows as one writes them who looks at the chart from the right in every row."""
    lines = []
    for number, row in enumerate(reversed(rows), start=1):
        runs = write_rows(Chart.from_rows([row]), ROUNDS).split(": ")[1].strip()
        lines.append(f"Row {number}: {runs}")
    return "\n".join(lines)


def test_rows_that_fit_better_the_other_way_are_asked_about():
    text = one_way(LEAN)
    assert asked(text) == {"direction": "as worked"}
    assert rows_of(text, direction="all right to left") == LEAN
    assert asked(text, direction="all right to left") == {}
    mirrored = [row[::-1] for row in LEAN]
    assert rows_of(text, direction="all left to right") == mirrored
    # In rounds all go one way, and a text that goes there and back is asked about.
    there_and_back = (
        write_rows(Chart.from_rows(LEAN), FLAT).replace(" (RS)", "").replace(" (WS)", "")
    )
    assert asked(there_and_back, ROUNDS) == {"direction": "as worked"}
    assert rows_of(there_and_back, ROUNDS, direction="there and back") == LEAN


@pytest.mark.parametrize("make", [patches, pairs, repeats, blocks])
def test_one_direction_is_never_silent(make):
    """As it is worked the same chart is asked about seldom, and it comes back."""
    asked_for_nothing = 0
    for seed in range(10):
        rows = ["".join(row) for row in reversed(make(random.Random(seed)))]
        assert asked(one_way(rows))["direction"] == "as worked"
        worked = write_rows(Chart.from_rows(rows), FLAT)
        assert rows_of(worked) == rows
        asked_for_nothing += "direction" in asked(worked)
    assert asked_for_nothing == 0 or make in (repeats, blocks)


def test_a_direction_that_the_text_says_is_taken():
    text = f"All rows are read from right to left.\n{one_way(LEAN)}"
    assert rows_of(text) == LEAN
    assert asked(text) == {}
    assert any(
        "directions that the text says" in note for note in read_written_rows(text, FLAT).notes
    )


def test_rounds_in_a_flat_piece_are_asked_about():
    assert asked("Rnd 1: 3 A, 1 B\nRnd 2: 2 B, 2 A") == {"direction": "as worked"}


REPEATS = "Row 1: *3 A, 2 B; rep from * 4 times"


def test_repeats_are_counted_by_the_width_of_other_rows():
    """ "Repeat from * 4 times" is four times more in the trade, but not everybody writes so."""
    for width, row in ((25, "BBAAA" * 5), (20, "BBAAA" * 4)):
        read = read_written_rows(f"{REPEATS}\nRow 2: {width} A", FLAT)
        assert "".join(read.chart.to_rows()[-1]) == row
        assert read.asks == ()
        assert any(f"makes {width} stitches" in note for note in read.notes)
    assert "20 if not" in refusal(f"{REPEATS}\nRow 2: 24 A")


def test_repeats_that_nothing_settles_are_asked_about():
    assert asked(REPEATS) == {"repeats": "more"}
    assert rows_of(REPEATS, repeats="more") == ["BBAAA" * 5]
    assert rows_of(REPEATS, repeats="in all") == ["BBAAA" * 4]
    rows = "Row 1: 1 A, 1 B\nRow 2: 1 B, 1 A\nRep rows 1 and 2 3 times"
    assert asked(rows) == {"repeats": "more"}
    assert len(rows_of(rows)) == 8
    assert len(rows_of(rows, repeats="in all")) == 6
    # The number of the next row tells.
    assert asked(f"{rows}\nRow 7: 2 A") == {}


def test_lines_without_numbers_are_asked_about():
    text = "1 A, 2 B, 1 A\n4 A\n4 B"
    assert asked(text)["order"] == "row 1 first"
    assert rows_of(text, order="row 1 first") == ["BBBB", "AAAA", "ABBA"]
    assert rows_of(text, order="row 1 last") == ["ABBA", "AAAA", "BBBB"]
    assert "which row it is" in refusal("10A,3B")


def test_capitals_are_asked_about():
    text = "Row 1: 2 A, 2 a\nRow 2: 2 a, 2 A"
    assert asked(text) == {"capitals": "two yarns"}
    assert rows_of(text, capitals="one yarn") == ["AAAA", "AAAA"]


SLIP = "Row 1: 2 A, 2 B\nRow 2: 2 B, 2 A\nRow 3: 2 A, 2 Q"


def test_a_yarn_that_stands_once_is_asked_about():
    assert asked(SLIP)["slips"] == "yarns"
    assert "Q (line 3)" in refusal(SLIP, slips="slips")
    assert "slips" not in asked(SLIP, slips="yarns")
    assert "slips" not in asked(SLIP, yarns={"Q": "quince"})


def test_a_yarn_that_the_text_does_not_list_is_asked_about():
    text = "Yarns: A cream, B navy\nRow 1: 2 A, 2 C\nRow 2: 2 C, 2 A\nRow 3: 4 B\nRow 4: 4 B"
    assert asked(text)["slips"] == "yarns"


def test_the_last_of_all_ws_rows_is_asked_about():
    text = "Row 1: 3 A, 1 B\nRow 2 and all WS rows: as colours set\nRow 3: 4 A"
    assert asked(text) == {"last_row": "worked"}
    assert rows_of(text) == ["AAAA", "AAAA", "BAAA", "BAAA"]
    assert rows_of(text, last_row="left out") == ["AAAA", "BAAA", "BAAA"]


def test_a_size_that_the_text_says_is_asked_about_if_the_rows_differ():
    text = "4 sts × 3 rows\nRow 1: 2 A, 2 B\nRow 2: 2 B, 2 A"
    assert asked(text) == {"size": "as the rows are"}
    assert "Write what is missing" in refusal(text, size="rows are missing")
    assert asked(f"{text}\nRow 3: 4 A") == {}


@pytest.mark.parametrize("setting", ROW_CHOICES)
def test_an_answer_that_is_none_is_refused(setting):
    assert setting in refusal("Row 1: 3 A", **{setting: "perhaps"})


def test_two_runs_of_a_yarn_beside_each_other_are_asked_about():
    text = "Row 1: 2 A, 1 B, 1 A\nRow 2: 1 A, 1 B, 2 B"
    assert asked(text)["slips"] == "yarns"
    assert "two runs of B" in refusal(text, slips="slips")
    assert asked("Row 1: 1 B, 1 A, 2 B\nRow 2: 1 B, 1 A, A to end")["slips"] == "yarns"
    assert asked("Row 1: (1 A, 1 B) twice, 1 B\nRow 2: 1 B, (1 B, 1 A) twice") == {}


def test_to_the_end_without_a_yarn_is_asked_about():
    text = "Row 1: 2 A, 3 MC\nRow 2: k2 MC, k1 A, k to end"
    assert asked(text)["to_end"] == "the main colour"
    assert read_written_rows(text, FLAT).chart.to_rows()[0] == ["MC", "MC", "A", "MC", "MC"]
    before = read_written_rows(text, FLAT, to_end="the yarn before")
    assert before.chart.to_rows()[0] == ["MC", "MC", "A", "A", "A"]
    assert asked(text.replace("MC", "B"))["to_end"] == "the yarn before"
    assert "names no yarn" in refusal(text.replace("MC", "B"), to_end="the main colour")


GARTER = Construction(fabric="garter")
WORKED = "Row 1{}: 3 A, 1 B\nRow 2{}: 1 B, 3 A\nRow 3{}: 2 A, 2 B\nRow 4{}: 2 B, 2 A"


def test_garter_by_rows_is_told_from_garter_by_ridges():
    by_sides = WORKED.format(" (RS)", " (WS)", " (RS)", " (WS)")
    ridges = ["BBAA", "BAAA"]
    assert rows_of(by_sides, GARTER) == ridges
    assert any("4 rows are 2" in note for note in read_written_rows(by_sides, GARTER).notes)
    # Without sides nobody can tell.
    text = WORKED.format("", "", "", "")
    assert asked(text, GARTER)["ridges"] == "a line a ridge"
    assert len(rows_of(text, GARTER)) == 4
    assert rows_of(text, GARTER, ridges="a line a row") == ridges
    assert "ridges" not in asked(text.replace("Row", "Ridge"), GARTER)
    assert "make one ridge" in refusal(by_sides.replace("1 B, 3 A", "2 B, 2 A"), GARTER)
    assert "Write the last one too" in refusal("Row 1: 3 A", GARTER, ridges="a line a row")


# What is said


def test_yarns_are_listed_with_their_names():
    text = "A = ecru\nRow 1: 3 A, 2 dark moss\nRow 2: 2 CC1, 3 A\nRow 3: 2 CC1, 3 dark moss"
    read = read_written_rows(text, FLAT, yarns={"A": "", "M": "dark moss"})
    assert read.yarns == {"A": "ecru", "M": "dark moss", "C": "CC1"}
    assert read.notes[0] == ("3 rows of 5 stitches, in 3 yarns: A (ecru), C (CC1), M (dark moss).")


def test_names_of_yarns_that_are_known_lend_their_letters():
    text = "Row 1: 3 cream, 2 Moss\nRow 2: 2 moss, 3 cream"
    assert rows_of(text, yarns={"X": "Moss", "Y": "cream"}) == ["YYYXX"[::-1], "XXYYY"]
    assert set(read_written_rows(text, FLAT).chart.letters) == {"C", "M"}


def test_what_is_left_out_is_said():
    text = "Boat\n\nCast on 4 sts.\nRow 1: 3 A, 1 B\nRow 2: 4 A\n\nBind off."
    (note,) = [note for note in read_written_rows(text, FLAT).notes if "Left out" in note]
    for words in ('line 1, "Boat"', 'line 3, "Cast on 4 sts."', 'line 7, "Bind off."'):
        assert words in note


def test_no_stitch_is_counted_in_words():
    text = "Row 1: 2 no stitch, 2 A\nRow 2: 4 A"
    assert "2 places without a stitch" in read_written_rows(text, FLAT).notes[0]


def test_mixed_knit_and_purl_stitches_are_told():
    notes = read_written_rows("Row 1: k2 A, p2 B\nRow 2: p4 A", FLAT).notes
    assert any("mixed in rows 1" in note for note in notes)


# What is refused


@pytest.mark.parametrize(
    "words",
    [
        *(
            "sl 1",
            "slip 2",
            "BO 3",
            "CO 3",
            "inc 1",
            "dec 1",
            "p20",
            "k20",
            "k2tog",
            "p2tog",
            "ssk",
        ),
        *("yo", "kfb", "skp", "M1", "1 inc", "2 dec", "3 sl", "3 BO", "3 sts", "bind off 3"),
        *("cast on 3", "sl1 wyif", "k1 tbl", "place marker", "w&t", "turn, 2 A", "C4F", "rib 4"),
    ],
)
def test_words_of_the_craft_are_never_yarns(words):
    for text in (f"Row 1: 4 A\nRow 2: {words}, 1 A", f"Row 1: 4 A\nRow 2: 2 A, {words}"):
        message = refusal(text)
        assert "Line 2" in message
        assert "like" in message or "again" in message


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Rnd 1:", "no stitches follow"),
        ("Row 1: k10, p3", "has no yarn"),
        ("Row 1: 10 A\nRow 2: k to end", "names no yarn"),
        ("Row 1: with A, k2, k3, with B k5", "has no yarn"),
        ("Row 1: with A, with B k5", "takes up A"),
        ("Row 1: 10 (12, 14) A", "has no yarn"),
        ("Row 1: 3 WS, 2 A", 'If "WS" is a yarn, put it in quotation marks'),
        ("Row 1: *3 A, 2 B", "nothing says how often"),
        ("Row 1: (3 A, 2 B), 4 C", "number of times is missing"),
        ("Row 1: 4 A\nRow 2: A to end, B to end", "more than once"),
        ("Row 1: 8 A\nRow 2: A to last 3, 2 B", 'Write "to last 2"'),
        ("Row 1: 3 A\nRow 2: as row 4", "does not come before it"),
        ("Row 1: as colours set", "Write at least the first one out"),
        ("Row 1: 3 A\nRep rows 1–2 twice", "repeats row 2"),
        ("Row 1: 3 A\nRepeat row 1 until it is long enough", "does not say how often"),
        ("Row 1: 3 A\nRow 2: 3 A\nRep rows 1–2 until 7 rows", "Count them again"),
        ("Rows 1–2: 3 A\nRows 3–5: as rows 1–2", "no whole repeats"),
        ("Row 1: 3 A\nKnit 3 more.\nRow 2: 3 A", "no written row"),
        ("Row 1: 3 A\nBind off 1.\nRow 2: 3 A", "no written row"),
        ("Front\nRow 1: 3 A\nBack\nRow 1: 3 B", "one chart at a time"),
        ("Row 1: 4 A\nRow 2: 3 A, 2 B", "1 too many"),
        ("Row 1: –\nRow 2: 3 A", "has no stitches"),
        ("Row 1: 3 A\nRow : all A", "no written row"),
        ("Nxt row: 3 A, 2 B\nNext row: 5 A", "no written row"),
        ('<svg xmlns="http://www.w3.org/2000/svg">\n<path d="M 10 10"/>\n</svg>', "drawing"),
    ],
)
def test_what_is_wrong_is_said_with_what_would_be_right(text, words):
    assert words in refusal(text)


@pytest.mark.parametrize(
    "text",
    [
        "Row 1: " + "(" * 5_000,
        "Row 1: " + "(1 A, " * 40 + ") 9 times" * 40,
        "Row 1: " + "*" * 19_000,
        "Row 1: " + "*1 A; rep from * 99 times, " * 500,
        "Row 1: " + "1 A, (1 B) 999 times, " * 400,
        "Row 1: 1 A\n" + "Rep row 1 999 times\n" * 1_000,
        "Row 1: 1 A\n" + "1 A\n" * 200_000,
        "Row 1: 1 A\n" + "heading\n" * 120_000,
        "Row 1: 1 A,\n" + "a\n" * 400_000,
        "Row 1: 1 A " + "x" * 1_000_000,
        "word " * 200_000,
        "A = b\n" * 150_000,
        "1 A, " * 200_000,
        "Row " * 250_000,
        "Rows 1" + ", 2" * 6_000 + ": 1 A",
        "Rows 1–2000: as row 1\n" * 40_000,
        "Row 1: " + "with A " * 2_800,
        "Row 1: " + "rep " * 4_900,
        "R1 " * 300_000,
    ],
    ids=lambda text: f"{text[:22].strip()} of {len(text):,}",
)
def test_texts_that_are_built_to_last_are_refused(text):
    assert refusal(text)


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("Row 1 (RS): 3 A", True),
        ("Rnd 1:", True),
        ("1. k3 A, k2 B", True),
        ("10A,3B", True),
        ("Boat\n\n1st row: 3 A, 2 B", True),
        ("A,B,A\nB,A,B", False),
        ("Row 1,A,B,A\nRow 2,B,A,B", False),
        ("1,A,B\n2,B,A", False),
        ("1\tA\tB\n2\tB\tA", False),
        ("AAB\nABB", False),
        ("", False),
    ],
)
def test_written_rows_are_told_from_tables(text, written):
    assert has_written_rows(text) == written


def test_a_large_text_is_read():
    chart = Chart.from_rows(draw_chart(4, stitches=200, rows=300, yarns=6, smooth=2))
    assert read_written_rows(write_rows(chart, FLAT), FLAT).chart == chart
