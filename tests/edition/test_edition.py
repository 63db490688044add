"""The edition: nothing private in it, its written rows read back, its words explained."""

import re
from dataclasses import fields, replace
from pathlib import Path

import pytest

from planner import make_plan
from planner.charts import read_rows
from planner.edition import for_others, make_edition, pattern_of, plain_text
from planner.edition.blocks import Table
from planner.edition.words import STANDARD, abbreviations_in, weight_in_words
from planner.paper import pattern_files, sheet_pdf
from planner.piece import LEFT, WORKED, Entry, Habits, Measurement, OwnChoice, Project, Yarn
from tests.helpers import printed
from tests.helpers.carded import case, every_case
from tests.helpers.choices import embroider
from tests.helpers.plans import demo, every_random_plan, plan_of, random_plan, stripes

PRIVATE = "Zaphira"
# What of a project is for others: its name, the needle, and what a yarn is called.
RUN = re.compile(r"(?:(?:First|Second) \w+, [RW]S: )?\d+ \S+ \(([^)]+)\): (.*)\.$")
PUBLIC = {"name", "needle", "letter", "colour", "yarn"}


def text_of(plan):
    return plain_text(pattern_of(make_edition(plan))).decode()


def unwrapped(text):
    """A text with what was broken over lines in one line again."""
    return re.sub(r"\n +(?!- )", " ", text)


# ---- nothing private


def planted():
    """The demo with a private word wherever its files hold text, and private figures."""
    base = demo().project
    yarns = {}
    for letter, yarn in base.yarns.items():
        yarns[letter] = replace(yarn, dye_lot=f"{PRIVATE} lot", balls_in_hand=0.77)
    yarns["N"] = replace(yarns["N"], part_balls_g=(33.3,))
    notes = [replace(line, note=PRIVATE, date="1987-06-05") for line in base.measurements]
    row = Entry(1, "1987-06-05", WORKED, 1, 72, "72 T1", note=PRIVATE)
    note = Entry(2, "1987-06-05", LEFT, 1, strand="T1", length_cm=777, note=PRIVATE)
    return replace(
        base,
        yarns=yarns,
        notes=f"For {PRIVATE}",
        swatch_of=PRIVATE,
        folder=Path(f"/home/{PRIVATE}/pieces"),
        measurements=tuple(notes),
        progress=(row, note),
        habits=replace(base.habits, place="sofa", elsewhere="30-60 train"),
    )


@pytest.fixture(scope="module")
def private_plan():
    return make_plan(planted())


def test_no_field_of_text_is_left_unplanted():
    """Whoever adds a field of text to what a piece holds, decides here whether it is for others."""
    texts = {
        field.name
        for kind in (Project, Yarn, Entry, Measurement, OwnChoice, Habits)
        for field in fields(kind)
        if field.type in ("str", str)
    }
    private = {"notes", "swatch_of", "dye_lot", "note", "date", "place", "elsewhere"}
    # Words of a fixed list each, or names of the plan's own making.
    listed = {
        *("units", "surface", "drop", "turning", "first_turn", "about", "part", "choice"),
        *("what", "runs", "strand", "other", "moment", "way", "fabric", "state", "gauge_state"),
        *("metres_per_gram_from", "use"),
    }
    assert texts == PUBLIC | private | listed


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_nothing_private_is_told(private_plan, paper):
    pdf, text = pattern_files(private_plan, paper).values()
    pages = "\n".join(printed.texts(pdf))
    for told in (text.decode(), pages):
        assert "Harbour cushion" in told
        for private in (PRIVATE, "1987", "0.77", "33.3", "38.5", "sofa", "train", "/home"):
            assert private not in told
    assert PRIVATE.encode() not in pdf


def test_the_planted_word_would_be_found(private_plan):
    """On the designer's own paper it stands, so the search above looks for the right thing."""
    pages = "\n".join(printed.texts(sheet_pdf(private_plan)))
    assert f"For {PRIVATE}" in pages
    assert f"{PRIVATE} lot" in pages
    public = "\n".join(printed.texts(sheet_pdf(make_plan(for_others(private_plan.project)))))
    assert PRIVATE not in public


def test_the_hand_is_not_told():
    """What was measured counts, but no multiplier, spread or basis is said."""
    text = text_of(demo("measured"))
    assert "ultiplier" not in text
    assert "measurement" not in text.lower().replace("these measurements", "")


def test_it_is_planned_as_if_nothing_were_knitted_and_all_to_be_bought(private_plan):
    edition = make_edition(private_plan)
    assert edition.plan.project.progress == ()
    assert all(not yarn.balls for yarn in edition.plan.project.yarns.values())
    lengths = {each.part.title: each.part.wound_cm for each in edition.plan.held}
    assert lengths == {each.part.title: each.part.wound_cm for each in demo().held}


# ---- written rows


def check_rows(plan):
    edition = make_edition(plan)
    written = "\n".join(row.line for row in edition.rows)
    assert read_rows(written, plan.project.how) == edition.plan.traced.chart
    return edition


@every_case
def test_written_rows_read_back_give_the_chart(name, number):
    """Flat, WS first, left-handed, garter, rounds, turned, with no-stitch cells."""
    _, plan = case(name, number)
    check_rows(plan)


@every_random_plan
def test_each_length_is_begun_and_ended_in_the_notes(number):
    """Each is told new, or begun from its middle, once, and cut once, in its rows."""
    plan = random_plan(number)
    edition = check_rows(plan)
    steps = [edition.cast_on, *edition.rows, edition.bind_off]
    new, cut = [], []
    for step in filter(None, steps):
        for note in step.notes:
            run = RUN.match(note)
            if run and ("new, tail" in run[2] or "from its middle" in run[2]):
                new.append(run[1])
            if run and re.search(r"cut( \S+)?, tail", run[2]):
                cut.append(run[1])
    parts = [each.part for each in edition.plan.held]
    wholes_and_first = {part.title for part in parts if part.is_whole}
    firsts = {part.label for part in parts if not part.is_whole}
    assert len(new) == len(set(new)) == edition.plan.traced.count
    assert {title if title in wholes_and_first else title[:-1] for title in new} == (
        wholes_and_first | firsts
    )
    assert sorted(cut) == sorted(part.title for part in parts)


def test_what_is_embroidered_is_knitted_in_the_ground_and_told():
    plan = make_plan(replace(demo().project, choices=(embroider("Y", 67, 13),)))
    edition = check_rows(plan)
    assert edition.rows[66].notes[-1].startswith("Embroidered afterwards: stitches ")
    assert "in duplicate stitch" in text_of(plan)


def test_what_is_measured_off_in_mid_strand_is_told_before_its_row():
    row = make_edition(demo()).rows[29]
    assert row.line.startswith("Row 30 (WS): ")
    assert row.notes[0] == (
        "Before it begins: from the work on, measure off the length of K1 from row 30, cut it from "
        "its ball; K1 is a loose strand from here."
    )


# ---- words


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Row 1 (RS): 3 A", {"RS"}),
        ("15 cm", {"cm"}),
        ("6 in, and in the end 2 yd", {"in", "yd"}),
        ("in all M rows, g and m apart", set()),
        ("p2tog, leaning to the left on the RS", {"p2tog", "RS"}),
        ("FORWARDS", set()),
    ],
)
def test_abbreviations_that_are_used_and_no_others(text, expected):
    assert set(abbreviations_in([text])) == expected


@every_case
def test_each_abbreviation_of_an_edition_is_explained(name, number):
    _, plan = case(name, number)
    document = pattern_of(make_edition(plan))
    (explained,) = [each for each in document.sections if each.title == "Abbreviations"]
    listed = {item.split(":")[0] for item in explained.blocks[0].text.split("; ")}
    others = [each for each in document.sections if each.title != "Abbreviations"]
    texts = "\n".join(replace(document, sections=tuple(others)).texts())
    used = {
        short
        for short in STANDARD
        if re.search(rf"(?:[\d_] ?)?\b{short}\b" if len(short) > 2 else rf"\b{short}\b", texts)
    }
    assert listed <= used
    assert {"RS", "WS", "ssk", "k2tog", "p2tog"} & used <= listed


def test_a_column_in_which_nothing_stands_is_left_out():
    table = Table(("Yarn", "weight", "about"), (("A", "", "3 m"),), right=(2,), wide=(1, 2, 1))
    assert table.without_empty() == Table(
        ("Yarn", "about"), (("A", "3 m"),), right=(1,), wide=(1, 1)
    )


def test_weights_of_yarn():
    """Craft Yarn Council, Standard Yarn Weight System (second-hand): stitches in 4 in."""
    assert weight_in_words(28 / 1.016) == "super fine (1)"
    assert weight_in_words(24 / 1.016) == "fine (2) or light (3)"
    assert weight_in_words(20) == "medium (4)"  # 20.3 in 4 in
    assert weight_in_words(14) == "bulky (5)"
    assert weight_in_words(None) == weight_in_words(60) == ""


# ---- amounts


def test_amounts_of_a_small_piece_by_hand():
    """120 stitches of 5 mm, 2 cm of yarn each, 30 cm of tails; any hand is 3.7 ± 0.45 of a width.

    Nine in ten lie within 1.6449 spreads: 0.45 × 0.5 × 120 × 1.6449 = 44.4 cm to either side.
    """
    yarns = {"A": Yarn("A", metres_per_ball=1.0, grams_per_ball=1.0, balls_in_hand=3)}
    first, second = make_edition(plan_of(stripes(10, 10, rows=12), yarns)).materials
    assert (first.likely_cm, first.stitches) == (270, 120)
    assert first.high_cm - 270 == pytest.approx(270 - first.low_cm)
    assert first.high_cm - 270 == pytest.approx(44.4, abs=0.05)
    # A twentieth to spare, 20 cm; a ball of 1 m that is a tenth short holds 90 cm.
    assert first.buy_cm == pytest.approx(314.4 + 20, abs=0.05)
    assert (first.balls(), first.balls(10)) == (4, 38)
    assert second.balls() is None


@every_random_plan
def test_what_is_bought_is_enough_for_the_plan_and_for_the_widest_hand(number):
    plan = random_plan(number)
    edition = make_edition(plan)
    for material, needed in zip(edition.materials, edition.plan.needed, strict=True):
        assert material.low_cm < material.likely_cm < material.high_cm <= material.buy_cm
        assert material.buy_cm >= needed.total_cm - 1e-6
        assert material.balls() >= needed.to_buy


# ---- plain text


def test_lines_are_short_and_every_word_is_there():
    text = text_of(demo())
    assert max(map(len, text.splitlines())) <= 72
    document = pattern_of(make_edition(demo()))
    flat = " ".join(text.replace("\n", " ").split())
    for section in document.sections:
        assert section.title in flat
    for row in make_edition(demo()).rows:
        assert row.line in flat


def test_names_of_any_kind_are_wrapped():
    name = "Lang" * 40
    project = replace(demo().project, name=name, needle="Größe 4½ ąę 針")
    text = text_of(make_plan(project))
    assert max(map(len, text.splitlines())) <= 72
    assert "".join(text.split()).startswith(name)
    assert "針" in unwrapped(text)


def test_it_is_in_inches_where_the_piece_is():
    text = text_of(make_plan(replace(demo().project, units="in")))
    assert not re.search(r"\d (?:cm|m|mm)\b", text)
    assert "Your inches for one stitch: 36 ÷ ______" in unwrapped(text)
