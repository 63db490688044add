"""Notebook 2: what is known of the knitter's hand, and planning anew with it."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import pandas as pd

from planner import pictures
from planner.buying import weighed
from planner.errors import PlanError
from planner.knitting import (
    balls_before_and_after,
    before_and_after,
    by_yarn,
    comparison_in_words,
    most_useful_next,
    planned_against_used,
)
from planner.multiplier import (
    PRIOR_MEAN,
    PRIOR_SPREAD,
    RULE_OF_THREE,
    Calibrated,
    Multiplier,
    calibration_of,
    evidence_in,
    ratio_of,
)
from planner.piece import (
    Measurement,
    MultiplierChoice,
    Project,
    in_force,
)
from planner.plan import Plan, make_plan
from planner.units import (
    CM_PER,
    LONG_UNIT,
    between,
    ends_of,
    known_in_words,
    show_total,
)
from planner.workbook.asking import (
    DeskBoxes,
    asking,
    bind,
    heard,
    number_setting,
    put_all,
)
from planner.workbook.common import (
    BY_MEASURED,
    BY_WHAT_WAS_MEASURED,
    is_measured_unused,
    measured_press,
    metres_per_gram,
)
from planner.workbook.desk import Desk
from planner.workbook.fields import (
    button,
    letter_box,
    number,
    yes,
)
from planner.workbook.panes import Form, Pane, lines_html, notice, table_html, yarn_patch
from planner.workbook.what_follows import counted_swatch

NINE_IN_TEN = (0.05, 0.95)
FIRST_LINES = 8  # of a long table
IN_ALL = (
    "In all is what the shopping list counts: the piece, and with it {}. What the piece alone "
    "takes goes from {} to {}."
)
DRAWN_WIDTH = 100  # of a range, in pixels
HOW_WORKED_OUT = (
    f"<p>Before any swatch a multiplier is taken as {PRIOR_MEAN:g}, give or take "
    f"{PRIOR_SPREAD:g} (so near in two hands of three): the knitters' rule of three, figures from "
    "real needles (3.1 and 3.4) and textile science for relaxed plain knitting (3.8 to 4.2) lie "
    "within it. Where these figures come from stands in shared/sources.csv. Each measurement "
    "narrows it, most for the yarn that was measured and less for the others, which come from the "
    "same hand; garter and stockinette are kept apart, but learn from each other.</p>"
)
ABOUT_USED = (
    '<div class="plan-note">What was wound less what was left, beside what the plan said when it '
    "was logged. One supply in ten lies outside what was allowed. If many more do, the gauge has "
    "drifted, or the yarns differ more than was allowed for.</div>"
)
NOTHING_YET = "Nothing is measured yet."


# ---- what is known of the hand


def hand_html(plan: Plan) -> str:
    """What is known of the knitter's hand: the multiplier of each yarn, drawn and in words.

    It is what was measured, whether the plan goes by it or not yet.
    """
    project = plan.project
    multipliers = _measured_multipliers(project)
    lows, highs = zip(*(ends_of(each) for each in multipliers.values()), strict=True)
    # The rule of three is always in sight, beside which the hand is seen.
    scale = min(*lows, RULE_OF_THREE) - 0.1, max(*highs, RULE_OF_THREE) + 0.1
    headings = ("yarn", "", "multiplier", "between", "stitches")
    lines = [_table_line("th", headings)]
    for letter, multiplier in multipliers.items():
        yarn = project.all_yarns[letter]
        cells = (
            f"{yarn_patch(yarn.colour)}{html.escape(yarn.title)}",
            _range_drawn(multiplier, scale),
            f"{multiplier.value:.2f}",
            between(multiplier.value, multiplier.spread).removeprefix("between "),
            f"{multiplier.stitches:,.0f}" if multiplier.stitches else "none: an estimate",
        )
        lines.append(_table_line("td", cells))
    return (
        f'<div class="plan-headline">{html.escape(hand_in_words(multipliers))}</div>'
        f'<div class="plan-table"><table>{"".join(lines)}</table></div>'
        '<div class="plan-note">The dot is likeliest; nine times in ten it lies within the bar. '
        "The line is the rule of three; stitches are those that were measured.</div>"
    )


def _table_line(tag: str, cells: Sequence[str]) -> str:
    # The names of yarns may be broken into lines; figures may not.
    name, *figures = cells
    inner = "".join(f'<{tag} class="s">{cell}</{tag}>' for cell in figures)
    return f"<tr><{tag}>{name}</{tag}>{inner}</tr>"


def _measured_multipliers(project: Project) -> dict[str, Calibrated]:
    calibration, fabric = calibration_of(project), project.how.fabric
    return {letter: calibration.multiplier(letter, fabric) for letter in project.chart.letters}


def hand_in_words(multipliers: Mapping[str, Calibrated]) -> str:
    """What is known of the hand, yarn by yarn, in a sentence."""
    known = f"Yarn a row takes: {known_in_words(multipliers)}."
    return (
        known if any(each.stitches for each in multipliers.values()) else f"{NOTHING_YET} {known}"
    )


def _range_drawn(multiplier: Multiplier, scale: tuple[float, float]) -> str:
    """A multiplier as a dot on its range, beside a line at the rule of three; as SVG."""
    low, high = scale

    def at(value: float) -> float:
        return round(DRAWN_WIDTH * (value - low) / (high - low), 1)

    left, right = (at(end) for end in ends_of(multiplier))
    words = html.escape(str(multiplier))
    rule = at(RULE_OF_THREE)
    # In the colour of letters, so that it shows on a light page and on a dark one.
    return (
        f'<svg width="{DRAWN_WIDTH}" height="16" role="img" aria-label="{words}" '
        'fill="currentColor" stroke="currentColor">'
        f'<line x1="{rule}" x2="{rule}" y1="0" y2="16" stroke-opacity="0.5"/>'
        f'<rect x="{left}" y="4" width="{right - left:.1f}" height="8" rx="4" '
        'fill-opacity="0.3" stroke="none"/>'
        f'<circle cx="{at(multiplier.value)}" cy="8" r="4" stroke="none"/></svg>'
    )


def hand_form(desk: Desk) -> Form:
    """What is known of the hand; if the plan does not go by it yet, a button that lets it."""
    return Form([desk.pane(hand_html), measured_press(desk)])


# ---- what was measured, as tables


def log_table(desk: Desk) -> pd.DataFrame:
    """The log as a table, each line with the multiplier it gives and whether it counts.

    The last line that was logged comes first.
    """
    log = desk.project.measurements
    held = {line.number for line in in_force(log)}
    fabric = desk.project.how.fabric
    return pd.DataFrame([_log_row(line, line.number in held, fabric) for line in reversed(log)])


def _log_row(line: Measurement, holds: bool, fabric: str) -> dict[str, Any]:
    # A line that another one corrects stays in the log, whatever it says of its use.
    counts = "yes" if line.use == "yes" else "left out"
    if not holds:
        counts = "corrected"
    return {
        "number": line.number,
        "date": line.date,
        "way": line.way,
        "yarn": line.yarn,
        # That of the piece goes without saying.
        "fabric": line.fabric if line.fabric != fabric else "",
        "stitches": round(evidence_in(line).stitches),
        "multiplier": f"{ratio_of(line):.2f}",
        "counts": counts,
        "strand": line.strand,
        "note": line.note,
    }


def log_in_words(plan: Plan) -> str:
    """How many measurements there are, and how many of them do not count."""
    log = in_force(plan.project.measurements)
    if not log:
        return "Measurements: none yet"
    left_out = sum(line.use != "yes" for line in log)
    does_not = "does not count yet" if left_out == 1 else "do not count yet"
    without = f", {left_out} {does_not}" if left_out else ""
    return f"Measurements: {len(log)}{without}"


def log_pane(desk: Desk) -> Pane:
    """The log, the last line first."""
    nothing = "Nothing is logged yet. Measure once, and it starts here."

    def logged(plan: Plan) -> str:
        if not plan.project.measurements:
            return nothing
        return table_html(log_table(desk), first=FIRST_LINES, yarns=plan.project.all_yarns)

    return desk.pane(logged)


def multiplier_table(desk: Desk) -> pd.DataFrame:
    """One row a yarn of the chart: its multiplier in the piece's fabric, and on what evidence."""
    project = desk.project
    unit = LONG_UNIT[project.units]
    # Metres for a row of one metre, which is a length that a knitter can picture; or yards.
    cm = float(CM_PER[unit])
    rows = []
    for letter, multiplier in _measured_multipliers(project).items():
        low, high = (float(multiplier.length_at(cm, p)[0]) / cm for p in NINE_IN_TEN)
        row = {
            "yarn": letter,
            "name": project.all_yarns[letter].name,
            "multiplier": f"{multiplier.value:.2f}",
            "give_or_take": f"{multiplier.spread:.2f}",
            f"nine_in_ten_rows_of_1_{unit}_take": f"{low:.2f} to {high:.2f} {unit}",
            "stitches_measured": round(multiplier.stitches),
            "from": multiplier.basis.removeprefix("from "),
        }
        rows.append(row)
    return pd.DataFrame(rows)


def worked_out_form(desk: Desk) -> Form:
    """How the multipliers are worked out: figures, sources, and how they were learnt."""
    figures = desk.table(lambda plan: multiplier_table(desk))
    picture = desk.picture(
        lambda plan: pictures.draw_multipliers(plan.project.measurements, plan.project.how.fabric),
        lambda plan: "The multiplier of each yarn, measurement by measurement",
    )
    return Form([Pane(value=HOW_WORKED_OUT), figures, picture])


def advice_in_words(plan: Plan) -> str:
    """What to measure next."""
    best = most_useful_next(plan, calibration_of(plan.project)).iloc[0]
    return f"Most useful to measure next: {plan.project.all_yarns[best.yarn].title}"


def advice_html(plan: Plan) -> str:
    """Which measurement would narrow the winding list most."""
    table = most_useful_next(plan, calibration_of(plan.project))
    unit = LONG_UNIT[plan.project.units]
    best = table.iloc[0]  # they are listed with the most useful one first
    saved = show_total(best[f"taken_off_{unit}"] * float(CM_PER[unit]), plan.project.units)
    advice = (
        f"Most useful next: {best.measure} in yarn {best.yarn}. It would take about {saved} off "
        "all margins."
    )
    lines = table_html(table, first=FIRST_LINES, yarns=plan.project.all_yarns)
    return f"<p>{html.escape(advice)}</p>{lines}"


def advice_pane(desk: Desk) -> Pane:
    """Which measurement would narrow the winding list most."""
    return desk.pane(advice_html)


# ---- planned against used


def used_table(plan: Plan) -> pd.DataFrame:
    """Planned against used, one row a supply that was measured after it was used."""
    return planned_against_used(plan.project.measurements, plan.project.units)


def used_in_words(plan: Plan) -> str:
    """How many of the supplies that were measured after use took what the plan allowed."""
    table = used_table(plan)
    if not len(table):
        return "Planned against used: no supply is measured yet"
    inside = int(table["inside"].astype(bool).sum())
    return f"Planned against used: {inside} of {len(table)} supplies took what the plan allowed"


def used_html(plan: Plan) -> str:
    """Planned against used: in words, by yarn, by supply."""
    table = used_table(plan)
    words = f"<p>{html.escape(comparison_in_words(table))}</p>"
    # Without a supply that was measured the words say that there is none yet.
    if not len(table):
        return words
    yarns = plan.project.all_yarns
    by_supply = table_html(table, first=FIRST_LINES, yarns=yarns)
    return f"{words}{table_html(by_yarn(table), yarns=yarns)}<br>{by_supply}"


def used_form(desk: Desk) -> Form:
    """Planned against used: in words, drawn, by yarn and by supply."""
    picture = desk.picture(
        lambda plan: pictures.draw_used_against_planned(used_table(plan)),
        lambda plan: comparison_in_words(used_table(plan)),
    )
    return Form([Pane(value=ABOUT_USED), picture, desk.pane(used_html)])


# ---- planning with what was measured


def measured_plan(desk: Desk) -> Plan:
    """The plan as it would be with the multipliers measured."""
    # The plan on the desk is that plan already; it need not be made twice.
    if desk.project.multiplier.way == "measured":
        return desk.plan
    return make_plan(replace(desk.project, multiplier=MultiplierChoice("measured")))


def lengths_in_words(plan: Plan) -> str:
    """What the lengths of a plan go by, in a line."""
    choice = plan.project.multiplier
    by = {
        "measured": "what was measured",
        "own": f"your own multiplier, {choice.value:g}" if choice.value else "your own multiplier",
        "rule of three": "the rule of three",
    }
    estimate = "an estimate before any swatch"
    if is_measured_unused(plan.project):
        estimate = "an estimate, not yet what was measured"
    return f"Lengths go by: {by.get(choice.way, estimate)}"


def balls_html(before: Plan, after: Plan) -> str:
    """What each yarn takes and what of it is to be bought, before and after; what that counts."""
    project = after.project
    table = table_html(balls_before_and_after(before, after), yarns=project.all_yarns)
    swatch = counted_swatch(project.allow, project.units)
    counted = f"{swatch} and {100 * project.allow.spare:g} % to spare"
    piece = [show_total(plan.yarn_cm, project.units) for plan in (before, after)]
    words = IN_ALL.format(counted, *piece)
    return f'{table}<div class="plan-note">{html.escape(words)}</div>'


def apply_form(desk: Desk) -> Form:
    """What changes if the plan goes by what was measured, and a button that does so."""
    # What changes is told against the plan as it was opened, also after it was applied.
    message, table, balls, opened = Pane(), Pane(), Pane(), desk.plan
    apply_button = button(BY_WHAT_WAS_MEASURED, icon="check", width="260px")
    once = number_setting("short_once_in", "a supply may fall short once in")

    def show(project: Project) -> None:
        put_all([once], project.allow, project)
        after = measured_plan(desk)
        yarns = project.all_yarns
        table.value = table_html(before_and_after(opened, after), first=FIRST_LINES, yarns=yarns)
        balls.value = balls_html(opened, after)
        goes_by_it = project.multiplier.way == "measured"
        apply_button.disabled = goes_by_it
        # Another way may have been chosen since.
        if not goes_by_it:
            message.value = ""

    def another_piece() -> None:
        nonlocal opened
        opened, message.value = desk.plan, ""

    @heard(message)
    def apply() -> None:
        desk.change(multiplier=MultiplierChoice("measured"))
        message.value = notice(BY_MEASURED)

    desk.on_arrival(another_piece)
    boxes = DeskBoxes(desk, message, show)
    bind(boxes, [once], lambda project: project.allow, lambda _, allow: {"allow": allow})
    boxes.follow()
    apply_button.on_click(apply)
    return Form([once.box, apply_button, message, balls, table])


# ---- by weight


def weighed_html(project: Project, *, letter: str, grams: float, scale: float, wool: bool) -> str:
    """Metres from grams of a yarn, weighed on a scale that shows steps of so many grams."""
    yarn = project.all_yarns[letter]
    per_gram = metres_per_gram(yarn)
    if per_gram is None:
        raise PlanError(
            f"Yarn {letter} has no length and weight of a ball in yarns.csv. Weigh a measured "
            "length instead."
        )
    total = weighed(
        grams,
        per_gram,
        step=scale,
        grams_per_ball=yarn.grams_per_ball,
        wool=wool,
        units=project.units,
    )
    return lines_html("\n".join(total.lines))


def weigh_form(desk: Desk) -> Form:
    """Metres from grams: a part ball, or all there is of a yarn."""
    return asking(
        lambda **typed: weighed_html(desk.project, **typed),
        desk=desk,
        letter=letter_box(desk),
        grams=number("weight (g)", 50),
        scale=number("the scale shows steps of (g)", 1),
        wool=yes("it is wool", True),
    )
