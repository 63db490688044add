"""The desk without a browser: forms ask, panes follow, mistakes are said in words."""

import html
import re
from dataclasses import replace

import pandas as pd
import pytest

from planner import (
    CarryLimits,
    Chart,
    Construction,
    Gauge,
    PlanError,
    Project,
    Yarn,
    open_project,
)
from planner.folder.files import read_text
from planner.folder.project import read_choices
from planner.pictures import draw_load
from planner.piece.settings import Allowances, MultiplierChoice, OwnChoice
from planner.workbook.desk import (
    Desk,
    Form,
    Pane,
    heading,
    notice,
    open_desk,
    picture_html,
    table_html,
)
from planner.workbook.forms import (
    choice_form,
    construction_form,
    gauge_form,
    height_form,
    how_to_wind,
    keep_form,
    lengths_form,
    limits_form,
    quick_sum_form,
    strand_order_form,
    units_form,
    ways_form,
)

PATCH = ["AAAAAA", "AABBAA", "AABBAA", "AAAAAA"]


def small(rows=PATCH, **asked):
    """A desk with a small piece, 20 stitches and 28 rows to 10 cm: a patch in a ground of two strands."""
    settings = {"gauge": Gauge(20, 28), "limits": CarryLimits(middle_start=False)} | asked
    return Desk(Project("Patch", Chart.from_rows(rows), **settings))


def boxes(form, kind=None):
    """All widgets of a form, in order, or those of one kind."""
    found, stack = [], list(form.children)
    while stack:
        child = stack.pop(0)
        found.append(child)
        stack[:0] = getattr(child, "children", ())
    return [child for child in found if kind is None or isinstance(child, kind)]


def box(form, description, nth=0):
    """The n-th widget whose description begins so."""
    return [
        child for child in boxes(form) if getattr(child, "description", "").startswith(description)
    ][nth]


def said(form):
    """What the form's panes say, as one plain text."""
    return html.unescape(re.sub("<[^>]+>", " ", " ".join(pane.value for pane in boxes(form, Pane))))


# The gauge


def test_a_changed_gauge_changes_the_winding_list():
    """By eye: 4 stitches of B, 2 cm × 3.7, two tails and a margin of 2.5 to 4 cm: 40 to 41 cm; at 10 stitches to 10 cm 48 to 50."""
    desk = small()
    form, pane = gauge_form(desk), desk.table(lambda plan: plan.winding_list)
    assert "1 × B, 0.45 m: B1" in pane.value
    box(form, "stitches").value = 10
    assert desk.project.gauge == Gauge(10, 28)
    assert "1 × B, 0.50 m: B1" in pane.value
    assert "10 stitches and 28 rows over 10 cm" in said(form)


def test_gauge_over_another_length_and_in_inches():
    desk = small()
    form = gauge_form(desk)
    box(form, "measured in").value = "in"
    for over in (0, 1):
        box(form, "over", over).value = 4
    assert desk.project.gauge == Gauge(20, 28, 4, "in")
    assert "The chart comes out 1.2 × 0.6 in" in said(
        form
    )  # 6 stitches of 1/5 in, 4 rows of 1/7 in


def test_several_counts_are_averaged():
    """50 st × 100 rows measured three times: 3.09 stitches and 3.91 rows to the cm (published, practitioner page)."""
    desk = small()
    form = gauge_form(desk)
    measured = {
        "stitches": [(50, 15.7), (50, 16.1), (50, 16.8)],
        "rows": [(100, 25.7), (100, 25.9), (100, 25.2)],
    }
    for what, pairs in measured.items():
        for _ in pairs[1:]:
            box(form, f"Another count of {what}").click()
    lines = [
        line
        for line in boxes(form)
        if len(getattr(line, "children", ())) == 2 and line.children[1].description == "over"
    ]
    for line, (count, over) in zip(lines, measured["stitches"] + measured["rows"], strict=True):
        line.children[0].value, line.children[1].value = count, over
    assert desk.project.gauge.stitches / 10 == pytest.approx(3.09, abs=0.005)
    assert desk.project.gauge.rows / 10 == pytest.approx(3.91, abs=0.005)
    assert desk.project.gauge.over == 10


@pytest.mark.parametrize("what", ["stitches", "rows"])
@pytest.mark.parametrize("value", [0, -20, float("nan"), 0.00001])
def test_a_bad_gauge_is_said_and_leaves_the_plan(what, value):
    desk = small()
    form, pane = gauge_form(desk), desk.table(lambda plan: plan.winding_list)
    before = desk.project, desk.plan, pane.value
    box(form, what).value = value
    assert (desk.project, desk.plan, pane.value) == before
    assert "Please look at this: " in said(form)
    assert what in said(form)
    box(form, what).value = 24
    assert "Please look at this" not in said(form)
    assert getattr(desk.project.gauge, what) == 24


# The other forms


def test_construction_form():
    desk = small()
    form, pane = construction_form(desk), desk.table(lambda plan: plan.rows)
    assert "WS" in pane.value
    box(form, "worked").value = "rounds"
    assert "WS" not in pane.value
    box(form, "fabric").value = "garter"
    box(form, "direction of work").value = "left"
    box(form, "first row").value = "WS"
    assert desk.project.how == Construction("rounds", "WS", "left", "garter")
    assert len(desk.plan.rows) == 8


def test_limits_form():
    """By eye: the ground may go across behind the patch of two, then one strand of A does."""
    desk = small()
    form, pane = limits_form(desk), desk.words(repr)
    assert desk.plan.traced.count == 3
    box(form, "across").value = "2"
    assert desk.plan.traced.count == 2
    assert "2 strands" in pane.value
    box(form, "across").value = "0.5 in"
    assert desk.project.limits.across == "0.5 in"
    assert desk.plan.traced.count == 2
    for bad in ("two", "-1", "2,5 cm", ""):
        box(form, "across").value = bad
        assert "Please look at this" in said(form), bad
        assert desk.project.limits.across == "0.5 in"
    box(form, "across").value = "0"
    assert "Please look at this" not in said(form)
    assert desk.plan.traced.count == 3


def test_limits_of_one_yarn():
    desk = small()
    form = limits_form(desk)
    which, own, across = (
        box(form, "limits of its own"),
        box(form, "this yarn has"),
        box(form, "across", 1),
    )
    assert (which.value, own.value, across.disabled) == ("A", False, True)
    own.value = True
    across.value = "2"
    assert not across.disabled
    assert desk.project.by_yarn == {"A": CarryLimits(across=2, middle_start=False)}
    assert desk.plan.traced.count == 2
    which.value = "B"
    assert (own.value, across.value) == (False, "0")
    assert desk.project.by_yarn == {
        "A": CarryLimits(across=2, middle_start=False)
    }  # looking changes nothing
    which.value = "A"
    assert (own.value, float(across.value)) == (True, 2)
    own.value = False
    assert desk.project.by_yarn == {}


def test_ways_form():
    desk = small(rows=["A" * 40] * 20)
    form, pane = ways_form(desk), desk.table(lambda plan: plan.supplies)
    assert "bobbin" in pane.value
    box(form, "rewinding").value = False
    assert "from the ball" in pane.value
    box(form, "there is a table").value = False
    assert "no table" in pane.value
    box(form, "butterfly up to").value = 26
    assert (desk.project.habits.butterfly_up_to_cm, desk.plan.supplies.supply[0]) == (
        2600,
        "butterfly",
    )
    box(form, "butterfly up to").value = 30
    assert "bobbin the longest" in said(form)
    assert desk.project.habits.butterfly_up_to_cm == 2600
    box(form, "butterfly up to").value = 11
    box(form, "yarn between hand").value = "long"
    assert desk.project.habits.drop == "long"


def test_lengths_form():
    desk = small()
    form, pane = lengths_form(desk), desk.table(lambda plan: plan.strands)
    own = box(form, "your own multiplier")
    assert own.disabled
    box(form, "multiplier").value = "rule of three"
    assert desk.plan.strands.margin_m.tolist() == [0] * 3
    box(form, "multiplier").value = "own"
    own.value = 4
    assert not own.disabled
    assert desk.project.multiplier == MultiplierChoice("own", 4)
    assert desk.plan.multipliers["A"].value == 4
    before = pane.value
    own.value = 0.9
    assert "as short as the row is wide" in said(form)
    assert (desk.plan.multipliers["A"].value, pane.value) == (4, before)
    own.value = 4.2
    box(form, "each tail").value = 10
    box(form, "bind-off").value = 0
    assert desk.project.allow == Allowances(tail_cm=10, bind_off=0)
    assert set(desk.plan.strands.tails_m) == {0.2}
    assert set(desk.plan.strands.bind_off_m) == {0}
    box(form, "a strand may fall short").value = 1
    assert "2 or more" in said(form)
    assert desk.project.allow.short_once_in == 20


def test_units_form():
    desk = small()
    form, pane = units_form(desk), desk.table(lambda plan: plan.winding_list)
    assert "length (m)" in pane.value
    box(form, "show").value = "in"
    assert "length (yd)" in pane.value
    assert "length (m)" not in pane.value


@pytest.mark.parametrize(("make", "name", "field", "value"), [
    (ways_form, "habits", "balls on the table", 3),
    (lengths_form, "allow", "cast-on", 3),
])  # fmt: skip
@pytest.mark.parametrize("units", ["cm", "in"])
def test_one_field_changed_is_one_setting_changed(make, name, field, value, units):
    """Lengths shown in inches or yards, rounded, are not written back unless they are typed."""
    desk = small(units=units)
    before = getattr(desk.project, name)
    form = make(desk)
    box(form, field).value = value
    after = getattr(desk.project, name)
    assert after == replace(
        before, **{"balls on the table": {"balls_on_table": 3}, "cast-on": {"cast_on": 3}}[field]
    )


def test_height_form():
    """By eye: 28 rows to 10 cm, so 5 cm take 14 rows, 10 more than the chart's 4."""
    desk = small()
    form = height_form(desk)
    box(form, "wanted height").value = 5
    assert "5 cm takes 14 worked rows" in said(form)
    assert "10 more than the chart's 4" in said(form)
    desk.change(gauge=Gauge(20, 8))
    assert "just as many" in said(form)
    box(form, "wanted height").value = float("nan")
    assert "Please look at this" in said(form)


def test_strand_order_form():
    desk = small(rows=["AB"] * 40)
    form = strand_order_form(desk)
    before = form.words()
    assert 'alt="Order of the strands in rows 1 to 14"' in before
    box(form, "from row").value = 27
    assert 'alt="Order of the strands in rows 27 to 40"' in form.words()


# Keeping


def test_keep_form(demo_copy):
    desk = Desk(open_project(demo_copy))
    gauge, form = gauge_form(desk), keep_form(desk)
    text = read_text(demo_copy / "piece.toml")
    assert "is kept" in said(form)
    box(gauge, "stitches").value = 21
    assert desk.unsaved
    assert "not kept yet" in said(form)
    assert read_text(demo_copy / "piece.toml") == text
    box(form, "Keep these settings").click()
    assert not desk.unsaved
    assert "kept in harbour-cushion/piece.toml" in said(form)
    assert "stitches = 21" in read_text(demo_copy / "piece.toml")
    assert open_project(demo_copy) == desk.project
    box(gauge, "stitches").value = 20
    assert "not kept yet" in said(form)


def test_keep_form_without_a_folder():
    desk = small()
    form = keep_form(desk)
    box(form, "Keep these settings").click()
    assert "no folder" in said(form)


def test_choice_form(demo_copy):
    desk = Desk(open_project(demo_copy))
    form, pane = choice_form(desk), desk.table(lambda plan: plan.supplies)
    before = pane.value
    box(form, "strand").value, box(form, "held as").value = "K1", "from the ball"
    box(form, "Keep this choice").click()
    path = demo_copy / "choices.csv"
    first = desk.plan.strands.set_index("strand").loc["K1"]
    assert read_choices(path) == (
        OwnChoice("supply", "K", first.first_row, first.first_stitch, "whole", "from the ball"),
    )
    assert path.read_text().splitlines()[1].endswith(",from the ball,K1")
    assert desk.plan.supplies.set_index("strand").loc["K1", ["supply", "chosen"]].tolist() == [
        "from the ball",
        "by you",
    ]
    assert "by you" in pane.value
    assert "K1: from the ball" in said(form)
    assert not desk.unsaved  # it is in its own file already
    box(form, "held as").value = "as suggested"
    box(form, "Keep this choice").click()
    assert len(path.read_text().splitlines()) == 3
    assert read_choices(path) == ()
    assert pane.value == before


def test_choice_form_offers_the_strands_there_are():
    desk = small()
    form = choice_form(desk)
    assert list(box(form, "strand").options) == ["A1", "B1", "A2"]
    desk.change(limits=CarryLimits(across=2))
    assert set(box(form, "strand").options) == set(desk.plan.traced.labels)
    assert len(box(form, "strand").options) == 2
    box(form, "Keep this choice").click()
    assert "no folder" in said(form)


# The quick sum


def test_quick_sum_form():
    """60 stitches at 20 in 10 cm: 30 cm × 3.7 + 30 cm = 141.0 cm likely, 163.2 cm to wind; rule of three 120.0 cm."""
    form = quick_sum_form(gauge=Gauge(20, 28))
    for words in (
        "60 stitches × 10 cm ÷ 20 = 30.0 cm",
        "Likely length: 141.0 cm",
        "Wind: 165.8 cm, that is 1.70 m",
        "120.0 cm",
    ):
        assert words in said(form)
    box(form, "stitches in the motif").value = 120
    box(form, "each tail").value = 10
    assert "Likely length: 242.0 cm" in said(form)
    box(form, "stitches in the motif").value = 0
    assert "Please look at this" in said(form)
    assert "at least 1" in said(form)
    box(form, "stitches in the motif").value = 120
    box(form, "gauge: stitches").value = 0
    assert "more than 0" in said(form)


def test_quick_sum_form_keeps_lengths_when_the_unit_changes():
    """The rule of thumb: 60 stitches at 6 to the inch, tails of 6 in: 42 in (common practice, no source)."""
    form = quick_sum_form(units="in", gauge=Gauge(6, 8, 1, "in"))
    assert "= 42.0 in" in said(form)
    box(form, "lengths in").value = "cm"
    assert (box(form, "over").value, box(form, "each tail").value) == (2.54, 15.24)
    assert "= 106.7 cm" in said(form)


# What a saved notebook keeps


def test_panes_and_forms_are_html_without_a_kernel():
    desk = small()
    pane, form = desk.words(repr), gauge_form(desk)
    assert pane._repr_mimebundle_()["text/html"] == pane.value
    assert "Patch" in pane.value
    bundle = form._repr_mimebundle_()
    assert bundle["text/html"] == form.words()
    assert "<b>stitches</b> 20" in form.words()
    assert "20 stitches and 28 rows over 10 cm" in form.words()
    box(form, "rows").value = 30
    assert "<b>rows</b> 30" in form._repr_mimebundle_()["text/html"]
    assert isinstance(form, Form)
    for make in (
        construction_form,
        limits_form,
        ways_form,
        lengths_form,
        units_form,
        keep_form,
        height_form,
        choice_form,
    ):
        assert "Run this cell to change it here" in make(desk)._repr_mimebundle_()["text/html"]
    assert "yes" in ways_form(desk).words()  # not True


NASTY = '<script>alert("&")</script>'


def test_names_are_escaped():
    """In tables, words, pictures' words, forms and messages; nothing a name says becomes part of the page."""
    yarns = {"A": Yarn("A", NASTY, may_be_cut=False), "B": Yarn("B", f"{NASTY}2")}
    desk = Desk(Project(NASTY, Chart.from_rows(PATCH), yarns))
    tables = [
        desk.table(lambda plan, name=name: getattr(plan, name))
        for name in ("winding_list", "shopping_list", "findings", "supplies")
    ]
    panes = [
        *tables,
        desk.words(lambda plan: plan.summary()),
        desk.words(repr),
        desk.picture(draw_load),
    ]
    assert (
        sum(
            html.escape(NASTY, quote=False) in pane.value or html.escape(NASTY) in pane.value
            for pane in panes
        )
        >= 5
    )
    shown = [pane.value for pane in panes] + [
        form(desk).words()
        for form in (gauge_form, choice_form, limits_form, keep_form, height_form)
    ]
    shown += [notice(NASTY), how_to_wind(desk.plan)]
    assert [text for text in shown if "<script" in text] == []


def test_a_pane_that_cannot_be_made_says_why():
    desk = small()

    def refuse(plan):
        raise PlanError("<b>no</b> room")

    pane = desk.pane(refuse)
    assert "Please look at this: &lt;b&gt;no&lt;/b&gt; room" in pane.value


def test_table_for_people():
    table = pd.DataFrame(
        {
            "middle_start": [True, False],
            "wound_m": [1.5, float("nan")],
            "label_10cm": pd.array([pd.NA, 3], dtype="Int64"),
        }
    )
    text = table_html(table)
    for cell in (
        "<th>middle start</th>",
        "<th>wound (m)</th>",
        "<th>label (per 10 cm)</th>",
        "<td>yes</td>",
        "<td>no</td>",
        "<td>1.50</td>",
    ):
        assert cell in text
    assert "nan" not in text.lower()
    assert "&lt;NA&gt;" not in text
    assert heading("first_row") == "first row"


def test_open_desk():
    assert open_desk("harbour-cushion").project.name == "Harbour cushion"
    with pytest.raises(PlanError, match=r'no piece "harbor".*harbour-cushion'):
        open_desk("harbor")


def test_watchers_hear_of_every_change():
    desk, heard = small(), []
    desk.on_change(lambda: heard.append(desk.project.gauge.stitches))
    desk.change(gauge=Gauge(18, 28))
    with pytest.raises(PlanError):
        desk.change(choices=(OwnChoice("supply", "A", 1, 1, "whole", "hat"),))
    desk.change(gauge=Gauge(19, 28))
    assert heard == [18, 19]
    assert desk.project.choices == ()


def test_picture_as_html_says_what_it_shows():
    text = picture_html(draw_load(small().plan), 'a "load" <of> rows')
    assert text.startswith('<img src="data:image/png;base64,')
    assert 'alt="a &quot;load&quot; &lt;of&gt; rows"' in text
