"""The forms of notebook 2 beside the measuring form: the hand, the log, planning, weighing."""

import re
import tomllib
from dataclasses import replace

import pytest

from planner import Gauge, make_plan, open_project
from planner.folder import read_measurements, read_text
from planner.knitting import before_and_after, most_useful_next
from planner.multiplier import calibration_of
from planner.piece import (
    MARKED,
    SUPPLY,
    MultiplierChoice,
)
from planner.workbook import (
    Desk,
    Form,
    Pane,
    advice_pane,
    apply_form,
    hand_form,
    lengths_in_words,
    log_in_words,
    log_pane,
    log_table,
    measure_form,
    multiplier_table,
    supply_values,
    used_form,
    used_in_words,
    weigh_form,
    worked_out_form,
)
from tests.helpers.forms import box, boxes, said, words_of
from tests.helpers.measuring import LOG, TYPED, fill, log, opened

# What was logged


def test_log_pane(desk):
    pane = log_pane(desk)
    assert "invented for the demo" in pane.value
    assert "1 swatch" not in pane.value
    box(fill(measure_form(desk), MARKED, note="<b>1 swatch</b>", **TYPED[MARKED]), LOG).click()
    assert "&lt;b&gt;1 swatch&lt;/b&gt;" in pane.value


def test_log_table(desk):
    table = log_table(desk).set_index("number")
    assert len(table) == 17
    assert table.index[0] == 17  # the last line comes first
    # 59 stitches of half a centimetre from a metre: 100 ÷ 29.5
    assert table.loc[1, ["way", "multiplier", "counts"]].tolist() == [MARKED, "3.39", "yes"]
    assert table.loc[4, "strand"] == "K1"
    assert set(table.counts) == {"yes"}


def test_multiplier_table(desk):
    table = multiplier_table(desk).set_index("yarn")
    calibration = calibration_of(desk.project)
    assert sorted(table.index) == sorted(desk.project.chart.letters)
    for yarn, row in table.iterrows():
        m = calibration.multiplier(yarn, "stockinette")
        assert (row.multiplier, row.give_or_take) == (f"{m.value:.2f}", f"{m.spread:.2f}")
        low, high = map(float, re.findall(r"\d\.\d\d", row.nine_in_ten_rows_of_1_m_take))
        assert float(m.chance_over(100, 100 * low)[0]) == pytest.approx(0.95, abs=0.02)
        assert float(m.chance_over(100, 100 * high)[0]) == pytest.approx(0.05, abs=0.02)
    own = [m for m in desk.project.measurements if m.yarn == "N"]
    assert table.stitches_measured["N"] == sum(m.stitches for m in own)
    assert "3 measurements of N" in table.loc["N", "from"]


def test_what_is_known_of_the_hand(desk):
    """In words for all yarns together, and one line a yarn: likeliest, between, and stitches."""
    form = hand_form(desk)
    each = calibration_of(desk.project).multiplier("K", "stockinette")
    text = " ".join(said(form).split())
    assert "Yarn a row takes: between 3.0 and 3.8 times the knitted width (measured)." in text
    assert f"{each.value:.2f} {each.value - 1.645 * each.spread:.2f} and" in text
    assert "±" not in text
    assert lengths_in_words(desk.plan) == "Lengths go by: an estimate, not yet what was measured"
    box(form, "Plan with what was measured").click()
    assert desk.project.multiplier.way == "measured"
    assert lengths_in_words(desk.plan) == "Lengths go by: what was measured"
    assert "Plan with what" not in words_of(form.words())


def test_lengths_by_a_figure_of_ones_own(desk):
    desk.change(multiplier=MultiplierChoice("own", 3.25))
    assert lengths_in_words(desk.plan) == "Lengths go by: your own multiplier, 3.25"


def test_a_supply_that_is_put_right_keeps_what_was_planned_then(desk):
    """The plan has gone on; what it said when the supply was logged is what it is compared with."""
    (first, *_) = [line for line in desk.project.measurements if line.way == SUPPLY]
    desk.change(multiplier=MultiplierChoice("own", 5))
    form = opened(measure_form(desk))
    box(form, "this is").value = first.number
    box(form, "left over").value += 1
    log(form)
    again = desk.project.measurements[-1]
    assert again.left_cm == first.left_cm + 1
    assert again.planned_cm == first.planned_cm != supply_values(desk, first.strand)["planned_cm"]


def test_another_gauge_of_the_piece_is_taken_up(demo_copy):
    """What the boxes began with follows; what was counted of the swatch itself does not."""
    desk = Desk(open_project(demo_copy))
    form = opened(measure_form(desk))
    desk.change(gauge=Gauge(24, 32))
    assert box(form, "gauge of the same fabric").value == 24
    box(form, "gauge of the same fabric").value = 23
    desk.change(gauge=Gauge(26, 32))
    assert box(form, "gauge of the same fabric").value == 23


def test_planned_against_used(desk):
    form, heading = used_form(desk), "Planned against used: {} of {} supplies took what the plan "
    assert "of 14 supplies used what the plan allowed" in said(form)
    assert used_in_words(desk.plan).startswith(heading.format(12, 14))
    log(fill(measure_form(desk), SUPPLY, strand="W6", left=5))
    assert "of 15 supplies used what the plan allowed" in said(form)
    assert used_in_words(desk.plan).startswith(heading.format(13, 15))


def test_advice_pane(desk):
    pane = advice_pane(desk)
    best = most_useful_next(desk.plan, calibration_of(desk.project)).iloc[0]
    said_first = (
        f"Most useful next: a marked length of 1 m in yarn {best.yarn}. "
        f"It would take about {best.taken_off_m:.1f} m off"
    )
    assert said_first in words_of(pane.value)
    before = pane.value
    form = fill(measure_form(desk), MARKED, yarn=best.yarn, length=100, stitches=57)
    for _ in range(3):
        box(form, LOG).click()
    assert pane.value != before


def picture_in(form):
    (picture,) = [pane.value for pane in boxes(form, Pane) if "<img " in pane.value]
    return picture


def test_pictures_follow_the_log(desk):
    forms = [used_form(desk), worked_out_form(desk)]
    before = [picture_in(form) for form in forms]
    assert "of 14 supplies" in before[0]
    log(fill(measure_form(desk), SUPPLY, strand="W6", left=5))
    assert all(picture_in(form) != old for form, old in zip(forms, before, strict=True))


def test_a_piece_without_measurements(demo_copy):
    (demo_copy / "measurements.csv").unlink()
    desk = Desk(open_project(demo_copy))
    assert "Nothing is logged yet" in log_pane(desk).value
    assert "No supply has been measured after use yet." in said(used_form(desk))
    assert "no supply is measured yet" in used_in_words(desk.plan)
    assert log_in_words(desk.plan) == "Measurements: none yet"
    hand = said(hand_form(desk))
    assert "Nothing is measured yet. Yarn a row takes: between 3.0 and 4.4 times" in hand
    assert "Plan with" not in words_of(hand_form(desk).words())  # there is nothing to plan with
    assert "as it is" in apply_form(desk).words()
    for form in (used_form(desk), worked_out_form(desk)):
        assert picture_in(form)
    assert set(multiplier_table(desk).multiplier) == {"3.70"}
    form = fill(measure_form(desk), MARKED, **TYPED[MARKED])
    box(form, LOG).click()
    assert [m.number for m in read_measurements(demo_copy)] == [1]


# Planning with what was measured


def test_apply_form(desk):
    """The winding list changes, piece.toml says so, and its comments stay.

    The piece opened again plans the same.
    """
    folder = desk.project.folder
    comments = [
        line for line in read_text(folder / "piece.toml").splitlines() if line.startswith("#")
    ]
    form, pane = apply_form(desk), desk.table(lambda plan: plan.winding_list)
    before, table = pane.value, before_and_after(desk.plan, make_plan(open_project(folder)))
    assert set(table.what_to_do) == {"as it is"}
    assert "unwind" in said(form)  # what would change is shown before anything is changed
    assert (
        tomllib.loads(read_text(folder / "piece.toml")).get("multiplier", {}).get("way")
        != "measured"
    )

    box(form, "Plan with what was measured").click()
    assert desk.project.multiplier == MultiplierChoice("measured")
    assert tomllib.loads(read_text(folder / "piece.toml"))["multiplier"]["way"] == "measured"
    assert [line for line in comments if line not in read_text(folder / "piece.toml")] == []
    assert "the plan goes by your measurements now" in said(form)
    assert "unwind" in said(form)  # still against the plan as it was opened
    assert pane.value != before
    again = make_plan(open_project(folder))
    assert again.winding_list.line.tolist() == desk.plan.winding_list.line.tolist()


def test_once_applied_every_measurement_changes_the_lengths(desk):
    box(apply_form(desk), "Plan with what was measured").click()
    pane = desk.table(lambda plan: plan.winding_list)
    before = pane.value
    log(fill(measure_form(desk), MARKED, yarn="Y", length=100, stitches=50))
    assert pane.value != before


def test_apply_form_asks_how_often_a_supply_may_fall_short(desk):
    form = apply_form(desk)
    box(form, "Plan with what was measured").click()
    often = desk.plan.yarn_cm
    box(form, "a supply may fall short once in").value = 100
    assert desk.project.allow.short_once_in == 100
    assert desk.plan.yarn_cm > often
    box(form, "a supply may fall short once in").value = 1
    assert "2 or more" in said(form)
    assert desk.project.allow.short_once_in == 100
    box(form, "a supply may fall short once in").value = 50
    assert "2 or more" not in said(form)


def test_apply_form_follows_new_measurements(desk):
    form = apply_form(desk)
    before = said(form)
    for _ in range(2):
        log(fill(measure_form(desk), MARKED, yarn="T", length=130, stitches=60))
    assert said(form) != before


# By weight


def test_weigh_form(desk):
    """35 g of a yarn with 100 m in 50 g: 70 m, 0.7 of a ball; of one with 85 m in 50 g: 59.5 m."""
    form = weigh_form(desk)
    fill_weight = {"yarn": "K", "weight": 35, "the scale": 1}
    for name, value in fill_weight.items():
        box(form, name).value = value
    assert "35 g × 2 m/g = 70 m" in said(form)
    assert "0.70 of a ball of 50 g" in said(form)
    assert "7–9 % short" in said(form)
    box(form, "yarn").value = "Y"
    assert "35 g × 1.7 m/g = 60 m" in said(form)
    box(form, "it is wool").value = False
    assert "short" not in said(form)
    box(form, "weight").value = 0
    assert "Please look at this" in said(form)
    assert "more than 0" in said(form)


def test_weigh_form_of_a_yarn_whose_band_is_lost(demo_copy):
    path = demo_copy / "yarns.csv"
    path.write_text(path.read_text().replace("K,Rock,#4b4a4d,100,50", "K,Rock,#4b4a4d,,"))
    form = weigh_form(Desk(open_project(demo_copy)))
    box(form, "yarn").value = "K"
    assert (
        "Yarn K has no length and weight of a ball in yarns.csv. Weigh a measured length instead."
        in said(form)
    )


def test_weigh_form_in_yards(demo_copy):
    form = weigh_form(Desk(replace(open_project(demo_copy), units="in")))
    box(form, "yarn").value, box(form, "weight").value = "K", 35
    assert "= 77 yd" in said(form)


def test_forms_are_html_without_a_kernel(desk):
    """A saved notebook shows what was filled in and answered."""
    forms = [fill(measure_form(desk), MARKED, **TYPED[MARKED]), apply_form(desk), weigh_form(desk)]
    for form in forms:
        assert isinstance(form, Form)
        data = form._repr_mimebundle_()
        assert "Run this cell to change it here." in data["text/html"]
    assert "100 cm ÷ 27.5 cm = 3.64" in forms[0].words()
    assert len(boxes(forms[0])) > 10
