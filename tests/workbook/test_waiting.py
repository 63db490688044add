"""Where a plan takes long: a bar says so, it can be stopped, and what was there before stays."""

import json

import pytest

import planner.workbook.waiting as waiting
from planner.workbook import Painting, gauge_form
from tests.helpers.browsing import ALL_RUN, gauge_box, own_piece
from tests.helpers.folders import contents
from tests.helpers.forms import box, said

# A cell that makes every plan take half a minute, and say how far it is.
SLOWED = """
import time
import planner.workbook.waiting as waiting
quickly = waiting.make_plan
def slowly(project, say, progress):
    for group in range(300):
        say(f"Weighing group {group + 1} of 300 …")
        progress(group / 300)
        time.sleep(0.1)
    return quickly(project, say=say)
waiting.make_plan = slowly
"""
BAR = ".plan-waiting"


def stopped_at_once(project, say, progress):
    say("Weighing …")
    raise KeyboardInterrupt


def test_a_plan_that_is_stopped_changes_nothing(desk, monkeypatch):
    form, before = gauge_form(desk), (desk.plan, desk.project, contents(desk.project.folder))
    told = []
    monkeypatch.setattr(waiting, "_bars", [bar := waiting.Bar()])
    bar.observe(lambda change: told.append(change.new), names=["busy", "words"])
    monkeypatch.setattr(waiting, "make_plan", stopped_at_once)
    box(form, "stitches").value = 25
    assert "Stopped; the plan is the one before." in said(form)
    assert "still" not in said(form)  # which would say it twice
    assert box(form, "stitches").value == 20
    assert (desk.plan, desk.project, contents(desk.project.folder)) == before
    assert told == [True, "Weighing …", False, ""]
    monkeypatch.undo()
    box(form, "stitches").value = 25
    assert desk.plan.project.gauge.stitches == 25


def test_whatever_else_is_stopped_says_so_and_shows_what_holds(desk, monkeypatch):
    """As while the folder is looked at; nothing is kept, and the box is put back."""

    def stopped(*_, **__):
        raise KeyboardInterrupt

    form = gauge_form(desk)
    monkeypatch.setattr(desk, "act", stopped)
    box(form, "stitches").value = 25
    assert "Please look at this: stopped." in said(form)
    assert box(form, "stitches").value == desk.project.gauge.stitches == 20


def test_a_stroke_that_is_stopped_is_offered_again(desk, monkeypatch):
    painting, chart = Painting(desk), desk.project.chart
    monkeypatch.setattr(waiting, "make_plan", stopped_at_once)
    grid = bytearray(painting.grid)
    grid[-1] = 1 - grid[-1]
    painting.set_state({"grid": memoryview(grid), "stroke": 1})
    assert painting.trouble == "Stopped; the plan is the one before."
    assert painting.answered == 1
    assert desk.project.chart == chart


def test_a_quick_plan_tells_the_page_nothing(desk, monkeypatch):
    monkeypatch.setattr(waiting, "_bars", [])
    box(gauge_form(desk), "stitches").value = 25
    assert waiting._bars == []


def test_the_page_is_not_told_oftener_than_it_can_show(monkeypatch):
    monkeypatch.setattr(waiting, "_bars", [bar := waiting.Bar()])
    told = []
    bar.observe(lambda change: told.append(change.new), names="words")
    telling = waiting._Telling()
    for number in range(1000):
        telling.say(f"{number}")
    assert told[0] == "0"
    assert len(told) < 50


def test_the_share_that_is_done_is_told_once_it_takes_its_time(monkeypatch):
    monkeypatch.setattr(waiting, "_bars", [bar := waiting.Bar()])
    telling = waiting._Telling()
    telling.progress(0.25)
    assert (bar.busy, bar.share) == (False, None)
    monkeypatch.setattr(waiting, "TOLD_EVERY_S", 0)
    telling.progress(0.5)
    assert (bar.busy, bar.share) == (True, 0.5)


# In real JupyterLab


def open_slowed(lab, page):
    """Notebook 3 on a piece of one's own, in which every other plan takes half a minute."""
    folder = own_piece(lab, "3-yarn-plan.ipynb")
    path = lab.root / "notebooks" / "3-yarn-plan.ipynb"
    notebook = json.loads(path.read_text("utf-8"))
    first = next(cell for cell in notebook["cells"] if cell["cell_type"] == "code")
    first["source"] = [SLOWED, *first["source"]]
    path.write_text(json.dumps(notebook), "utf-8")
    lab.open(page, path.name)
    lab.run_all(page, ALL_RUN)
    return folder


@pytest.mark.browser
def test_a_long_plan_shows_a_bar_and_is_stopped(lab, page):
    """By its own button, and by that of JupyterLab; the box, the plan and the folder stay."""
    folder = open_slowed(lab, page)
    before = contents(folder)
    stitches = gauge_box(page)
    stop_of_the_lab = page.locator(
        '[data-command="notebook:interrupt-kernel"], [data-command="kernelmenu:interrupt"]'
    ).first
    for stop in (page.get_by_role("button", name="Stop; keep the plan before"), stop_of_the_lab):
        stitches.fill("25")
        stitches.press("Enter")
        page.locator(BAR, has_text="Weighing group").wait_for(state="visible", timeout=20_000)
        assert 0 <= page.locator(f"{BAR} progress").evaluate("(bar) => bar.position") < 1
        stop.click()
        message = page.locator(".jupyter-widgets", has_text="Stopped; the plan is the one before")
        message.first.wait_for(timeout=10_000)
        page.locator(BAR).wait_for(state="hidden", timeout=10_000)
        page.wait_for_function("(box) => box.value === '20'", arg=stitches.element_handle())
        assert contents(folder) == before
