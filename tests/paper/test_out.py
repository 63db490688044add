"""The sheet written by the command and by the button, and what a piece on the needles shows."""

import base64
import re
from dataclasses import replace

import pytest

from planner import CarryLimits, make_plan
from planner.__main__ import make_handout, make_pattern, make_sheet
from planner.edition import make_lesson
from planner.paper import (
    CARDS,
    HANDOUT_TEXT,
    PATTERN_TEXT,
    SHEET,
    cards_page,
    handout_files,
    pattern_files,
    sheet_pdf,
)
from planner.report import main
from planner.workbook import open_desk, sheet_form
from tests.helpers import printed
from tests.helpers.choices import worked_through
from tests.helpers.forms import box, press, said, said_html
from tests.helpers.plans import demo


def test_the_command_writes_the_sheet_into_the_folder(demo_copy, capsys):
    assert main(["--sheet", "letter", str(demo_copy)]) == 0
    assert (demo_copy / SHEET).read_bytes() == sheet_pdf(demo(), "letter")
    assert (demo_copy / CARDS).read_bytes() == cards_page(demo())
    said = capsys.readouterr().out
    assert f"The sheet is {demo_copy / SHEET}" in said
    assert f"{demo_copy / CARDS}; they need no network." in said


def test_the_command_writes_the_pattern_into_the_folder(demo_copy, capsys):
    assert main(["--pattern", "letter", str(demo_copy)]) == 0
    files = pattern_files(demo(), "letter")
    assert {name: (demo_copy / name).read_bytes() for name in files} == files
    assert f"as plain text {demo_copy / PATTERN_TEXT}" in capsys.readouterr().out


def test_the_command_writes_the_handout_into_the_folder(demo_copy, capsys):
    assert main(["--handout", "letter", "12", str(demo_copy)]) == 0
    files = handout_files(make_lesson(demo().project, students=12), "letter")
    assert {name: (demo_copy / name).read_bytes() for name in files} == files
    assert "for 12 students" in " ".join((demo_copy / HANDOUT_TEXT).read_text("utf-8").split())
    assert f"as plain text {demo_copy / HANDOUT_TEXT}" in capsys.readouterr().out
    assert main(["--handout", "a4", "0", str(demo_copy)]) == 1
    assert "A class of 0 students" in capsys.readouterr().err


def test_a_folder_that_cannot_be_read_is_said_in_words(tmp_path, capsys):
    assert main(["--sheet", "a4", str(tmp_path / "nowhere")]) == 1
    assert "Please look at this" in capsys.readouterr().err


@pytest.mark.parametrize("words", [[], ["data/harbour-cushion", "--paper", "a5"]])
@pytest.mark.parametrize(
    ("command", "name"),
    [(make_sheet, "sheet"), (make_pattern, "pattern"), (make_handout, "handout")],
)
def test_what_the_command_cannot_understand(command, name, words, capsys):
    with pytest.raises(SystemExit) as stopped:
        command(*words)
    assert stopped.value.code == 2
    assert f"python3 -m planner {name}" in capsys.readouterr().err


def test_the_button_writes_the_sheet_and_offers_it_to_download(demo_copy):
    desk = open_desk(str(demo_copy))
    form = sheet_form(desk)
    press(form, "Make sheet and cards page")
    assert "harbour-cushion/out/sheet.pdf and harbour-cushion/out/cards.html" in said(form)
    assert (demo_copy / SHEET).read_bytes() == sheet_pdf(desk.plan, "a4")
    assert (demo_copy / CARDS).read_bytes() == cards_page(desk.plan)
    links = re.findall('download="(.*?)" href="data:(.*?);base64,(.*?)"', said_html(form))
    offered = {name: (kind, base64.b64decode(content)) for name, kind, content in links}
    assert offered == {
        "harbour-cushion-sheet.pdf": ("application/pdf", (demo_copy / SHEET).read_bytes()),
        "harbour-cushion-cards.html": ("text/html", (demo_copy / CARDS).read_bytes()),
    }


def test_a_sheet_of_the_plan_before_is_not_offered_any_more(demo_copy):
    desk = open_desk(str(demo_copy))
    form = sheet_form(desk)
    desk.change(units="in")
    assert box(form, "paper").value == "letter"
    press(form, "Make sheet and cards page")
    assert "for US Letter paper" in said(form)
    desk.change(limits=CarryLimits(across=1))
    assert "Make it again" in said(form)
    assert "download" not in said_html(form)
    desk.go_to(demo_copy)
    assert said(form).strip() == ""


def test_what_is_worked_is_ticked():
    plan = demo()
    begun = replace(plan.project, progress=worked_through(plan, 30))
    pages = printed.texts(sheet_pdf(make_plan(begun)))
    assert "Worked up to row 30 when this was made." in pages[0]
    assert "☑ W1" in pages[0]
    assert "☐ W3" in pages[0]
    cards = printed.part(pages, "Row cards")
    # The cast-on, too.
    assert cards.count("= 72 ☑") == 31


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
