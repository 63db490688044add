"""Notebook 6: a pattern for others, and a practice piece with its handout for a class."""

import re

import pytest

from planner import make_plan, open_project
from planner.edition import TECHNIQUES, practice_piece
from planner.workbook import class_handout_form, open_desk, pattern_for_others_form
from planner.workbook.to_paper import OUTDATED, _preview
from tests.helpers.forms import box, press, said, said_html, small


@pytest.fixture
def desk(data):
    return open_desk("harbour-cushion")


def test_a_pattern_is_made_kept_and_shown(desk):
    form = pattern_for_others_form(desk)
    assert "nothing were knitted yet" in said(form)
    press(form, "Make the pattern")
    out = desk.project.folder / "out"
    assert sorted(path.name for path in out.iterdir()) == ["pattern.pdf", "pattern.txt"]
    assert (out / "pattern.pdf").read_bytes().startswith(b"%PDF")
    shown = said_html(form)
    assert "Cast on: 72 T" in shown
    assert shown.count("<a download=") == 2
    assert "harbour-cushion-pattern.txt" in shown


def test_what_has_changed_is_told(desk):
    form = pattern_for_others_form(desk)
    press(form, "Make the pattern")
    desk.change(needle="4 mm")
    assert OUTDATED in said(form)
    press(form, "Make the pattern")
    assert "Needle: 4 mm" in said(form)


def test_a_handout_of_the_techniques_chosen(desk):
    form = class_handout_form(desk)
    for label in ("slant", "V from the middle", "ground behind a line", "small patch"):
        box(form, label).value = False
    box(form, "students").value = 12
    press(form, "Make the handout")
    text = (desk.project.folder / "out" / "handout.txt").read_text("utf-8")
    assert "Vertical border, rows 3 to 28" in text
    assert "for 12 students" in " ".join(text.split())
    box(form, "vertical border").value = False
    press(form, "Make the handout")
    assert "one technique or more" in said(form)


def test_the_practice_piece_is_begun_and_opened(data, desk):
    form = class_handout_form(desk)
    press(form, "Begin this practice piece")
    folder = data / "practice-piece"
    assert desk.project.folder == folder
    kept = open_project(folder)
    assert kept.chart == practice_piece(kept, TECHNIQUES).chart
    assert make_plan(kept).cards == make_plan(desk.project).cards
    press(form, "Begin this practice piece")
    assert "There is a piece practice-piece already" in said(form)


def test_what_happened_is_said_where_it_was_pressed_and_the_links_stay(desk):
    """Of the handout that was made there is one of the practice piece then, of the same choices."""
    form = class_handout_form(desk)
    box(form, "slant").value = False
    press(form, "Make the handout")
    press(form, "Begin this practice piece")
    told = "Practice piece is a piece of its own now, in the folder practice-piece, and open in all"
    assert told in said(form)
    assert "back to Harbour cushion by the menu at the top" in said(form)
    assert said_html(form).count("<a download=") == 2
    assert 'download="practice-piece-handout.pdf"' in said_html(form)
    text = (desk.project.folder / "out" / "handout.txt").read_text("utf-8")
    assert "Vertical border, rows" in text
    assert "Slant, rows" not in text


def test_another_piece_begins_anew(desk, data):
    form = class_handout_form(desk)
    box(form, "slant").value = False
    box(form, "students").value = 3
    press(form, "Begin this practice piece")
    assert (box(form, "slant").value, box(form, "students").value) == (True, 8)


def test_without_a_folder_nothing_is_lost_and_that_is_said():
    form = pattern_for_others_form(small())
    press(form, "Make the pattern")
    assert "has no folder to write into" in said(form)


def test_the_paper_is_that_of_the_units(desk):
    form = pattern_for_others_form(desk)
    assert box(form, "paper").value == "a4"
    desk.change(units="in")
    assert box(form, "paper").value == "letter"


def test_a_preview_is_text_and_never_html():
    shown = _preview(b"<b>1 \xc3\x97 A</b> & more\n  - a line")
    assert "&lt;b&gt;1 × A&lt;/b&gt; &amp; more\n  - a line" in shown
    assert re.match(r"<details><summary>", shown)
