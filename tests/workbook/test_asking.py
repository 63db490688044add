"""A form declared by its fields and a plain function of their values."""

import html
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from time import sleep

import pytest

import planner.workbook.asking as asking_file
from planner import Chart, PlanError
from planner.piece import MultiplierChoice
from planner.units import show
from planner.workbook import Pane
from planner.workbook.asking import BUSY, DeskBoxes, asking, heard
from planner.workbook.fields import (
    button,
    length,
    letter_box,
    number,
    one_of,
    strand_box,
    whole,
    yes,
)
from tests.helpers.forms import box, boxes, press, said, small


def doubled(count: float) -> str:
    if count < 0:
        raise PlanError(f"{count:g} is < 0.")
    return f"twice {count:g} is {2 * count:g}"


def test_the_answer_follows_what_is_typed_and_mistakes_are_said():
    form = asking(doubled, count=number("how many", 2))
    assert "twice 2 is 4" in said(form)
    box(form, "how many").value = -1
    assert said(form).strip() == "▲ Please look at this: -1 is < 0."
    box(form, "how many").value = 3
    assert said(form).strip() == "twice 3 is 6"


def test_with_a_button_nothing_happens_until_it_is_pressed():
    pressed = []

    def act(count: int) -> str:
        pressed.append(count)
        return "done"

    form = asking(act, button="Do it", count=whole("how many", 2))
    box(form, "how many").value = 5
    assert pressed == []
    press(form, "Do it")
    assert pressed == [5]
    assert "done" in said(form)


def test_fields_are_shown_for_what_is_typed():
    fields = {"what": one_of("what", ("a", "b")), "a": number("of a"), "b": number("of b")}
    form = asking(lambda **_: "", shown=lambda values: ("what", values["what"]), **fields)
    labels = [child.description for child in boxes(form) if hasattr(child, "value")]
    assert labels == ["what", "of a", ""]
    box(form, "what").value = "b"
    assert [child.description for child in boxes(form) if hasattr(child, "value")][1] == "of b"


def test_lengths_keep_their_meaning_when_the_unit_is_changed():
    form = asking(
        lambda unit, far, count: f"{far:g} {unit}",
        unit=one_of("in", ("cm", "in")),
        far=length("how far", 5.08),
        count=number("how many", 5.08),
    )
    box(form, "in").value = "in"
    assert "2 in" in said(form)
    assert box(form, "how many").value == 5.08


def test_an_answer_about_the_plan_follows_the_desk():
    desk = small()
    form = asking(
        lambda times: show(times * desk.plan.yarn_cm, "cm"), desk=desk, times=number("", 1)
    )
    before = said(form)
    desk.change(multiplier=MultiplierChoice("rule of three"))
    assert said(form) != before


def test_choices_among_what_is_on_the_desk_follow_it_and_stay():
    desk = small()
    strand, letter = strand_box(desk), letter_box(desk)
    strand.value, letter.value = "B1", "B"
    desk.change(chart=Chart.from_rows(["ABC"]))
    assert strand.options == ("C1", "B1", "A1")  # in the order of first need
    assert letter.options == ("A", "B", "C")
    assert (strand.value, letter.value) == ("B1", "B")
    desk.change(chart=Chart.from_rows(["CA"]))
    assert (strand.value, letter.value) == ("A1", "A")


@pytest.mark.parametrize(("most", "typed", "held"), [(None, -3, -3), (9, -3, 0), (9, 12, 9)])
def test_whole_numbers_may_be_bounded(most, typed, held):
    counts = whole("count", 2, most=most)
    counts.value = typed
    assert counts.value == held


# What is pressed


def pressing(act):
    """A button that does this, and the pane for its answer."""
    message, do_it = Pane(), button("Do it")
    do_it.on_click(heard(message)(act))
    return do_it, message


def raising(error):
    def act():
        raise error

    return act


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (PlanError("row 5 <is> wrong"), "row 5 &lt;is&gt; wrong"),
        (OSError(28, "No space", "/a/chart.csv"), "Could not write chart.csv: the disk is full"),
        (OSError(28, "No space", b"/a/chart.csv"), "the disk is full"),
        (OSError(28, "No space", 7), "the disk is full"),
        (OSError(30, "Read-only"), "Could not write a file: the folder is read-only"),
        (PermissionError(13, "Denied", "x.csv"), "Could not write x.csv: you may not write there"),
        (OSError("odd"), "the system refused it"),
        (ZeroDivisionError("nobody foresaw"), "something went wrong here (ZeroDivisionError)"),
        (RecursionError(), "something went wrong here (RecursionError)"),
        (MemoryError(), "something went wrong here (MemoryError)"),
    ],
    ids=repr,
)
def test_every_button_answers(desk, error, words):
    """In words, and can be pressed again; what nobody foresaw is noted in the piece's folder."""
    do_it, message = pressing(raising(error))
    do_it.click()
    assert words in html.unescape(message.value).replace("<is>", "&lt;is&gt;")
    assert "Please look at this" in message.value
    assert "Traceback" not in message.value
    assert not do_it.disabled
    log = desk.project.folder / "trouble.log"
    assert log.exists() != isinstance(error, PlanError)
    if log.exists():
        assert type(error).__name__ in log.read_text()


def test_the_log_of_troubles_stays_small_and_takes_anything(desk, monkeypatch):
    log = desk.project.folder / "trouble.log"
    log.write_bytes(b"\xff\xfe" * 200_000)
    do_it, message = pressing(raising(KeyError("the newest")))
    do_it.click()
    assert "something went wrong" in message.value
    assert "the newest" in log.read_text()
    assert len(log.read_text()) <= 200_000

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.write_text", refuse)
    message.value = ""
    do_it.click()
    assert "something went wrong" in message.value


def test_a_button_looks_busy_until_it_has_answered_and_keeps_the_focus():
    """What is disabled, even for a moment, loses it in the browser."""
    seen = []
    do_it, _ = pressing(lambda: seen.append((BUSY in do_it._dom_classes, do_it.disabled)))
    do_it.click()
    assert seen == [(True, False)]
    assert BUSY not in do_it._dom_classes


def test_a_button_that_the_action_has_locked_stays_locked():
    """As where there is nothing left to accept."""

    def lock():
        do_it.disabled = True

    do_it, _ = pressing(lock)
    do_it.click()
    assert do_it.disabled


SECOND = timedelta(seconds=1)


@pytest.mark.parametrize(
    ("sent", "done"),
    [
        # when each press was made, counted from now, and how often something was done
        (
            [-SECOND, -SECOND],
            1,
        ),  # a double click: the second was made before the first was answered
        ([-SECOND, SECOND], 2),
        ([None, None], 2),  # no browser: a script, or a test
    ],
)
def test_the_second_press_of_a_double_click_is_not_heard(monkeypatch, sent, done):
    times, presses = list(sent), []
    now = datetime.now(UTC)

    def sent_at():
        ago = times.pop(0)
        return None if ago is None else now + ago

    monkeypatch.setattr(asking_file, "_sent_at", sent_at)
    do_it, _ = pressing(lambda: presses.append(1))
    for _ in sent:
        do_it.click()
    assert len(presses) == done


def test_after_the_clock_is_set_back_buttons_are_heard(monkeypatch):
    """By an hour, between two presses."""
    presses = []
    do_it, _ = pressing(lambda: presses.append(1))
    do_it.click()
    hour = timedelta(hours=1)

    class Earlier(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime.now(tz) - hour

    monkeypatch.setattr(asking_file, "datetime", Earlier)
    monkeypatch.setattr(asking_file, "_sent_at", lambda: datetime.now(UTC) - hour - SECOND)
    do_it.click()
    assert len(presses) == 2


def test_two_presses_on_two_threads_are_heard_one_after_the_other(monkeypatch):
    now = datetime.now(UTC)
    monkeypatch.setattr(asking_file, "_sent_at", lambda: now)
    inside, most = [], []

    def act():
        inside.append(1)
        most.append(len(inside))
        sleep(0.05)
        inside.pop()

    do_it, _ = pressing(act)
    with ThreadPoolExecutor(3) as pool:
        list(pool.map(lambda _: do_it.click(), range(3)))
    assert most == [1]


def test_a_tick_that_waits_is_not_lost(desk):
    """While it waits for the desk, another thread shows boxes as they were before that tick."""
    tick, held = yes("the sleeve"), []
    boxes_of_desk = DeskBoxes(desk, Pane(), lambda project: setattr(tick, "value", bool(held)))
    boxes_of_desk.follow()

    def changes():
        held[:] = [True] if tick.value else []
        return {}

    boxes_of_desk.hear(tick, changes)
    is_locked = threading.Event()

    def show_what_was_before():
        with desk.lock:
            is_locked.set()
            # The box is ticked at once; what it is to do waits for the lock.
            for _ in range(1000):
                if tick.value:
                    break
                sleep(0.005)
            boxes_of_desk.show()

    other = threading.Thread(target=show_what_was_before)
    other.start()
    is_locked.wait(5)
    tick.value = True
    other.join()
    assert held == [True]
    assert tick.value
