"""The order of drawing: the answer first, then tables, then pictures; what is outdated never."""

import asyncio
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

import planner.workbook.desk as desks
import planner.workbook.drawing as drawing
from planner import Gauge, open_project
from planner.workbook import Desk, lasts_pane, order_pane, row_form
from tests.helpers.browsing import ALL_RUN, ROW_WORKED, own_piece, row_of
from tests.helpers.forms import box, small

STITCHES = (18, 19, 21)


def on_a_loop(story):
    """Tell a story on an event loop, as in a notebook; it fails if it takes for ever."""
    # On a thread of its own: that of the tests may be within the loop that drives the browser.
    with pytest.MonkeyPatch.context() as patch, ThreadPoolExecutor(1) as thread:
        patch.setattr(drawing, "kernel_loop", asyncio.get_running_loop)
        thread.submit(asyncio.run, asyncio.wait_for(story(), 60)).result()


async def all_drawn(desk):
    while desk.is_drawing:
        await asyncio.sleep(0.001)


def with_panes(desk, told):
    """Panes of all kinds, the slow ones first; each that is made anew is told, with the gauge."""

    def telling(what):
        def content(plan):
            told.append((what, float(plan.project.gauge.stitches)))
            return what

        return content

    desk.pane(telling("a picture"), slow=True)
    desk.on_change(lambda: telling("a slow form")(desk.plan), later=True)
    desk.pane(telling("a table"))
    desk.pane(telling("another table"))
    desk.on_change(lambda: telling("a field")(desk.plan))
    told.clear()


ALL_KINDS = ["a field", "a table", "another table", "a picture", "a slow form"]


def test_in_a_script_all_is_drawn_at_once():
    desk, told = small(), []
    with_panes(desk, told)
    desk.change(gauge=Gauge(18, 28))
    assert told == [(what, 18) for what in ALL_KINDS]
    assert not desk.is_drawing


def test_an_action_is_answered_before_anything_is_drawn():
    async def story():
        desk, told = small(), []
        with_panes(desk, told)
        desk.change(gauge=Gauge(18, 28))
        assert told == [("a field", 18)]
        await all_drawn(desk)
        assert told == [(what, 18) for what in ALL_KINDS]

    on_a_loop(story)


def test_a_new_action_comes_in_between_and_overtakes():
    """The second change comes after the first pane of the first: nothing else is drawn of that."""

    async def story():
        desk, told = small(), []
        with_panes(desk, told)
        desk.change(gauge=Gauge(18, 28))
        while len(told) < 2:
            await asyncio.sleep(0)
        desk.change(gauge=Gauge(19, 28))
        await all_drawn(desk)
        assert told[:2] == [("a field", 18), ("a table", 18)]
        assert told[2:] == [(what, 19) for what in ALL_KINDS]

    on_a_loop(story)


def test_of_many_actions_only_the_last_is_drawn():
    async def story():
        desk, told = small(), []
        with_panes(desk, told)
        for stitches in STITCHES:
            desk.change(gauge=Gauge(stitches, 28))
        await all_drawn(desk)
        slow = [(what, stitches) for what, stitches in told if what != "a field"]
        assert slow == [(what, 21) for what in ALL_KINDS[1:]]

    on_a_loop(story)


def test_a_change_on_another_thread_is_drawn_on_the_loop():
    async def story():
        desk, told, threads = small(), [], []
        on_the_loop = threading.current_thread()
        with_panes(desk, told)
        desk.pane(lambda plan: threads.append(threading.current_thread()) or "")
        desk.on_change(lambda: threads.append(threading.current_thread()))
        await asyncio.to_thread(desk.change, gauge=Gauge(18, 28))
        await all_drawn(desk)
        assert [what for what, _ in told] == ALL_KINDS
        when_made, at_once, by_and_by = threads
        assert when_made == by_and_by == on_the_loop != at_once

    on_a_loop(story)


def test_what_fails_is_noted_and_the_rest_is_drawn(monkeypatch):
    """Nobody stands by any more to whom it could be said; the other panes are not kept from it."""
    noted = []
    monkeypatch.setattr(desks, "note_trouble", noted.append)

    async def story():
        desk = small()
        fails = {"now": False}

        def content(plan):
            if fails["now"]:
                raise RuntimeError("nobody foresaw this")
            return ""

        failing = desk.pane(content)
        gauge = desk.words(lambda plan: f"{float(plan.project.gauge.stitches)}")
        fails["now"] = True
        desk.change(gauge=Gauge(18, 28))
        await all_drawn(desk)
        assert gauge.value == "18.0"
        assert [str(error) for error in noted] == ["nobody foresaw this"]
        assert "something went wrong here (RuntimeError)" in failing.value

    on_a_loop(story)


def test_card_and_message_come_before_what_stands_below_them(demo_copy):
    async def story():
        desk = Desk(open_project(demo_copy))
        form = row_form(desk)
        marking, at_work = form.children
        (card, around), sitting = at_work.children[0].children, at_work.children[1]
        message = marking.children[-1]
        picture, supplies = order_pane(desk), lasts_pane(desk)
        panes = {
            "card": card,
            "around": around,
            "sitting": sitting,
            "supplies": supplies,
            "picture": picture,
        }
        changed = []
        for name, pane in panes.items():
            pane.observe(lambda _, name=name: changed.append(name), names="value")
        for _ in range(4):
            changed.clear()
            box(form, "Row worked").click()
            assert changed == ["card"]
            assert message.value
            await all_drawn(desk)
            assert changed[:2] == ["card", "around"]
            # The picture takes longest, so it comes last.
            assert changed[-1] == "picture"

    on_a_loop(story)


def test_a_picture_of_the_plan_stays_while_rows_are_marked(desk, monkeypatch):
    """It is drawn anew for what the knitter asks for, not for where the knitter is."""
    monkeypatch.setattr(desks, "picture_html", lambda figure, words: f"{words} {figure}")
    drawn = []

    def draw(plan):
        drawn.append(plan)
        return len(drawn)

    picture, form = desk.picture(draw, lambda plan: plan.project.units), row_form(desk)
    for label in ("Row worked", "Row worked", "Take the last row back"):
        box(form, label).click()
    assert picture.value == "cm 1"
    desk.change(units="in")
    assert picture.value == "in 2"
    desk.change(chart=desk.project.chart)
    assert picture.value == "in 2"


def test_what_is_drawn_from_a_plan_hangs_on_no_row_that_is_worked(desk):
    """Plans that look alike to the pictures differ in nothing that a picture shows."""
    form, before = row_form(desk), desk.plan
    for _ in range(12):
        box(form, "Row worked").click()
    after = desk.plan
    assert desks.pictured(after) == desks.pictured(before)
    for name in ("strands", "supplies", "rows", "ends", "areas", "winding_list"):
        assert getattr(after, name).equals(getattr(before, name))
    assert (after.embroidered == before.embroidered).all()
    desk.change(gauge=Gauge(21, 28))
    assert desks.pictured(desk.plan) != desks.pictured(before)


# In real JupyterLab

# Writes down, in their order, what of the form changes on the page.
WATCH = """
(card) => {
  window.changed = [];
  const page = card.closest(".jp-Notebook");
  const note = (what) => { if (window.changed.at(-1) !== what) window.changed.push(what); };
  new MutationObserver((all) => all.forEach(({addedNodes}) => addedNodes.forEach((node) => {
    if (node.nodeType !== 1) return;
    const is = (look) => node.matches(look) || node.querySelector(look);
    if (is(".row-card")) note("card");
    else if (is("[role=status]")) note("message");
    else if (node.closest(".plan-at-work")) note("around");
    else if (is("img")) note("picture");
  }))).observe(page, {childList: true, subtree: true});
}
"""


@pytest.mark.browser
def test_on_the_page_card_and_message_come_before_what_stands_beside_them(lab, page):
    own_piece(lab, "4-row-by-row.ipynb")
    lab.open(page, "4-row-by-row.ipynb")
    lab.run_all(page, ALL_RUN)
    worked = page.get_by_role("button", name=ROW_WORKED).first
    for row in (1, 2, 3):
        row_of(page, row).wait_for(timeout=60_000)
        worked.click()
    row_of(page, 4).wait_for(timeout=60_000)
    lab.idle(page)
    page.wait_for_timeout(1000)
    row_of(page, 4).evaluate(WATCH)
    worked.click()
    page.wait_for_function("() => window.changed.includes('around')", timeout=60_000)
    assert page.evaluate("window.changed")[:3] == ["card", "message", "around"]
