"""With inches and yards shown, nothing that a knitter reads is in centimetres or metres.

Tables, sentences, cards, notes, sums, pictures and forms of the demo and of small pieces.
"""

from __future__ import annotations

import html
import re
from dataclasses import replace
from functools import cache

import ipywidgets as widgets
import pytest

from planner import Gauge, PlanError, make_plan, open_project, quick_sum
from planner.buying import (
    balls_table,
    both_ends,
    copies,
    reuse_leftovers,
    splices,
    weighed,
    winding_stops,
)
from planner.choices import find_offers, offer_table, tradeoff
from planner.edition import handout_of, make_edition, make_lesson, pattern_of, plain_text
from planner.folder import with_units
from planner.knitting import balls_before_and_after, before_and_after, will_it_last, will_yarns_last
from planner.multiplier import arithmetic
from planner.paper import TABLES
from planner.pictures import draw_chart, draw_load, draw_multipliers, draw_strand_order
from planner.piece import MultiplierChoice, rows_worked
from planner.report import print_plan
from planner.workbook import (
    Desk,
    advice_pane,
    apply_form,
    bobbins_form,
    buying_form,
    carrying_form,
    ceiling_form,
    changes_fold,
    ends_pane,
    gauge_form,
    heading,
    height_form,
    holding_form,
    how_full_pane,
    how_much_form,
    in_row_form,
    lasts_pane,
    lengths_form,
    lengths_pane,
    limits_form,
    log_pane,
    measure_form,
    mending_form,
    multiplier_table,
    news_form,
    offers_form,
    quick_sum_form,
    row_form,
    savings_pane,
    several_rows_form,
    shopping_pane,
    stops_pane,
    stretches_pane,
    table_html,
    tradeoff_form,
    used_form,
    versions_form,
    ways_form,
    weigh_form,
    weighing_form,
    where_sewn_in,
    winding_pane,
    yarns_form,
)
from tests.conftest import ROOT
from tests.helpers.drawn import words_in
from tests.helpers.forms import boxes, by_label, press, said
from tests.helpers.progress import knitted

FOLDERS = [ROOT / "data" / "harbour-cushion"]
FOLDERS += [ROOT / "tests" / "cases" / "pieces" / name for name in ("tiny", "cowl", "garter")]
every_piece = pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)

# A number with a metric unit, such a unit by itself or in the name of a column, or in words.
METRIC = re.compile(
    r"\d\s*(?:mm|cm|m)\b|\b(?:mm|cm)\b|\(m\)|\bm/g|_(?:mm|cm|m)\b|metre|meter|10cm", re.IGNORECASE
)
# Needles have their size in millimetres on them, wherever they are sold.
NEEDLE = "needle (mm), 0 if not known"


def metric_in(text):
    """The metric lengths in a text, each with what stands around it."""
    text = html.unescape(re.sub("<style>.*?</style>|<[^>]+>", " ", text, flags=re.DOTALL))
    text = text.replace(NEEDLE, "")
    return [text[max(0, found.start() - 50) : found.end() + 20] for found in METRIC.finditer(text)]


@cache
def in_inches(folder):
    """The plan of a piece that was put into inches, as its knitter does with the unit's menu."""
    project = open_project(folder)
    # Without its folder, in which nothing is to be changed.
    return make_plan(replace(project, folder=None, **with_units(project, "in")))


def tables_of(plan):
    """Each table of a plan, by name, and others that are made of it."""
    yield from ((name, getattr(plan, name)) for name in TABLES)
    log, after = (
        plan.project.progress,
        replace(plan.project, multiplier=MultiplierChoice("rule of three")),
    )
    yield "will it last", will_it_last(plan, log)
    yield "will yarns last", will_yarns_last(plan, log)
    yield "before and after", before_and_after(plan, make_plan(after))
    yield "balls before and after", balls_before_and_after(plan, make_plan(after))
    yield "stops", winding_stops(plan)
    yield "both ends", both_ends(plan)
    yield "splices", splices(plan)
    yield "left-overs", reuse_leftovers(plan)
    yield "balls", balls_table(copies(plan, 2))
    yield "offers", offer_table(find_offers(plan.project), "in")
    yield "trade-off", tradeoff(plan.project)


@every_piece
def test_tables(folder):
    for name, table in tables_of(in_inches(folder)):
        assert metric_in(" ".join(table.columns)) == [], name
        assert metric_in(table_html(table)) == [], name


@every_piece
def test_sentences_cards_and_pictures(folder, capsys):
    plan = in_inches(folder)
    print_plan(plan)
    said = [capsys.readouterr().out, repr(plan), repr(plan.project), *plan.notes]
    before, rows, after = plan.all_cards
    said += [str(card) for card in (before, *rows, after)]
    last = len(rows)
    figures = [draw_chart(plan), draw_load(plan), draw_strand_order(plan, 1, min(last, 12))]
    figures.append(draw_multipliers(plan.project.measurements, plan.project.how.fabric))
    said += [text for figure in figures for text in words_in(figure)]
    said += [plain_text(pattern_of(make_edition(plan))).decode()]
    said += [plain_text(handout_of(make_lesson(plan.project))).decode()]
    for text in said:
        assert metric_in(text) == []


def said_by(form):
    """What the labels, boxes, buttons and panes of a form say; of a menu what is chosen."""
    for box in boxes(form):
        yield getattr(box, "description", "")
        value = getattr(box, "value", "")
        if isinstance(value, str):
            yield value
        # The chart with the offers says its own.
        yield from getattr(box, "figures", ())
        yield getattr(box, "note", "")
        for item in getattr(box, "items", ()):
            yield from (item["what"], item["change"], item["mind"])


def changes_opened(desk):
    """The fold of what has changed, open."""
    folded = changes_fold(desk)
    folded.heading.click()
    return folded


def marked_to_mend(desk):
    """The form of mending, with a stitch that was knitted in another yarn."""
    if not rows_worked(desk.project.progress):
        log = knitted(desk.plan, 12)
        desk = Desk(replace(desk.project, progress=log))
    form = mending_form(desk)
    fields = by_label(form)
    fields["row"].value, fields["stitch, as the card counts"].value = 9, 8
    press(form, "Mark this stitch")
    # In any but the chart's own.
    for letter in desk.project.chart.letters:
        fields["it was knitted in"].value = letter
        if "Duplicate stitch over it" in said(form):
            return form
    raise AssertionError(said(form))


MAKERS = (
    *(carrying_form, holding_form, how_much_form, how_full_pane, lengths_pane),
    *(shopping_pane, winding_pane, where_sewn_in),
    *(gauge_form, height_form, limits_form, ways_form, lengths_form, yarns_form),
    *(measure_form, weigh_form, apply_form, advice_pane, log_pane, used_form),
    *(
        in_row_form,
        ends_pane,
        stretches_pane,
        row_form,
        lasts_pane,
        several_rows_form,
        marked_to_mend,
        changes_opened,
        stops_pane,
        savings_pane,
        bobbins_form,
        buying_form,
    ),
    *(tradeoff_form, offers_form, ceiling_form, weighing_form),
    *(news_form, versions_form),
)


@every_piece
def test_forms(folder):
    desk = Desk(in_inches(folder).project)
    # A gauge that was counted in centimetres is shown as it was counted; here it is in inches.
    over_four = float(4 * 2.54 * desk.project.gauge.stitches_per_cm)
    desk.change(gauge=Gauge(round(over_four, 2), 28, 4, "in"))
    forms = [make(desk) for make in MAKERS]
    forms += [quick_sum_form(desk)]
    for form in forms:
        for text in said_by(form):
            assert metric_in(text) == []
    assert metric_in(table_html(multiplier_table(desk))) == []


def test_measuring_in_inches():
    """Each way of measuring with its hint, its fields and its sum."""
    desk = Desk(in_inches(FOLDERS[0]).project)
    form = measure_form(desk)
    by_name = {box.description: box for box in boxes(form) if hasattr(box, "description")}
    ways = by_name["way of measuring"]
    for way in ways.options:
        ways.value = way
        for box in boxes(form, widgets.FloatText):
            box.value = box.value or 30
        assert [text for text in said_by(form) if metric_in(text)] == [], way


def test_sums():
    sums = quick_sum(60, Gauge("33 over 6, 34 over 6", 30, unit="in"), tail_cm=15.24, units="in")
    metric_gauge = quick_sum(60, Gauge(20, 28), tail_cm=15.24, units="in")
    measured = [
        sentence
        for line in open_project(FOLDERS[0]).measurements
        for sentence in arithmetic(line, "in")
    ]
    by_weight = weighed(35, 2.5, grams_per_ball=50, wool=True, units="in").lines
    for line in (*sums.lines, *metric_gauge.lines, *measured, *by_weight):
        assert metric_in(line) == []


@pytest.mark.parametrize(
    "wrong",
    [
        lambda desk: desk.change(habits=replace(desk.project.habits, loose_up_to_cm=9999)),
        lambda desk: desk.change(habits=replace(desk.project.habits, wrap_cm=0)),
        lambda desk: desk.change(gauge=Gauge("33 over 6, 34 over 60", 30, unit="in")),
        lambda desk: quick_sum(60, desk.project.gauge, tail_cm=-5, units="in"),
    ],
)
def test_errors(wrong):
    with pytest.raises(PlanError) as caught:
        wrong(Desk(in_inches(FOLDERS[1]).project))
    assert metric_in(str(caught.value)) == []


def test_the_scan_finds_what_it_looks_for():
    said = ("15 cm", "a stitch is 5.00 mm wide", "1.25 m", "length (m)", "length_m", "2 m/g")
    assert all(metric_in(text) for text in (*said, "metres in a ball", "per 10 cm"))
    assert metric_in(f"7 in, 1.25 yd, 12 of them; {NEEDLE}") == []
    assert heading("length_in") == "length (in)"
