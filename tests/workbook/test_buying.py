"""What to own and to buy: the forms, and the functions behind them."""

import pytest

from planner import Chart, PlanError, Project
from planner.folder import start_piece
from planner.workbook import Desk, bobbins_form, buying_form, savings_pane
from planner.workbook.buying import bobbins_html, buying_html
from tests.helpers.forms import by_label, said


def test_bobbins_owned(desk):
    form = bobbins_form(desk)
    assert "3 bobbins in use" in said(form)
    by_label(form)["bobbins owned (0: as few as will do)"].value = 2
    assert "3 hang at once" in said(form)
    by_label(form)["butterflies too"].value = True
    by_label(form)["bobbins owned (0: as few as will do)"].value = 10
    assert "bobbins in use" in said(form)


def test_buying_for_two_and_lots(desk):
    form = buying_form(desk)
    assert "The pieces" not in said(form)
    by_label(form)["pieces alike"].value = 2
    by_label(form)["of these, mirrored"].value = 1
    assert "Harbour cushion, mirrored" in said(form)
    by_label(form)["share two dye lots of"].value = "N"
    assert "Dye lots of N" in said(form)
    by_label(form)["of these, mirrored"].value = 5
    assert "Please look at this" in said(form)


def test_buying_by_function(desk):
    alone = buying_html(desk.plan, pieces=1, mirrored=0, lots="none")
    assert "The pieces" not in alone
    assert "Dye lots" not in alone
    assert "enough is 95 times in 100" in alone
    two = buying_html(desk.plan, pieces=2, mirrored=1, lots="N")
    assert two.startswith("<b>The pieces</b>")
    assert "<b>Dye lots of N</b>" in two


def test_bobbins_by_function(desk):
    few = bobbins_html(desk.plan, owned=0, butterflies=False)
    assert few.startswith("<p>3 bobbins in use.</p>")
    with pytest.raises(PlanError, match="3 hang at once"):
        bobbins_html(desk.plan, owned=2, butterflies=False)


def test_one_plain_yarn_has_nothing_to_save():
    desk = Desk(Project("plain", Chart.from_rows(["AAAA"] * 4)))
    assert "Nothing in the plan is held on a bobbin" in said(bobbins_form(desk))
    assert "no left-over" in savings_pane(desk).value
    assert "no yarn is refilled" in savings_pane(desk).value
    assert "What to buy" in said(buying_form(desk))


def test_another_piece_is_bought_for_once(desk, tmp_path):
    form = buying_form(desk)
    by_label(form)["pieces alike"].value = 2
    by_label(form)["share two dye lots of"].value = "N"
    desk.go_to(start_piece(tmp_path, "Small", Chart.from_rows(["AAB", "ABB"]), {}))
    assert by_label(form)["pieces alike"].value == 1
    assert by_label(form)["share two dye lots of"].options == ("none", "A", "B")
    assert "Dye lots" not in said(form)
    assert "Midnight" not in said(form)
