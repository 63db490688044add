"""Pieces built to break the sheet: many strands, tiny areas, names of any script and any markup."""

import re
import unicodedata

import pytest

from planner import Chart, Construction, Project, Yarn, make_plan
from planner.paper import sheet_pdf
from tests.helpers import printed
from tests.helpers.choices import embroider
from tests.helpers.plans import plan_of
from tests.helpers.printed import needs_poppler

LETTERS = "ABCDEFGHIJKL"
LONG = "x" * 200
NAMES = {
    "A": LONG,
    "B": "<script>alert(1)</script>",
    "C": "#let a = 1; #a",
    "D": "$x^2$ *bold* _em_",
    "E": '@ref [link](x) `raw` "\\',
    "F": "深い海",
    "G": "שלום עולם",
    "H": "نيلي غامق",
    "I": "Sea 🌊 green",
    "J": "Crème brûlée à l’été",
    "K": "= heading\n- list",
    "L": "\N{RIGHT-TO-LEFT OVERRIDE}evil\N{NULL}",
}
COLOURS = ("#243b63", "#f1e9d2", "#b5452c", "#3f8f8b", "#4b4a4d", "#e9bb3f")
TITLE = "A piece " + "w" * 200


@pytest.fixture(scope="module")
def plan():
    """Sixty strands of one stitch in twelve yarns."""
    chart = Chart.from_rows(["".join(LETTERS[i % 12] for i in range(60))] * 6)
    yarns = {
        letter: Yarn(letter, name, COLOURS[i % 6], 100, 50, 1, dye_lot="9" * 60 if i else "深")
        for i, (letter, name) in enumerate(NAMES.items())
    }
    return make_plan(Project(TITLE, chart, yarns))


@pytest.fixture(scope="module")
def pdf(plan):
    return sheet_pdf(plan)


@pytest.fixture(scope="module")
def pages(pdf):
    return printed.texts(pdf)


def without_breaks(text):
    return re.sub(r"\s", "", text)


@pytest.mark.parametrize("letter", "BCDEJ")
def test_markup_and_accents_are_printed_as_they_are(pages, letter):
    assert without_breaks(NAMES[letter]) in without_breaks("".join(pages[:2]))


def test_long_names_are_printed_whole_and_shortened_with_a_sign(pages):
    assert without_breaks(TITLE) in without_breaks(pages[0])
    assert without_breaks(pages[0]).count("x") >= 200
    cards = without_breaks(printed.part(pages, "Row cards"))
    assert f"A{'x' * 25}…A1" in cards
    assert "x" * 30 not in cards


def test_names_from_right_to_left_are_printed(pages):
    """In which order a reader gives their letters back is its own affair."""
    text = "".join(pages[:2])
    assert set(without_breaks(NAMES["G"])) <= set(text)
    # Arabic letters are read back in the form that they have within a word.
    arabic = {unicodedata.normalize("NFKC", sign) for sign in text}
    assert set(without_breaks(NAMES["H"])) <= set("".join(arabic))
    assert not re.search(r"yarn [GH] has signs", text)


@pytest.mark.parametrize("letter", "FI")
def test_what_has_no_shapes_is_printed_as_letter_and_colour(plan, pages, letter):
    first = " ".join(" ".join(pages[:3]).split())
    assert f"The name of yarn {letter} has signs that this print has no shapes for" in first
    colour = plan.project.yarns[letter].colour
    assert f"1 {letter} {letter} {colour} {letter}1" in printed.part(pages, "Row cards")
    # The font's box for what it lacks, and what stands for it, are nowhere.
    assert not {"\N{REPLACEMENT CHARACTER}", "深", "🌊"} & set("".join(pages))
    assert "see its band" in first


def test_control_signs_turn_and_break_nothing(pages):
    text = "".join(pages)
    assert "evil" in text
    assert "= heading - list" in " ".join(text.split())
    assert not {"\N{RIGHT-TO-LEFT OVERRIDE}", "\N{NULL}"} & set(text)


def test_a_card_that_fills_a_column_says_where_it_goes_on(pages):
    """Sixty runs are more than a column holds: the row's name stands at the top of the next."""
    cards = printed.part(pages, "Row cards")
    for row in range(1, 7):
        assert len(re.findall(rf"^Row {row} \(", cards, flags=re.MULTILINE)) >= 2
        assert cards.count("= 60 ☐") == 6 + 2


@needs_poppler
def test_nothing_runs_off_and_no_word_lies_on_another(pdf, pages):
    for number, text in enumerate(pages, 1):
        assert printed.is_white(pdf, number, within_mm=8)
        if "Strand map" not in text:
            assert printed.overlaps(printed.words(pdf, number)) == []


def test_letters_without_shapes_give_way_to_free_ones():
    plan = plan_of(["海海A", "AA海"], {"海": Yarn("海", "Deep sea", "#243b63")})
    pages = printed.texts(sheet_pdf(plan))
    first = " ".join(pages[0].split())
    assert "Letters that this print has no shapes for gave way to free ones: yarn B." in first
    assert "海" not in "".join(pages)
    assert re.search(r"2 B Deep sea B1", printed.part(pages, "Row cards"))


TUBES = [
    Construction(worked="rounds"),
    Construction(worked="turned"),
    Construction(fabric="garter"),
    Construction(hand="left", first_row="WS", selvedge=2),
]


@pytest.mark.parametrize("how", TUBES, ids=lambda how: f"{how.worked} {how.fabric} {how.hand}")
def test_every_way_of_working(how):
    plan = plan_of(["AAAB", "A.BB", "ABBB"], how=how, units="in")
    pages = printed.texts(sheet_pdf(plan, "letter"))
    cards = printed.part(pages, "Row cards")
    assert f"{how.row_word.capitalize()} 1" in cards
    assert "Grey without a letter: no stitch." in " ".join(pages)
    assert len(re.findall(r"= \d+ ☐", cards)) == len(plan.cards)
    # Where inches are shown nothing is in centimetres.
    assert not re.findall(r"\d (?:cm|m)\b", " ".join(pages[2:]))


def test_a_chart_of_one_stitch():
    """All of its parts are there, on few pages: a part begins below the one before it."""
    pages = printed.texts(sheet_pdf(plan_of(["A"])))
    for title in ("Chart", "Strand map", "Winding list", "Tags", "Row cards", "Ends"):
        assert printed.part(pages, title)
    assert len(pages) <= 5


def test_what_is_embroidered_is_marked_and_has_a_tag():
    rows = ["AAAAA", "AABAA", "AAAAA"]
    plan = plan_of(rows, choices=(embroider("B", 2, 3),))
    pages = printed.texts(sheet_pdf(plan))
    assert "V: embroidered after blocking." in " ".join(pages)
    assert "embroidery B1" in printed.part(pages, "Tags")
    assert "After blocking" in pages[0]
