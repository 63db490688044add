"""Evidence: what each way of measuring says about the multiplier, with its error, and what is odd about it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from planner.errors import PlanError
from planner.multiplier.calibration import Calibration, Evidence, noise_variance
from planner.multiplier.multiplier import IMPOSSIBLE, QUERY_ABOVE, QUERY_BELOW, Multiplier
from planner.piece import MARKED, SUPPLY, UNRAVELLED, WEIGHED, WRAPS, Measurement, Project, in_force

STEP_TO_ERROR = 1 / math.sqrt(12)  # a reading to the nearest step is off evenly by up to half of it
WRAPS_ERROR = 0.20  # judgement: wraps round the needle are a guess
LABEL_ERROR, WEIGHED_ERROR = (
    0.10 / math.sqrt(3),
    0.01,
)  # metres per gram: a band's ±10 %; weighed from a measured length
EDGE_ERROR = 0.15  # judgement: cast-on and bind-off are known to about this share
TAIL_ERROR_CM = 1.5
WEAK_STITCHES = 20
FAR = 4.0  # standard errors from what the rest leads one to expect
CM_PER_INCH = 2.54


def evidence_in(line: Measurement) -> Evidence:
    """The yarn in the stitches and their width, with the standard error of the instrument."""
    ruler = line.length_step_cm * STEP_TO_ERROR
    stitches, rest = line.stitches, line.edges_cm + line.carried_cm + line.tails_cm
    if line.way in (MARKED, UNRAVELLED):
        used = line.length_cm
        error = math.hypot(
            ruler, used / stitches * STEP_TO_ERROR
        )  # the marks fall somewhere within a stitch
    elif line.way == WRAPS:
        stitches = 1
        used = line.length_cm / line.wraps
        error = WRAPS_ERROR * used
    elif line.way == WEIGHED:
        per_gram = 100 * line.metres_per_gram
        share = LABEL_ERROR if line.metres_per_gram_from == "label" else WEIGHED_ERROR
        weighed, step = line.grams * per_gram, line.grams_step * STEP_TO_ERROR * per_gram
        used = weighed - rest
        error = math.hypot(step, share * weighed, EDGE_ERROR * line.edges_cm)
    else:
        used = line.wound_cm - (line.left_cm or 0) - rest
        error = math.hypot(
            ruler, ruler, EDGE_ERROR * line.edges_cm, TAIL_ERROR_CM * (line.tails_cm > 0)
        )
    if used <= 0:
        raise PlanError(
            f"Measurement {line.number}: nothing is left for the stitches once tails, carries and edges ({rest:.0f} cm) are "
            "taken off. Check what was weighed or wound."
        )
    return Evidence(
        line.yarn,
        line.fabric,
        stitches * line.stitch_cm,
        used,
        error,
        0 if line.way == WRAPS else stitches,
    )


def ratio_of(line: Measurement) -> float:
    """The multiplier this measurement alone would give."""
    e = evidence_in(line)
    return e.used_cm / e.width_cm


def arithmetic(line: Measurement) -> list[str]:
    """The sum that leads to the multiplier, line by line, to follow on paper."""
    e = evidence_in(line)
    lines = []
    if line.way == WEIGHED:
        in_all = line.grams * line.metres_per_gram
        lines.append(
            f"Yarn in the swatch: {line.grams:g} g × {line.metres_per_gram:.3g} m/g = {in_all:.2f} m"
        )
    elif line.way == SUPPLY:
        used = line.wound_cm - (line.left_cm or 0)
        lines.append(
            f"Used: {line.wound_cm:.1f} cm wound − {line.left_cm or 0:.1f} cm left = {used:.1f} cm"
        )
    elif line.way == WRAPS:
        lines.append(
            f"Yarn in a stitch, guessed: {line.length_cm:.1f} cm ÷ {line.wraps:g} wraps = {e.used_cm:.2f} cm"
        )
    if line.way in (WEIGHED, SUPPLY):
        taken = [
            (line.tails_cm, "tails"),
            (line.carried_cm, "carries"),
            (line.edges_cm, "cast-on and bind-off"),
        ]
        off = "".join(f" − {cm:.1f} cm {what}" for cm, what in taken if cm)
        lines.append(
            f"In the stitches: {e.used_cm + sum(cm for cm, _ in taken):.1f} cm{off} = {e.used_cm:.1f} cm"
        )
    stitches = 1 if line.way == WRAPS else line.stitches
    width, within = f"{e.width_cm:.2f} cm", f"read to within ±{e.error_cm / e.width_cm:.2f}"
    lines.append(
        f"Width of the stitches: {stitches:g} × {line.gauge_over_cm:.4g} cm ÷ {line.gauge_stitches:g} = {width}"
    )
    lines.append(f"Multiplier: {e.used_cm:.2f} cm ÷ {width} = {ratio_of(line):.2f}, {within}")
    return lines


def evidence_of(log: Iterable[Measurement]) -> list[Evidence]:
    """The evidence of the lines in force that are to be used."""
    return [evidence_in(m) for m in in_force(log) if m.use == "yes"]


def judge(new: Measurement, log: Sequence[Measurement] = ()) -> list[str]:
    """Questions that a measurement raises; none if it fits. One that is impossible is refused."""
    alone, e = ratio_of(new), evidence_in(new)
    in_inches, inches = alone * CM_PER_INCH, ""
    if QUERY_BELOW <= in_inches <= QUERY_ABOVE:
        inches = f" Was it measured in inches? Then it is {in_inches:.2f}."
    if alone <= IMPOSSIBLE:
        raise PlanError(
            f"The multiplier comes out as {alone:.2f}: yarn cannot be shorter than the row it makes. "
            f"Check stitches, gauge, weight and length.{inches}"
        )
    said = []
    if not QUERY_BELOW <= alone <= QUERY_ABOVE:
        if QUERY_BELOW <= alone / CM_PER_INCH <= QUERY_ABOVE:
            why = f"Was the gauge counted over inches? Then it is {alone / CM_PER_INCH:.2f}. Or is it a figure for crochet?"
        elif alone > QUERY_ABOVE:
            why = "Is it a figure for crochet, or was the cast-on left out of the count?"
        else:
            why = f"Was the swatch stretched, or were stitches counted that this yarn did not make?{inches}"
        said.append(
            f"A multiplier of {alone:.2f} is outside {QUERY_BELOW:g} to {QUERY_ABOVE:g}. {why}"
        )
    together = in_force([*(m for m in log if m.number != new.number), new])
    rest = evidence_of(m for m in together if m.number != new.number)
    if rest:
        calibration = Calibration(rest, [new.yarn])
        expected = calibration.multiplier(new.yarn, new.fabric)
        noise = math.sqrt(noise_variance(e.width_cm, calibration.noise))
        away = (e.used_cm - expected.value * e.width_cm) / math.hypot(
            expected.spread * e.width_cm, noise, e.error_cm
        )
        if abs(away) > FAR:
            where, likely = "above", "the cast-on left out, or a double strand"
            if away < 0:
                where, likely = "below", "a stretched gauge, or stitches of another yarn counted in"
            said.append(
                f"It lies {abs(away):.0f} standard errors {where} what your other measurements lead one to expect "
                f"({expected.value:.2f}). A likely reason: {likely}."
            )
    if new.state != new.gauge_state:
        said.append(
            f"The yarn was measured {new.state}, its gauge {new.gauge_state}: blocking changes the width, not the yarn. "
            "Count the gauge in the same state."
        )
    share = 100 * new.grams_step * STEP_TO_ERROR / new.grams if new.way == WEIGHED else 0
    if share > 3:
        said.append(
            f"A {new.grams_step:g} g step leaves ±{share:.1f} % here; weigh several swatches together."
        )
    return said


def remarks(new: Measurement) -> list[str]:
    """What is worth knowing about a measurement that is not wrong: that it is weak evidence."""
    if new.way == WRAPS or new.stitches >= WEAK_STITCHES:
        return []
    return [
        f"{new.stitches:g} stitches are weak evidence and count for little; {WEAK_STITCHES} or more tell much more."
    ]


def same_as(new: Measurement, log: Sequence[Measurement]) -> Measurement | None:
    """The line in force that says the same as a new one, which must not count twice."""
    others = [m for m in in_force(log) if m.number != new.corrects]
    return next(
        (
            m
            for m in others
            if replace(m, number=new.number, use=new.use, corrects=new.corrects) == new
        ),
        None,
    )


def calibration_of(project: Project) -> Calibration:
    """What the measurements of a piece say of its multipliers, whether the plan goes by them or not."""
    return Calibration(evidence_of(project.measurements), project.chart.letters)


def multipliers_of(project: Project) -> dict[str, Multiplier]:
    """The multiplier of each yarn on the chart of a piece, as its knitter chose."""
    letters, choice = project.chart.letters, project.multiplier
    if choice.way not in ("estimate", "measured"):
        return {letter: Multiplier.chosen(choice) for letter in letters}
    calibration = calibration_of(project) if choice.way == "measured" else Calibration([], letters)
    return {letter: calibration.multiplier(letter, project.how.fabric) for letter in letters}
