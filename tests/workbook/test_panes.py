"""What a saved notebook keeps: panes, forms, tables and pictures as HTML."""

import html
import re

import pandas as pd
import pytest

from planner import Chart, PlanError, Project, Yarn
from planner.pictures import draw_load
from planner.workbook import (
    Desk,
    Form,
    choice_form,
    construction_form,
    gauge_form,
    heading,
    height_form,
    how_to_wind,
    lengths_form,
    limits_form,
    news_form,
    notice,
    picture_html,
    table_html,
    units_form,
    versions_form,
    ways_form,
)
from tests.helpers.forms import PATCH, box, small


def test_panes_and_forms_are_html_without_a_kernel():
    desk = small()
    pane, form = desk.words(repr), gauge_form(desk)
    assert pane._repr_mimebundle_()["text/html"] == pane.value
    assert "Patch" in pane.value
    bundle = form._repr_mimebundle_()
    assert bundle["text/html"] == form.words()
    assert "<b>stitches</b> 20" in form.words()
    assert "The chart comes out 3.0 × 1.4 cm" in form.words()
    box(form, "rows").value = 30
    assert "<b>rows</b> 30" in form._repr_mimebundle_()["text/html"]
    assert isinstance(form, Form)
    for make in (
        construction_form,
        limits_form,
        ways_form,
        lengths_form,
        units_form,
        news_form,
        versions_form,
        height_form,
        choice_form,
    ):
        assert "Run this cell to change it here" in make(desk)._repr_mimebundle_()["text/html"]
    assert "yes" in ways_form(desk).words()  # not True


NASTY = '<script>alert("&")</script>'


def test_names_are_escaped():
    """In tables, words, pictures' words, forms and messages: no name becomes part of the page."""
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
        for form in (gauge_form, choice_form, limits_form, news_form, height_form)
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
            "length_m": [1.5, 0.35],
            "balls_in_hand": [3.0, 1.0],
            "chance_percent": [96.0, float("nan")],
            "label_10cm": pd.array([pd.NA, 3], dtype="Int64"),
        }
    )
    text = table_html(table)
    for cell in (
        '<th class="s">middle start</th>',
        '<th class="n">wound (m)</th>',
        '<th class="n">label (per 10 cm)</th>',
        '<td class="s">yes</td>',
        '<td class="s">no</td>',
        '<td class="n">1.5</td>',
        '<td class="n">1.50</td>',
        '<td class="n">3</td>',
        '<td class="n">96</td>',
    ):
        assert cell in text
    assert "nan" not in text.lower()
    assert "&lt;NA&gt;" not in text
    assert heading("first_row") == "first row"


@pytest.mark.parametrize("lines", [[], [1], [1, 2]])
def test_tables_say_what_pandas_says(lines):
    """They are written by hand for their speed; what they hold is escaped as pandas does it."""
    table = pd.DataFrame({"what <b>": [f'{NASTY} "{line}" ' for line in lines], "n": lines})
    by_pandas = table.to_html(index=False, border=0)
    cell = re.compile("<t[hd][^>]*>(.*?)</t[hd]>")
    assert cell.findall(table_html(table)) == cell.findall(by_pandas)


def test_numbers_stand_to_the_right_and_an_empty_column_is_left_out():
    nothing = pd.array([pd.NA, pd.NA], dtype="Int64")
    table = pd.DataFrame(
        {"n": [1, 20], "what": ["a", "b"], "not_there": nothing, "never": ["", ""]}
    )
    text = table_html(table)
    assert '<th class="n">n</th><th class="s">what</th></tr>' in text
    assert '<tr><td class="n">20</td><td class="s">b</td></tr>' in text
    # Where there are no lines at all, the headings say what there is nothing of.
    assert ">not there</th>" in table_html(table.iloc[:0].astype(object))


def test_a_long_table_folds_to_its_first_lines():
    table = pd.DataFrame({"n": range(33)})
    text = table_html(table, first=8)
    first, rest = text.split('<tbody class="plan-rest">')
    assert (first.count("<td"), rest.count("<td")) == (8, 25)
    assert "all 33" in first
    for few in (8, 10):
        assert "<details" not in table_html(table[:few], first=8)
    assert "<details" not in table_html(table)


def test_a_yarn_has_a_patch_of_its_colour():
    yarns = {"A": Yarn("A", "Sea <b>", colour="#123456"), "B": Yarn("B", colour="#abcdef")}
    table = pd.DataFrame({"yarn": ["A", "Sea <b>", "A Sea <b>", "B", "all"]})
    text = table_html(table, yarns=yarns)
    assert (text.count("#123456"), text.count("#abcdef")) == (3, 1)
    assert "#123456" not in table_html(table)
    desk = small()
    colours = [yarn.colour for yarn in desk.project.all_yarns.values()]
    shown = desk.table(lambda plan: plan.shopping_list).value
    assert [colour for colour in colours if colour not in shown] == []


def test_picture_as_html_says_what_it_shows():
    text = picture_html(draw_load(small().plan), 'a "load" <of> rows')
    assert text.startswith('<img src="data:image/png;base64,')
    assert 'alt="a &quot;load&quot; &lt;of&gt; rows"' in text
