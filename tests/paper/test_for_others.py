"""A pattern and a handout as PDF: what the document says stands on its pages, on both papers."""

from dataclasses import replace

import pytest

from planner import PlanError, make_plan
from planner.edition import Key, handout_of, make_edition, make_lesson, pattern_of
from planner.paper import HANDOUT, PATTERN, PATTERN_TEXT, handout_files, pattern_files
from planner.paper.for_others import document_pdf
from planner.piece import Yarn
from tests.helpers import printed
from tests.helpers.plans import demo, plan_of
from tests.helpers.printed import needs_poppler

SIZES = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "letter": (8.5 * 72, 11 * 72)}


def made(what, paper):
    """The document, and its PDF."""
    if what == "pattern":
        edition = make_edition(demo())
        return pattern_of(edition), pattern_files(demo(), paper)[PATTERN]
    lesson = make_lesson(demo().project, students=8)
    return handout_of(lesson), handout_files(lesson, paper)[HANDOUT]


@pytest.fixture(
    scope="module",
    params=[(what, paper) for what in ("pattern", "handout") for paper in SIZES],
    ids=" on ".join,
)
def both(request):
    what, paper = request.param
    return paper, *made(what, paper)


def squeezed(text):
    """A text without blanks, hyphens and marks of a list, which a page breaks otherwise."""
    for sign in (" ", "\n", "-", "\xad", "\u2010", "\u200b", "\xa0"):
        text = text.replace(sign, "")
    return text.lower()


def test_all_that_is_said_stands_on_the_pages(both):
    paper, document, pdf = both
    for page in printed.opened(pdf).pages:
        size = (float(page.mediabox.width), float(page.mediabox.height))
        assert size == pytest.approx(SIZES[paper], abs=0.01)
    pages = printed.texts(pdf)
    every = squeezed("".join(pages))
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page
        every = every.replace(squeezed(f"{document.title}page {number} of {len(pages)}"), "")
    # A sentence may be parted by the foot of a page or a column: so it is looked for in two halves.
    for text in document.texts():
        if "The chart itself is on" in text:
            continue
        words = squeezed(text)
        halves = words[: len(words) // 2], words[len(words) // 2 :]
        assert words in every or all(half in every for half in halves), text
    assert "Rows 1–" in "".join(pages)  # a page of the chart


def test_no_page_has_only_the_last_lines_of_a_block(both):
    """Care stands on the first page; the key, and how to block, each on a page of its own lines."""
    _, document, pdf = both
    pages = [squeezed(page) for page in printed.texts(pdf)]
    care = squeezed("With care")
    assert [care in page for page in pages] == [True] + [False] * (len(pages) - 1)
    sections = {section.title: section for section in document.sections}
    (key,) = [block for block in sections["Key to the chart"].blocks if isinstance(block, Key)]
    (page,) = [page for page in pages if squeezed("Key to the chart") in page]
    for _, words, _ in key.yarns:
        assert squeezed(words) in page
    last = squeezed("Count the pins before and after.")
    (page,) = [page for page in pages if last in page]
    assert squeezed("Block, as the label allows, to these measurements:") in page


def test_it_can_be_read_aloud_and_is_the_same_each_time(both):
    _, document, pdf = both
    reader = printed.opened(pdf)
    assert reader.metadata.title == document.title
    assert b"<pdfuaid:part>1</pdfuaid:part>" in reader.trailer["/Root"]["/Metadata"].get_data()
    assert b"/CreationDate" not in pdf


@needs_poppler
def test_nothing_lies_on_anything_or_outside_the_page(both):
    _, _, pdf = both
    for page in range(1, len(printed.opened(pdf).pages) + 1):
        assert printed.overlaps(printed.words(pdf, page)) == []
        assert printed.is_white(pdf, page, within_mm=8)


def test_the_same_edition_gives_the_same_bytes():
    assert pattern_files(demo(), "a4") == pattern_files(demo(), "a4")


def test_names_are_no_markup():
    name = '#set page("a3") $x$ *bold*'
    plan = plan_of(["AB", "AB"], {"A": Yarn("A", name, dye_lot="9")})
    plan = make_plan(replace(plan.project, name="[*Hill* #scarf]"))
    files = pattern_files(plan, "letter")
    pages = "".join(printed.texts(files[PATTERN]))
    assert "[*Hill* #scarf]" in pages
    assert '#set page("a3") $x$ *bold*' in pages
    assert name in " ".join(files[PATTERN_TEXT].decode().split())


def test_names_that_cannot_be_printed_give_way_on_paper_and_stand_in_the_text():
    yarns = {"Ж": Yarn("Ж", "雪"), "乙": Yarn("乙", "墨", colour="#101010")}
    plan = plan_of([["Ж", "乙"]] * 3, yarns)
    plan = make_plan(replace(plan.project, name="猫"))
    files = pattern_files(plan)
    pages = "".join(printed.texts(files[PATTERN]))
    assert "\N{REPLACEMENT CHARACTER}" not in pages
    assert "Intarsia piece" in pages
    assert "has signs that this print has no shapes for" in pages
    text = files[PATTERN_TEXT].decode()
    assert text.startswith("猫\n")
    assert "雪" in text


def test_a_piece_without_a_name_has_a_title():
    plan = plan_of(["AB", "AB"])
    files = pattern_files(make_plan(replace(plan.project, name=" ")))
    assert "A piece without a name" in printed.texts(files[PATTERN])[0]
    assert files[PATTERN_TEXT].decode().startswith("A piece without a name\n")


def test_another_paper_is_refused():
    edition = make_edition(demo())
    with pytest.raises(PlanError, match='The paper is "a5"; it is one of a4, letter'):
        document_pdf(pattern_of(edition), edition.plan, "a5")
