"""The sheet written by the command and by the button, and what a piece on the needles shows."""

from dataclasses import replace

import pytest

from planner import make_plan
from planner.__main__ import make_sheet as sheet_command
from planner.paper import CARDS, SHEET, cards_page, sheet_pdf
from planner.report import main
from planner.workbook import make_sheet, open_desk, sheet_form
from tests.helpers import printed
from tests.helpers.choices import worked_through
from tests.helpers.plans import demo


def test_the_command_writes_the_sheet_into_the_folder(demo_copy, capsys):
    assert main(["--sheet", "letter", str(demo_copy)]) == 0
    assert (demo_copy / SHEET).read_bytes() == sheet_pdf(demo(), "letter")
    assert (demo_copy / CARDS).read_bytes() == cards_page(demo())
    said = capsys.readouterr().out
    assert f"The sheet is {demo_copy / SHEET}" in said
    assert f"{demo_copy / CARDS}; they need no network." in said


def test_a_folder_that_cannot_be_read_is_said_in_words(tmp_path, capsys):
    assert main(["--sheet", "a4", str(tmp_path / "nowhere")]) == 1
    assert "Please look at this" in capsys.readouterr().err


@pytest.mark.parametrize("words", [[], ["data/harbour-cushion", "--paper", "a5"]])
def test_what_the_command_cannot_understand(words, capsys):
    with pytest.raises(SystemExit) as stopped:
        sheet_command(*words)
    assert stopped.value.code == 2
    assert "python3 -m planner sheet" in capsys.readouterr().err


def test_the_button_writes_the_sheet_and_says_where(demo_copy):
    desk = open_desk(str(demo_copy))
    form = sheet_form(desk)
    assert "out/sheet.pdf" in make_sheet(desk, "a4")
    assert (demo_copy / SHEET).read_bytes() == sheet_pdf(desk.plan, "a4")
    assert (demo_copy / CARDS).read_bytes() == cards_page(desk.plan)
    assert form.children


def test_what_is_worked_is_ticked():
    plan = demo()
    begun = replace(plan.project, progress=worked_through(plan, 30))
    pages = printed.texts(sheet_pdf(make_plan(begun)))
    assert "Worked up to row 30 when this was made." in pages[0]
    assert "☑ W1" in pages[0]
    assert "☐ W3" in pages[0]
    cards = printed.part(pages, "Row cards")
    assert cards.count("= 72 ☑") == 30


def test_yarns_that_look_alike_in_grey_are_named_on_the_first_page():
    """The demo's cream and lamp yellow, and its rock and midnight, touch and print as one grey."""
    first = _run_together(printed.texts(sheet_pdf(demo()))[0])
    alike = [str(pair) for pair in demo().alike]
    assert len(alike) == 2
    for sentence in alike:
        assert _run_together(sentence) in first


def _run_together(text):
    """Without spaces and the hyphens at which a line may break."""
    return "".join(text.replace("\u00ad", "").split())
