"""The sheet as a whole, read back by pypdf and Poppler: what it says adds up to the plan."""

import os
import re
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planner import PlanError, make_plan
from planner.charts import open_artwork, read_grid_picture
from planner.edition import make_lesson
from planner.finishing import WHATS, ends_to_run, how_to_sew, way_in_words
from planner.paper import PAPERS, sheet_pdf
from planner.paper.first_page import glance
from planner.paper.lists import Pieces
from planner.paper.signs import Signs
from planner.piece import BALL, LOOSE
from planner.units import show
from tests.conftest import DEMO
from tests.helpers import printed
from tests.helpers.plans import demo
from tests.helpers.printed import needs_poppler

ROOT = Path(__file__).parents[2]
# ISO 216: A4 is 210 × 297 mm. ANSI/ASME Y14.1: size A is 8.5 × 11 in. In points of 1/72 in.
SIZES = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "letter": (8.5 * 72, 11 * 72)}
UNREAD = -2
LENGTH = re.compile(r"(\d+\.\d\d) m\b")


@pytest.fixture(scope="module", params=sorted(PAPERS))
def paper(request):
    return request.param


@pytest.fixture(scope="module")
def pdf(paper):
    return sheet_pdf(demo(), paper)


@pytest.fixture(scope="module")
def pages(pdf):
    return printed.texts(pdf)


# The file


def test_pages_have_the_size_of_the_paper(pdf, paper):
    for page in printed.opened(pdf).pages:
        size = (float(page.mediabox.width), float(page.mediabox.height))
        assert size == pytest.approx(SIZES[paper], abs=0.01)


def test_it_is_set_in_the_fonts_that_are_given_and_brings_them_along(pdf):
    fonts = {}
    for page in printed.opened(pdf).pages:
        for font in page["/Resources"]["/Font"].values():
            (described,) = font.get_object()["/DescendantFonts"].get_object()
            name = str(described.get_object()["/BaseFont"]).split("+")[1]
            fonts[name] = described.get_object()["/FontDescriptor"].get_object()
    assert set(fonts) == {"DejaVuSans", "DejaVuSans-Bold"}
    assert all("/FontFile2" in font for font in fonts.values())


def test_it_can_be_read_aloud(pdf):
    """Tagged as ISO 14289-1 (PDF/UA-1) asks: language, title, and words for each drawing."""
    reader = printed.opened(pdf)
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert reader.metadata.title == "Harbour cushion"
    assert b"<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data()
    figures = [each for each in elements(root["/StructTreeRoot"]) if each["/S"] == "/Figure"]
    # The small chart, four pages of it, and the map of the strands.
    assert len(figures) == 6
    assert all(figure["/Alt"] for figure in figures)


def elements(element):
    """All elements of the tree of tags."""
    children = element.get("/K", [])
    for child in children if isinstance(children, list) else [children]:
        child = child.get_object()
        if isinstance(child, dict) and "/S" in child:
            yield child
            yield from elements(child)


def test_the_same_plan_gives_the_same_bytes_anywhere(pdf, paper, tmp_path):
    assert sheet_pdf(demo(), paper) == pdf
    assert b"/CreationDate" not in pdf
    made = tmp_path / "sheet.pdf"
    program = (
        "import sys; from pathlib import Path; from planner import make_plan, open_project; "
        "from planner.paper import sheet_pdf; plan = make_plan(open_project(sys.argv[1])); "
        "Path(sys.argv[2]).write_bytes(sheet_pdf(plan, sys.argv[3]))"
    )
    elsewhere = {
        **os.environ,
        "TZ": "Pacific/Kiritimati",
        "LC_ALL": "C",
        "PYTHONHASHSEED": "7",
        "SOURCE_DATE_EPOCH": "1",
    }
    command = [sys.executable, "-c", program, str(DEMO), str(made), paper]
    subprocess.run(command, cwd=ROOT, env=elsewhere, check=True)
    assert made.read_bytes() == pdf


def test_each_page_says_which_of_how_many_it_is(pages):
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page


def test_another_paper_is_refused():
    with pytest.raises(PlanError, match='The paper is "a5"; it is one of a4, letter'):
        sheet_pdf(demo(), "a5")


# What it says


def test_the_first_page_tells_the_piece_in_order(pages):
    said = [
        *("Harbour cushion", "36 × 34 cm", "20 stitches and 28 rows over 10 cm", "needle ____"),
        *("cast on 72 Sea green", "Rock", "112", "Midnight", "33 strands", "66 ends"),
        *("most at once 9, rows 35–39", "Ready for rows 1–29", "before the cast-on", "☐ T1"),
        *("Ready for rows 30–73", "before row 30", "☐ W1"),
        *("Lengths: not yet measured. Swatch first.", "small children and pets", "50 mm"),
    ]
    places = [pages[0].index(words) for words in said]
    assert places == sorted(places)


def test_needle_and_own_notes_stand_on_the_first_page():
    """What plans ask and tell comes after the knitter's own notes, a line each."""
    project = replace(demo().project, needle="3.75 mm", notes="Wash cold.\n\n For Ada")
    said = glance(Pieces(make_plan(project), Signs(project)))
    assert said["facts"][1].endswith("· needle 3.75\u00a0mm")
    assert said["notes"][:2] == ["Wash cold.", "For Ada"]


def test_everything_has_a_box_before_the_row_that_needs_it(pages):
    """In the order of need, each under the row that the winding list and its card have for it."""
    ready = pages[0][pages[0].index("Ready for rows 1–") :]
    plan = demo()
    labels = [piece.label for piece in plan.pieces]
    assert re.findall(r"☐ (\w+(?: from row \d+)?)", ready) == labels
    told = {}
    groups = re.split(r"before (the cast-on|row \d+):", ready)[1:]
    for before, boxes in zip(groups[::2], groups[1::2], strict=True):
        for label in re.findall(r"☐ (\w+(?: from row \d+)?)", boxes):
            told[label] = before
    asked = {}
    for number, card in enumerate([plan.all_cards.cast_on, *plan.cards]):
        for need in card.ready:
            # What is cut off early is named again where it is begun.
            asked.setdefault(need.title, f"row {number}" if number else "the cast-on")
            if "from the work on" in need.words:
                asked[f"{need.title} from row {number}"] = f"row {number}"
    assert told == {label: asked[label] for label in labels}


def test_the_winding_list_adds_up_to_the_plan(pages):
    plan = demo()
    winding = printed.part(pages, "Winding list").split("Where\n", 1)[1]
    # What is fed from the ball stands under a title of its own.
    assert "Fed from the ball, nothing to wind" in winding
    # The first length after its boxes is that of a line; "begun 0.30 m" comes before some.
    lines = re.split(r"\n(?=☐)", re.sub(r"begun \d+\.\d\d m", "", winding))
    labels, total_cm = [], 0
    for line in lines:
        boxes = re.findall(r"☐ (\w+(?: from row \d+)?)", line)
        labels += boxes
        total_cm += len(boxes) * 100 * float(LENGTH.search(line)[1])
    assert Counter(labels) == Counter(piece.label for piece in plan.pieces)
    assert total_cm == pytest.approx(plan.yarn_cm)


def test_a_winding_table_has_no_empty_column(pages):
    """Wraps belong to what is wound: not to what is fed from the ball, nor to a loose strand."""
    to_wind, fed = printed.part(pages, "Winding list").split("Fed from the ball")
    assert "Wraps" in to_wind
    assert "Wraps" not in fed
    lesson = make_lesson(demo().project)
    assert {held.supply for held in lesson.plan.held} == {BALL, LOOSE}
    loose = printed.part(printed.texts(sheet_pdf(lesson.plan, "a4")), "Winding list")
    assert "Length" in loose
    assert "Wraps" not in loose


def test_the_strand_map_is_numbered_as_the_chart(pages):
    """Row 1 and every fifth, stitch 1 and every fifth, beside the labels with their stitches."""
    strand_map = printed.part(pages, "Strand map").split()
    plan = demo()
    for most in (plan.traced.runs.rows, plan.traced.runs.columns):
        numbers = {"1", *map(str, range(5, most + 1, 5))}
        assert numbers <= set(strand_map)
    for each in ("1334", "N1"):
        assert each in strand_map


def test_each_wound_piece_has_a_tag(pages):
    tags = " ".join(printed.part(pages, "Tags").split())
    wound = [piece for piece in demo().pieces if piece.supply != BALL]
    assert tags.count("☐ used whole") == len(wound)
    for piece in wound:
        assert f" {piece.label} {show(piece.to_measure_cm('cm'), 'cm')} " in tags
    assert "start row 30 WS, after 1 Rock K2 between K2 and N4 · ends row 53" in tags
    # Kitchen scales do not tell less than 5 g.
    assert tags.count(" left g") == sum(
        demo().project.all_yarns[piece.yarn].grams(piece.length_cm) > 5 for piece in wound
    )


def test_the_row_cards_rebuild_the_chart(pages):
    cards = printed.part(pages, "Row cards")
    plan = demo()
    chart = plan.project.chart
    found = re.split(r"\n(?=Row \d+ \()", cards[: cards.index("\nBind off")])[1:]
    assert len(found) == chart.rows
    rows = []
    for number, card in enumerate(found):
        runs = re.findall(r"^(\d+) ([A-Z]) \w", card, flags=re.MULTILINE)
        row = "".join(letter * int(count) for count, letter in runs)
        assert f"= {len(row)} ☐" in card
        rows.append(row[::-1] if plan.traced.how.runs_leftwards(number) else row)
    assert [list(row) for row in reversed(rows)] == chart.to_rows()


def test_casting_on_comes_first_and_binding_off_last(pages):
    cards = printed.part(pages, "Row cards")
    assert cards.index("Cast on") < cards.index("Row 1 (RS)")
    assert cards.index("Row 96 (WS)") < cards.index("Bind off")
    # One box a card.
    assert cards.count("= 72 ☐") == len(demo().cards) + 2


def test_the_shopping_list_says_what_the_table_says(pages):
    shopping = printed.part(pages, "Shopping list")
    for line in demo().shopping_list.itertuples():
        words = next(said for said in shopping.split("\n") if f" {line.name} " in said)
        lengths = [float(number) for number in re.findall(r"(\d+(?:\.\d)?) m\b", words)]
        exact = [line.piece_m, line.swatch_m, line.spare_m, line.total_m]
        # From 10 on lengths are told in whole metres.
        assert lengths == pytest.approx(exact, abs=0.51)
        assert f"{line.dye_lot} " in words
        assert re.search(rf"{line.grams} g {line.balls_used:g} .* {line.balls_to_buy}(\s|$)", words)


def unbroken(text):
    """A text without what breaks its lines; hyphens are made soft there."""
    return re.sub(r"[\s\xad-]", "", text)


def test_each_end_has_a_box(pages):
    """By the same number and in the same words as on the finishing page."""
    ends = printed.part(pages, "Ends")
    plan, signs = demo(), Signs(demo().project)
    assert ends.count("☐") == plan.ends_in_all
    together = unbroken(ends)
    assert unbroken(how_to_sew(plan)) in together
    for each in ends_to_run(plan):
        end = each.end
        where = f"{WHATS[end.what]} in row {end.row + 1} {end.side}, stitch {end.stitch}"
        words = way_in_words(each, plan, signs.titled)
        line = f"{each.number}. {end.strand} {where} {words}"
        assert unbroken(line) in together


# As it is seen


@needs_poppler
def test_the_printed_chart_is_read_back(pdf, pages, paper):
    """By the reader of charted pictures, from each whole page as it comes out of a printer."""
    # All of one paper; of the other, which takes as long, the page that begins the chart.
    pages = pages if paper == "a4" else pages[:2]
    project = demo().project
    chart = project.chart
    colours = [project.all_yarns[letter].colour for letter in chart.letters]
    read = np.full(chart.cells.shape, UNREAD)
    for number, text in enumerate(pages, 1):
        where = re.search(r"Rows (\d+)–(\d+), stitches (\d+)–(\d+)", text)
        if not where:
            continue
        first_row, last_row, first, last = map(int, where.groups())
        art = open_artwork(printed.png(pdf, number, 300), "page.png")
        cells = read_grid_picture(art, yarns=colours).cells
        read[first_row - 1 : last_row, chart.columns - last : chart.columns - first + 1] = cells
    is_read = read != UNREAD
    assert is_read.all() or (paper != "a4" and is_read.sum() > 1500)
    assert (read == chart.cells)[is_read].all()


@needs_poppler
def test_the_ruler_is_50_mm_long(pdf):
    dpi = 300
    page = printed.picture(pdf, 1, dpi, grey=True)
    # Of the foot the left half: the number of the page stands in the other.
    foot = page[int(0.95 * len(page)) :, : page.shape[1] // 2] < 128
    rows = [np.flatnonzero(np.diff(np.pad(row.astype(int), 1))) for row in foot]
    # The first dark row is the top of the two outer marks; words stand beside them, lower.
    marks = next(row for row in rows if len(row))
    middles = marks.reshape(-1, 2).mean(axis=1)
    assert len(middles) == 2
    assert (middles[1] - middles[0]) / dpi * 25.4 == pytest.approx(50, abs=0.1)


@needs_poppler
def test_margins_are_white_and_no_word_lies_on_another(pdf, pages):
    for number in range(1, len(pages) + 1):
        assert printed.is_white(pdf, number, within_mm=8)
        assert printed.overlaps(printed.words(pdf, number)) == []
