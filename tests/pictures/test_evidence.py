"""Pictures of what was measured: used against planned, the multiplier as it was learnt."""

from dataclasses import replace

import pandas as pd
import pytest

from planner import make_plan, open_project
from planner.knitting import planned_against_used
from planner.multiplier import Calibration, evidence_in, ratio_of
from planner.pictures import draw_multipliers, draw_used_against_planned
from planner.pictures.evidence import MOST_STEPS
from planner.piece import MARKED, Measurement, MultiplierChoice
from tests.conftest import DEMO
from tests.helpers.drawn import words_in

# Used against planned


def used_table(count, unit="m"):
    """A0 and B0 inside, A1 just at the end, A2 more than allowed, B1 less; many are repeated."""
    lengths = {
        "A0": (1.4, 1.45, 1.3, 1.5, True),
        "A1": (2.4, 2.5, 2.3, 2.5, True),
        "A2": (4.4, 5.45, 4.3, 4.5, False),
        "B0": (3, 2.95, 2.8, 3.2, True),
        "B1": (8.4, 7.1, 8.3, 8.5, False),
    }
    names = ["planned", "used", "at_least", "at_most"]
    columns = [f"{name}_{unit}" for name in names]
    table = pd.DataFrame.from_dict(lengths, orient="index", columns=[*columns, "inside"])
    strands = pd.Series(table.index, index=table.index)
    table = table.assign(strand=strands, yarn=strands.str[0]).reset_index(drop=True)
    return table.astype({"inside": object})[:count]


def test_used_against_planned_with_nothing_to_show():
    assert words_in(draw_used_against_planned(planned_against_used(()))) == [
        "Nothing to compare yet: log a supply after you have used it."
    ]


def marks_of(ax):
    """The points that are marked."""
    lines = [line for line in ax.lines if line.get_marker() not in ("None", None, "")]
    return {tuple(point) for line in lines for point in line.get_xydata().tolist()}


@pytest.mark.parametrize("unit", ["m", "yd"])
@pytest.mark.parametrize("count", [1, 2, 5])
def test_used_against_planned(unit, count):
    """A mark a supply, its interval, and the name of each that is outside."""
    table = used_table(count, unit)
    figure = draw_used_against_planned(table)
    planned, used = table[f"planned_{unit}"], table[f"used_{unit}"]
    against, over = figure.axes
    assert marks_of(against) == set(zip(planned, used, strict=True))
    assert marks_of(over) == set(zip(planned, 100 * (used / planned - 1), strict=True))
    for ax in figure.axes:
        assert len(ax.collections[0].get_segments()) == count
    words = words_in(figure)
    outside = table.strand[~table.inside.astype(bool)].tolist()
    assert [word for word in words if word in table.strand.tolist()] == outside
    assert any(f"({unit})" in word for word in words)


def test_used_against_planned_of_many():
    """More yarns than there are kinds of marks."""
    many = pd.concat([used_table(5).assign(yarn=chr(65 + n)) for n in range(14)])
    words = words_in(draw_used_against_planned(many.reset_index(drop=True)))
    assert {f"yarn {chr(65 + n)}" for n in range(14)} <= set(words)


# The multiplier


def marked(number, yarn="A", ratio=3.6, **other):
    return Measurement(
        number, "2026-03-02", MARKED, yarn, 20, stitches=54, length_cm=27 * ratio, **other
    )


def test_multipliers_with_nothing_to_show():
    assert words_in(draw_multipliers(())) == [
        "No measurement in stockinette yet. "
        "Before any, the multiplier is taken to lie between 3.0 and 4.4."
    ]
    assert "in garter yet" in words_in(draw_multipliers([marked(1)], "garter"))[0]


def test_multipliers_of_one_measurement():
    figure = draw_multipliers([marked(1)])
    learned = Calibration([evidence_in(marked(1))], ["A"]).multiplier("A", "stockinette")
    assert f"A: {learned}" in words_in(figure)
    (ax,) = figure.axes
    steps = next(
        line
        for line in ax.lines
        if len(line.get_ydata()) == 2 and line.get_drawstyle() == "steps-post"
    )
    assert steps.get_ydata() == pytest.approx([3.7, learned.value])


def test_multipliers_of_many():
    """A field a yarn; each mark where its measurement lies, a cross for one that is left out.

    Corrected ones are not there.
    """
    log = [marked(n, "ABCDE"[n % 5], 3.3 + n / 50) for n in range(1, 30)]
    log += [marked(30, "A", 3.9, use="no"), marked(31, "A", 2.0), marked(32, "A", 3.5, corrects=31)]
    figure = draw_multipliers(log)
    words = words_in(figure)
    shown = [ax for ax in figure.axes if ax.get_visible()]
    assert [(ax.get_title() or ax.get_title("left"))[0] for ax in shown] == list("ABCDE")
    marks = {
        (round(float(y), 6), line.get_marker()) for line in shown[0].lines for y in line.get_ydata()
    }
    own = [m for m in log if m.yarn == "A" and m.number != 31]
    assert {(round(ratio_of(m), 6), "x" if m.use == "no" else "o") for m in own} <= marks
    assert 2.0 not in {y for y, _ in marks}
    assert any("stockinette" in word for word in words)


def test_pictures_of_the_demo():
    project = open_project(DEMO)
    words_in(draw_used_against_planned(planned_against_used(project.measurements, project.units)))
    titles = words_in(draw_multipliers(project.measurements))
    plan = make_plan(replace(project, multiplier=MultiplierChoice("measured")))
    for yarn in {m.yarn for m in project.measurements}:
        assert f"{yarn}: {plan.multipliers[yarn]}" in titles


def test_a_long_log_is_shown_in_some_steps():
    """The curve ends where the whole log does, and begins with the first measurement by itself; all
    readings are marked, in the same picture as with fewer."""
    log = [marked(n, ratio=3.3 + n % 7 / 50) for n in range(1, 401)]
    log.append(marked(401, ratio=3.5, corrects=400))
    (ax,) = draw_multipliers(log).axes
    (curve,) = [line for line in ax.lines if line.get_drawstyle() == "steps-post"]
    places, values = curve.get_xdata().tolist(), curve.get_ydata()
    assert places[:3] == [0, 1, 2]
    assert places[-1] == 400  # number 400 is corrected
    assert len(places) <= MOST_STEPS
    for place in (1, 2, 400):
        in_force = log[:place] if place < 400 else [*log[:399], log[400]]
        learned = Calibration([evidence_in(m) for m in in_force], ["A"]).multiplier(
            "A", "stockinette"
        )
        assert values[places.index(place)] == pytest.approx(learned.value, rel=1e-12)
    (readings,) = [line for line in ax.lines if line.get_marker() == "o" and len(line.get_ydata())]
    assert readings.get_xdata().tolist() == list(range(1, 401))
    assert readings.get_ydata() == pytest.approx([ratio_of(m) for m in (*log[:399], log[400])])
