"""A form declared by its fields and a plain function of their values."""

import pytest

from planner import Chart, PlanError
from planner.piece import MultiplierChoice
from planner.units import show
from planner.workbook.asking import asking
from planner.workbook.fields import length, letter_box, number, one_of, strand_box, whole
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
