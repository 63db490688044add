"""The finishing page: every end with a box, one or two pages, legible in grey, in any way of
working."""

import re
from dataclasses import replace

import pytest

from planner import make_plan
from planner.errors import PlanError
from planner.finishing import TO_COVER, ends_to_run, how_to_run
from planner.folder import with_entry
from planner.paper import FINISHING, finishing_files
from planner.piece import NOTED, SEWN_IN, Chart, Construction, Project, Yarn
from tests.helpers import printed
from tests.helpers.choices import embroider
from tests.helpers.plans import demo, plan_of
from tests.helpers.printed import needs_poppler

PAPERS = ("a4", "letter")


def page_of(plan, paper="a4"):
    (pdf,) = finishing_files(plan, paper).values()
    return pdf


def words_of(plan, paper="a4"):
    return " ".join(" ".join(printed.texts(page_of(plan, paper))).split())


def without_breaks(text):
    return re.sub(r"\s", "", text)


@pytest.mark.parametrize("paper", PAPERS)
def test_the_demo_takes_two_pages_with_a_box_for_each_end(paper):
    plan = demo()
    assert len(printed.opened(page_of(plan, paper)).pages) == 2
    words = words_of(plan, paper)
    assert "36 × 34.3 cm" in words
    assert "66 of 66 ends left to sew in" in words
    together = without_breaks(words)
    for each in ends_to_run(plan):
        assert without_breaks(f"☐ {each.number}. {how_to_run(each, plan)}") in together
    assert "50 N Midnight over 69 rows" in words
    assert "rows 12–24: Rock meets Sea green." in words
    assert "scald" in words


def test_what_is_sewn_in_is_ticked_and_embroidery_has_boxes_for_its_ends():
    rows = [*["A" * 9] * 2, *["AAABBBAAA"] * 3, *["A" * 9] * 2]
    plan = plan_of(rows, choices=(embroider("B", 3, 4),))
    first = ends_to_run(plan)[0]
    strand, row, note = first.mark
    log = with_entry(plan.project, SEWN_IN, row, strand=strand, note=note)
    words = words_of(make_plan(replace(plan.project, progress=log)))
    assert words.count("☑") == 1
    assert f"{plan.ends_in_all - 1} of {plan.ends_in_all} ends left" in words
    assert "Embroider, after blocking" in words
    assert "its ends: ☐ ☐" in words
    assert "for 9 stitches over A, chart rows 3–5, from stitch 4 from the right" in words


@pytest.mark.parametrize(
    "how",
    [
        Construction(worked="rounds"),
        Construction(worked="turned"),
        Construction(fabric="garter"),
        Construction(hand="left", first_row="WS", selvedge=2),
    ],
    ids=lambda how: f"{how.worked} {how.fabric} {how.hand}",
)
def test_every_way_of_working_in_inches(how):
    plan = plan_of(["AAAB", "A.BB", "ABBB"] * 3, how=how, units="in")
    words = words_of(plan, "letter")
    assert not re.findall(r"\d (?:cm|m)\b", words)
    assert ("Right edge sewn to left edge" in words) == (not how.is_tube)
    assert words.count("☐") >= plan.ends_in_all


def test_the_same_plan_gives_the_same_bytes_and_another_paper_is_refused():
    assert page_of(demo()) == page_of(make_plan(demo().project))
    assert list(finishing_files(demo())) == [FINISHING]
    with pytest.raises(PlanError, match="a5"):
        finishing_files(demo(), "a5")


@needs_poppler
@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_runs_off_and_no_word_lies_on_another(paper):
    pdf = page_of(demo(), paper)
    for number in (1, 2):
        assert printed.is_white(pdf, number, within_mm=8)
        assert printed.overlaps(printed.words(pdf, number)) == []


@needs_poppler
def test_a_hostile_piece_stays_on_its_pages():
    """Sixty strands of one stitch, in yarns with names of any length, script and markup."""
    names = ("x" * 200, "#let a = 1; #a", "深い海", "= heading\n- list", "שלום")
    letters = "ABCDE"
    chart = Chart.from_rows(["".join(letters[i % 5] for i in range(60))] * 6)
    yarns = {letter: Yarn(letter, name) for letter, name in zip(letters, names, strict=True)}
    plan = make_plan(Project("A piece " + "w" * 200, chart, yarns))
    pdf = page_of(plan)
    assert "#leta=1;#a" in without_breaks(words_of(plan))
    for number in range(1, len(printed.opened(pdf).pages) + 1):
        assert printed.is_white(pdf, number, within_mm=8)
        assert printed.overlaps(printed.words(pdf, number)) == []


def test_wrong_stitches_that_were_kept_have_a_box():
    plan = plan_of(["A" * 12] * 4)
    words = "2 stitches in A over B, chart row 2 stitches 4–5 from the right"
    log = with_entry(plan.project, NOTED, 2, note=TO_COVER + words)
    page = words_of(make_plan(replace(plan.project, progress=log)))
    assert "Embroider, after blocking" in page
    assert f"☐ Wrong stitches: {words}" in page
    assert "Bring the needle up from the wrong side" in page
