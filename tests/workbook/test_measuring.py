"""The measuring form: every way, what is asked about and what is refused, corrections."""

import re
from dataclasses import replace
from datetime import date

import pytest

from planner import CarryLimits, open_project
from planner.folder import read_measurements
from planner.multiplier import ratio_of
from planner.piece import (
    MARKED,
    SUPPLY,
    UNRAVELLED,
    WAYS,
    WEIGHED,
    WRAPS,
    Allowances,
    MultiplierChoice,
)
from planner.workbook import (
    Desk,
    Pane,
    hand_form,
    log_in_words,
    log_table,
    measure_form,
    measuring_fields,
    supply_values,
)
from planner.workbook.measuring import measurement_of, next_number
from tests.helpers.forms import box, boxes, by_label, said, small
from tests.helpers.measuring import CHECKED, LOG, TYPED, fill, lines, log, opened
from tests.helpers.progress import small_piece

# Each way: the sum as it is typed, then one line in the log

SUMS = {
    MARKED: ["55 × 10 cm ÷ 20 = 27.5 cm", "100 cm ÷ 27.5 cm = 3.64"],
    UNRAVELLED: ["60 × 10 cm ÷ 20 = 30 cm", "105 cm ÷ 30 cm = 3.50"],
    # cast-on and bind-off of 26 stitches: 13 cm × (4 + 6)
    WEIGHED: [
        "8.3 g × 2 m/g = 16.6 m",
        "− 30 cm tails − 130 cm cast-on and bind-off = 1500 cm",
        "÷ 442 cm = 3.39",
    ],
    WRAPS: ["17 cm ÷ 10 wraps = 1.7 cm", "1.7 cm ÷ 0.5 cm = 3.40"],
    SUPPLY: ["120 cm wound − 13.5 cm left = 106.5 cm", "− 30 cm tails"],
}


def test_every_way_is_offered(desk):
    form = measure_form(desk)
    assert tuple(box(form, "way of measuring").options) == WAYS == tuple(TYPED)
    assert "The sum appears here" in said(form)


@pytest.mark.parametrize("way", WAYS)
def test_the_sum_appears_and_the_button_logs_a_line(desk, way):
    before = lines(desk)
    form = fill(
        measure_form(desk), way, note="in the train", date="2026-04-20", needle=4.5, **TYPED[way]
    )
    text = said(form)
    assert [line for line in SUMS[way] if line not in text] == [], text
    assert "Please look at this" not in text
    box(form, LOG).click()
    assert lines(desk)[:-1] == before
    new = read_measurements(desk.project.folder)[-1]
    assert (new.number, new.way, new.use, new.note, new.date) == (
        18,
        way,
        "yes",
        "in the train",
        "2026-04-20",
    )
    assert (new.gauge_stitches, new.gauge_over_cm, new.needle_mm) == (20, 10, 4.5)
    assert desk.project.measurements[-1] == new
    assert f"logged as number 18, multiplier {ratio_of(new):.2f}." in said(form)


def test_what_is_logged_of_each_way(desk):
    form = measure_form(desk)
    for way, typed in TYPED.items():
        fill(form, way, **typed)
        box(form, LOG).click()
    marked, unravelled, swatch, wraps, supply = read_measurements(desk.project.folder)[17:]
    assert (marked.yarn, marked.stitches, marked.length_cm, marked.length_step_cm) == (
        "K",
        55,
        100,
        0.5,
    )
    assert (unravelled.yarn, unravelled.stitches, unravelled.length_cm) == ("R", 60, 105)
    assert (
        swatch.grams,
        swatch.grams_step,
        swatch.metres_per_gram,
        swatch.metres_per_gram_from,
    ) == (8.3, 0.1, 2, "label")
    assert (swatch.stitches, swatch.edges_cm, swatch.tails_cm) == (884, 130, 30)
    assert (wraps.yarn, wraps.wraps, wraps.length_cm) == ("T", 10, 17)
    assert (supply.strand, supply.yarn, supply.wound_cm, supply.left_cm) == ("W6", "W", 120, 13.5)


def test_a_supply_knows_what_the_plan_knows(desk):
    """Stitches, carries, tails of its strand, and what was planned, from the plan as it stands."""
    desk.change(multiplier=MultiplierChoice("measured"))
    strand = desk.plan.strands.set_index("strand").loc["W6"]
    stitches = desk.plan.traced.table().set_index("strand").stitches["W6"]
    form = fill(measure_form(desk), SUPPLY, strand="W6")
    assert box(form, "wound").value == pytest.approx(
        5 * -(-100 * strand.wound_m // 5)
    )  # to 5 cm, as the winding list says
    box(form, "left over").value = 12
    box(form, LOG).click()
    new = read_measurements(desk.project.folder)[-1]
    assert (new.stitches, new.tails_cm, new.edges_cm) == (stitches, 30, 0)
    assert new.carried_cm == pytest.approx(100 * strand.carried_m, abs=0.06)
    assert new.planned_cm == pytest.approx(100 * (strand.wound_m - strand.margin_m), abs=0.11)
    assert new.planned_high_cm == pytest.approx(100 * strand.wound_m, abs=0.06)
    assert new.planned_low_cm < new.planned_cm < new.planned_high_cm


def test_date_is_today_unless_said_otherwise(desk):
    assert box(opened(measure_form(desk)), "date").value == date.today().isoformat()


def test_the_band_gives_metres_in_a_gram(desk):
    """100 m in 50 g."""
    form = fill(measure_form(desk), WEIGHED, yarn="N")
    assert box(form, "metres in a gram").value == 2


@pytest.mark.parametrize("unit", ["cm", "in"])
def test_one_band_is_one_figure_in_any_unit(desk, unit):
    """100 m and 85 m in 50 g are 2.187 and 1.859 yd in a gram, and are logged as 2 and 1.7 m."""
    form = fill(measure_form(desk), WEIGHED, units="cm")
    box(form, "lengths in").value = unit
    for yarn, metres, yards in (("N", 2, 2.187), ("Y", 1.7, 1.859)):
        box(form, "yarn").value = yarn
        word, per_gram = ("metres", metres) if unit == "cm" else ("yards", yards)
        assert box(form, f"{word} in a gram").value == per_gram
        box(form, "weight").value, box(form, "stitches").value = 4, 400
        log(form)
        new = read_measurements(desk.project.folder)[-1]
        assert (new.yarn, new.metres_per_gram, new.gauge_over_cm) == (yarn, metres, 10)


def test_another_yarn_has_a_band_of_its_own(desk):
    """85 m in 50 g: its swatch must not be reckoned with the metres of the yarn chosen before."""
    form = fill(measure_form(desk), WEIGHED, yarn="N")
    box(form, "yarn").value = "Y"
    assert box(form, "metres in a gram").value == pytest.approx(1.7)


def test_inches(desk):
    """A yard in inches, 20 stitches over 4 in: 48 stitches are 9.6 in wide, 36 ÷ 9.6 = 3.75."""
    form = fill(
        measure_form(desk), MARKED, yarn="K", units="in", over=4, length=36, stitches=48, step=0.125
    )
    assert "36 in ÷ 9.6 in = 3.75" in said(form)
    box(form, LOG).click()
    new = read_measurements(desk.project.folder)[-1]
    assert (new.length_cm, new.gauge_over_cm, new.length_step_cm) == pytest.approx(
        (91.44, 10.16, 0.3175)
    )
    assert ratio_of(new) == pytest.approx(3.75)


@pytest.mark.parametrize("way", [MARKED, SUPPLY])
def test_what_is_typed_keeps_its_length_when_the_unit_changes(desk, way):
    form = fill(measure_form(desk), way, **TYPED[way])
    (before,) = re.findall(r"= [0-9.]+ \(as read, [a-z0-9. ]+\)", said(form))
    box(form, "lengths in").value = "in"
    typed = TYPED[way]["length" if way == MARKED else "wound"]
    assert box(form, "length of yarn" if way == MARKED else "wound").value == pytest.approx(
        typed / 2.54, abs=1e-4
    )
    assert box(form, "over").value == pytest.approx(10 / 2.54, abs=1e-4)
    assert before in said(form)
    box(form, "lengths in").value = "cm"
    assert box(form, "over").value == pytest.approx(10, abs=1e-3)


def test_a_piece_in_inches_is_measured_in_inches(demo_copy):
    desk = Desk(replace(open_project(demo_copy), units="in"))
    form = fill(measure_form(desk), SUPPLY, strand="W6")
    assert box(form, "lengths in").value == "in"
    assert box(form, "over").value == pytest.approx(10 / 2.54, abs=1e-4)
    log(form)
    new = read_measurements(demo_copy)[-1]
    assert new.wound_cm == pytest.approx(
        91.44 / 4 * round(new.wound_cm / (91.44 / 4)), abs=0.02
    )  # a quarter of a yard


# What raises a question is asked about once, at its place, and then logged


def test_what_is_unlikely_is_queried_and_logged_once_it_is_checked(desk):
    """36 in typed as cm: 1.50."""
    before = lines(desk)
    form = fill(measure_form(desk), MARKED, yarn="K", length=36, stitches=48)
    assert "Please look at this: A multiplier of 1.50 is outside 2.5 to 5.5" in said(form)
    assert "inches" in said(form)
    assert box(form, CHECKED).layout.display == "none"
    box(form, LOG).click()
    assert lines(desk) == before
    assert "Not logged yet. Look at the question below" in said(form)
    # The question stands once, in the sum, and is not announced by a second mark.
    assert said(form).count("Please look at this") == 1
    assert box(form, CHECKED).layout.display == ""
    box(form, CHECKED).click()
    new = read_measurements(desk.project.folder)[-1]
    assert (new.number, new.use) == (18, "yes")
    assert "logged as number 18" in said(form)
    assert box(form, CHECKED).layout.display == "none"


def test_what_was_checked_is_checked_as_it_stood(desk):
    form = fill(measure_form(desk), MARKED, yarn="K", length=36, stitches=48)
    box(form, LOG).click()
    fill(form, MARKED, yarn="K", length=37, stitches=48)
    assert box(form, CHECKED).layout.display == "none"
    box(form, CHECKED).click()  # heard late: the second press of a double click
    box(form, LOG).click()
    assert [line.length_cm for line in read_measurements(desk.project.folder)[17:]] == [37]


def test_few_stitches_are_weak_but_count(desk):
    form = fill(measure_form(desk), MARKED, yarn="K", length=30, stitches=16)
    assert "16 stitches are weak evidence" in said(form)
    box(form, LOG).click()
    assert read_measurements(desk.project.folder)[-1].use == "yes"


def test_a_line_that_was_left_out_counts_once_it_is_checked(demo_copy):
    """A line that says of itself that it does not count is chosen, and logged as it is."""
    path = demo_copy / "measurements.csv"
    text = path.read_text()
    first = text.splitlines()[1]
    path.write_text(text.replace(first, first.replace(",yes,", ",no,", 1), 1))
    desk = Desk(open_project(demo_copy))
    assert log_in_words(desk.plan) == "Measurements: 17, 1 does not count yet"
    form = opened(measure_form(desk))
    box(form, "this is").value = 1
    log(form)
    counts = log_table(desk).set_index("number").counts
    assert (counts[1], counts[18]) == ("corrected", "yes")
    assert log_in_words(desk.plan) == "Measurements: 17"


@pytest.mark.parametrize("unit", ["cm", "in"])
def test_a_line_chosen_fills_in_what_it_says(desk, unit):
    """Logged as it was filled in, it says the same; whichever way it was measured."""
    form = opened(measure_form(desk))
    for way, typed in TYPED.items():
        fill(form, way, **typed)
        log(form)
    box(form, "lengths in").value = unit
    written = read_measurements(desk.project.folder)
    for line in written[17:]:
        box(form, "this is").value = line.number
        log(form)
        again = read_measurements(desk.project.folder)[-1]
        assert again.corrects == line.number
        assert again == replace(line, number=again.number, corrects=again.corrects)


def test_a_second_press_logs_nothing_twice(desk):
    form = fill(measure_form(desk), MARKED, yarn="K", length=100, stitches=56)
    box(form, LOG).click()
    # The boxes are empty by then, but for those that the next measurement is likely to share.
    assert [box(form, label).value for label in ("length of yarn", "stitches")] == [0, 0]
    assert box(form, "yarn").value == "K"
    box(form, LOG).click()
    assert "it must be more than 0" in said(form)
    fill(form, MARKED, yarn="K", length=100, stitches=56)
    box(form, LOG).click()
    assert "number 18 says the same already" in said(form)
    assert len(read_measurements(desk.project.folder)) == 18


def test_what_is_typed_for_one_piece_is_not_logged_in_another(desk, tmp_path):
    form = fill(measure_form(desk), MARKED, yarn="K", length=100, stitches=56)
    box(form, "note").value = "of the cushion"
    (tmp_path / "other").mkdir()
    other = small_piece(tmp_path / "other")
    desk.go_to(other)
    boxes = [box(form, label).value for label in ("length of yarn", "stitches", "note")]
    assert boxes == [0, 0, ""]
    box(form, LOG).click()
    assert not desk.project.measurements


def test_what_is_logged_says_whether_the_lengths_follow(desk):
    form = fill(measure_form(desk), MARKED, yarn="K", length=100, stitches=56)
    box(form, LOG).click()
    assert "follow once you press “Plan with what was measured”" in said(form)
    box(hand_form(desk), "Plan with what was measured").click()
    box(fill(form, MARKED, yarn="K", length=101, stitches=56), LOG).click()
    assert said(form).count("The lengths to wind follow.") == 1


def test_a_correction(desk):
    """Number 2 was a metre of 57 stitches; it should have been 59. Its line stays."""
    before = lines(desk)
    form = fill(measure_form(desk), MARKED, yarn="W", length=100, step=0.5, stitches=59, corrects=2)
    box(form, LOG).click()
    assert lines(desk)[: len(before)] == before
    new = read_measurements(desk.project.folder)[-1]
    assert (new.number, new.corrects, new.stitches) == (18, 2, 59)
    counts = log_table(desk).set_index("number").counts
    assert (counts[2], counts[18]) == ("corrected", "yes")
    assert box(form, "this is").value == 0  # not the next one too
    choices = {number: words for words, number in box(form, "this is").options}
    assert choices[18].startswith("in place of 18: W, marked length")
    assert 2 not in choices  # it does not hold any more


def test_a_correction_is_not_judged_by_what_it_corrects(desk):
    form = fill(measure_form(desk), MARKED, yarn="Y", length=140, stitches=54)
    assert "far above" in said(form)
    log(form)
    fill(form, MARKED, yarn="Y", length=100, stitches=54, corrects=18)
    assert "far above" not in said(form)


# Mistakes


@pytest.mark.parametrize(
    ("way", "typed", "said_in_words"),
    [
        (MARKED, {"stitches": 0}, ["stitches", "more than 0"]),
        (MARKED, {"length": -100}, ["length", "-100"]),
        (MARKED, {"gauge": 0}, ["gauge"]),
        (MARKED, {"over": 0}, ["gauge", "over"]),
        (MARKED, {"length": 20}, ["0.73", "yarn cannot be shorter than the row"]),
        (UNRAVELLED, {"stitches": float("nan")}, ["stitches", "nan"]),
        (WEIGHED, {"per_gram": 0}, ["yarn N has no length in a gram", "band"]),
        (WEIGHED, {"grams": 0}, ["grams", "more than 0"]),
        (WEIGHED, {"gauge": 0}, ["gauge"]),
        (WEIGHED, {"edge": 2000}, ["nothing is left for the stitches"]),
        (WRAPS, {"wraps": 0}, ["wraps", "more than 0"]),
        (SUPPLY, {"left": 130}, ["more was left over than was wound", "exchanged"]),
        (SUPPLY, {"left": 119}, ["nothing is left for the stitches"]),
    ],
)
def test_what_is_impossible_is_said_and_not_logged(desk, way, typed, said_in_words):
    before = lines(desk)
    form = fill(measure_form(desk), way, **TYPED[way] | typed)
    box(form, LOG).click()
    text = said(form)
    assert "Please look at this" in text
    assert [word for word in said_in_words if word not in text] == [], text
    assert lines(desk) == before
    right = TYPED[way] | {"gauge": 20, "over": 10} | ({"per_gram": 2} if way == WEIGHED else {})
    box(fill(form, way, **right), LOG).click()
    assert len(lines(desk)) == len(before) + 1
    assert "Please look at this" not in said(form)


def test_a_measurement_without_a_date_is_not_logged(desk):
    """A line without one could not be read again, and would keep the piece from being opened."""
    form = fill(measure_form(desk), MARKED, **TYPED[MARKED])
    box(form, "date").value = ""
    box(form, LOG).click()
    assert len(open_project(desk.project.folder).measurements) >= 17  # it opens


def test_a_log_spoilt_meanwhile_is_said_and_left(desk):
    path = desk.project.folder / "measurements.csv"
    form = fill(measure_form(desk), MARKED, **TYPED[MARKED])
    path.write_text(path.read_text().replace(",59,100,", ',59,"100,500",'))
    before = path.read_bytes()
    box(form, LOG).click()
    assert 'decimal point: "100.500"' in said(form)
    assert path.read_bytes() == before


def test_two_kernels_log_into_one_piece(demo_copy):
    """Each takes the next number there is, and sees the other's line afterwards."""
    desks = [Desk(open_project(demo_copy)) for _ in range(2)]
    for desk in desks:
        box(fill(measure_form(desk), MARKED, **TYPED[MARKED]), LOG).click()
    assert [m.number for m in read_measurements(demo_copy)] == list(range(1, 20))
    assert len(desks[0].project.measurements) == 18
    assert len(desks[1].project.measurements) == 19


def test_a_piece_without_a_folder_has_nowhere_to_log():
    desk = small()
    form = fill(measure_form(desk), MARKED, yarn="A", length=100, stitches=54)
    box(form, LOG).click()
    assert "no folder" in said(form)


def test_the_form_follows_when_other_strands_are_traced(desk):
    """W9 is no more once the yarn may be carried further.

    The plan changes all the same, and the strands there are now are offered.
    """
    form = fill(measure_form(desk), SUPPLY, strand="W9")
    wide = CarryLimits(across=5, sideways="10 cm", up=10)
    desk.change(limits=wide, by_yarn={})
    assert desk.project.limits == wide
    assert "W9" not in desk.plan.traced.labels
    assert set(box(form, "strand").options) == set(desk.plan.traced.labels)
    box(form, LOG).click()
    assert read_measurements(desk.project.folder)[-1].strand in desk.plan.traced.labels


# The functions behind the forms


def typed_in(desk, **typed):
    """What stands in the boxes of the measuring form, once this is typed."""
    values = {name: field.value for name, field in measuring_fields(desk).items()}
    return values | typed


def test_a_measurement_of_what_was_typed(desk):
    """26 stitches of cast-on and bind-off at 20 in 10 cm: 13 cm × (4 + 6)."""
    swatch = {"way": WEIGHED, "grams": 8.3, "stitches": 884, "edge": 26, "metres_per_gram": 2}
    line = measurement_of(typed_in(desk, **swatch), 7, desk.project.allow, {})
    assert (line.number, line.edges_cm, line.needle_mm, line.corrects) == (7, 130, None, None)
    none = measurement_of(typed_in(desk, **swatch), 7, Allowances(cast_on=0, bind_off=0), {})
    assert none.edges_cm == 0


def test_lengths_are_in_the_unit_typed(desk):
    marked = typed_in(desk, way=MARKED, units="in", stitches=48, length_cm=36, gauge_over_cm=4)
    line = measurement_of(marked, 1, desk.project.allow, {})
    assert (line.length_cm, line.gauge_over_cm) == pytest.approx((91.44, 10.16))


def test_of_a_supply_the_plan_knows_more_than_was_typed(desk):
    used = typed_in(desk, way=SUPPLY, strand="W6", wound_cm=120, left_cm=13.5, fabric="garter")
    known = supply_values(desk, "W6")
    line = measurement_of(used, 1, desk.project.allow, known)
    assert (line.wound_cm, line.left_cm) == (120, 13.5)
    assert (line.fabric, line.yarn) == ("stockinette", "W")
    assert line.stitches == known["stitches"] > 0
    assert line.tails_cm == 30


def test_the_next_number_of_a_log(desk):
    log = desk.project.measurements
    assert next_number([]) == 1
    assert next_number(log) == len(log) + 1
    assert next_number(log[3:]) == len(log) + 1


def test_nothing_grows_above_the_button_that_logs(desk):
    """The sum is worked out as the last box is left, which is when the button is pressed."""
    form = measure_form(desk)
    beside = form.children[-1]
    presses, said_of_it = beside.children
    assert box(presses, "Log this measurement") in presses.children
    above = [child for child in boxes(form) if child not in boxes(beside)]
    before = [child.value for child in above if isinstance(child, Pane)]
    by_name = by_label(form)
    by_name["length of yarn (cm)"].value, by_name["stitches"].value = 100, 58
    assert "Multiplier: 100 cm" in said(said_of_it)
    assert [child.value for child in above if isinstance(child, Pane)] == before
