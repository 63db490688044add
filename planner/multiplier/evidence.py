"""Evidence: what each way of measuring says about the multiplier, how surely, and what is odd.

Each way of measuring is a function from a line of the log to a Reading: the yarn that was measured,
the instrument's standard error, and the words that tell where it comes from. What is not in the
stitches (tails, carries, edges) is then taken off in the same way for all.

The metres in a gram are wrong by the same share for all that is weighed by them, so that part of
the error goes into the evidence by itself, with what it belongs to: the yarn and the figure, of a
band or of a measured length. A scale that is off would be off for all its weighings, too. But the
log does not tell one scale from another, only how fine its steps are; so no error of a scale is
shared, and each weighing has that of its step.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from planner.errors import PlanError
from planner.multiplier.calibration import Band, Calibration, Evidence
from planner.multiplier.multiplier import IMPOSSIBLE, QUERY_ABOVE, QUERY_BELOW, Multiplier
from planner.piece import (
    MARKED,
    SUPPLY,
    UNRAVELLED,
    WEIGHED,
    WRAPS,
    Measurement,
    Project,
    in_force,
)
from planner.units import CM_PER, CM_PER_INCH, LONG_UNIT, between, show_measured, show_per_gram

# A reading to the nearest step is off evenly by up to half of it, so by step ÷ √12 as a standard
# error; evenly by up to a whole share either way is share ÷ √3.
STEP_TO_ERROR = 1 / math.sqrt(12)
# Metres in a gram: a band may be off by 10 % either way; a measured length that was weighed by 1 %.
LABEL_ERROR, WEIGHED_ERROR = 0.10 / math.sqrt(3), 0.01
WRAPS_ERROR = 0.20  # judgement: wraps round the needle are a guess
EDGE_ERROR = 0.15  # judgement: cast-on and bind-off are known to about this share
TAIL_ERROR_CM = 1.5
WEAK_STITCHES = 20
LABEL = "label"  # where metres in a gram are from, if not from a weighed length
FAR = 4.0  # standard errors from what the rest leads one to expect
COARSE_SCALE_PERCENT = 3  # a scale's step that leaves more than this is asked about


@dataclass(frozen=True)
class Reading:
    """What a way of measuring says, before what is not in the stitches is taken off."""

    yarn_cm: float
    # The instrument's standard error.
    error_cm: float
    # How many stitches the yarn made.
    stitches: float
    # Where the yarn's length comes from, if it was not simply measured.
    sum_in_words: str = ""
    # Yarn that was measured but is not in the stitches: cm, and what it is.
    not_in_stitches: tuple[tuple[float, str], ...] = ()
    # The part of the standard error that is common to all that was weighed by one band.
    shared_cm: float = 0.0


def _given(value: float | None) -> float:
    """A field that its way of measuring needs, which a Measurement has checked to be there."""
    assert value is not None
    return value


def _not_in_stitches(line: Measurement) -> tuple[tuple[float, str], ...]:
    return (
        (line.tails_cm, "tails"),
        (line.carried_cm, "carries"),
        (line.edges_cm, "cast-on and bind-off"),
    )


def _by_marks(line: Measurement, units: str) -> Reading:
    """The length between two marks on the yarn, or of stitches unravelled."""
    length = _given(line.length_cm)
    # The marks fall somewhere within a stitch.
    within_a_stitch = length / line.stitches * STEP_TO_ERROR
    error = math.hypot(line.length_step_cm * STEP_TO_ERROR, within_a_stitch)
    return Reading(length, error, line.stitches)


def _by_wraps(line: Measurement, units: str) -> Reading:
    """Wraps round the needle: each stands for the yarn in a stitch."""
    length = _given(line.length_cm)
    wraps = _given(line.wraps)
    in_a_stitch = length / wraps
    of_all, of_one = show_measured(length, units), show_measured(in_a_stitch, units, 2)
    words = f"Yarn in a stitch, guessed: {of_all} ÷ {wraps:g} wraps = {of_one}"
    return Reading(in_a_stitch, WRAPS_ERROR * in_a_stitch, 1, words)


def _by_weight(line: Measurement, units: str) -> Reading:
    """A swatch on a scale."""
    grams = _given(line.grams)
    metres_per_gram = _given(line.metres_per_gram)
    cm_per_gram = 100 * metres_per_gram
    length = grams * cm_per_gram
    from_label = line.metres_per_gram_from == LABEL
    of_the_figure = (LABEL_ERROR if from_label else WEIGHED_ERROR) * length
    error = math.hypot(
        line.grams_step * STEP_TO_ERROR * cm_per_gram,
        of_the_figure,
        EDGE_ERROR * line.edges_cm,
    )
    per_gram = show_per_gram(metres_per_gram, units)
    in_swatch = show_measured(length, LONG_UNIT[units], 2)
    words = f"Yarn in the swatch: {grams:g} g × {per_gram} = {in_swatch}"
    return Reading(length, error, line.stitches, words, _not_in_stitches(line), of_the_figure)


def _by_supply(line: Measurement, units: str) -> Reading:
    """A supply that was measured when it was wound, and what is left of it after."""
    wound = _given(line.wound_cm)
    left = line.left_cm or 0.0  # nothing, if it is not said
    length = wound - left
    ruler = line.length_step_cm * STEP_TO_ERROR
    tails = TAIL_ERROR_CM if line.tails_cm > 0 else 0.0
    # The ruler was laid on twice: before and after.
    error = math.hypot(ruler, ruler, EDGE_ERROR * line.edges_cm, tails)
    was_wound, is_left, used = (show_measured(each, units) for each in (wound, left, length))
    words = f"Used: {was_wound} wound − {is_left} left = {used}"
    return Reading(length, error, line.stitches, words, _not_in_stitches(line))


READ = {
    MARKED: _by_marks,
    UNRAVELLED: _by_marks,
    WEIGHED: _by_weight,
    WRAPS: _by_wraps,
    SUPPLY: _by_supply,
}


def band_of(line: Measurement) -> Band | None:
    """What the metres in a gram of a weighed swatch are from; None if nothing was weighed.

    The same yarn and figure are the same band, or the same weighing of a measured length.
    """
    if line.way != WEIGHED:
        return None
    return line.yarn, line.metres_per_gram_from, _given(line.metres_per_gram)


def evidence_in(line: Measurement) -> Evidence:
    """The yarn in the stitches and their width, with the standard error of the instrument.

    Raises PlanError if nothing is left for the stitches.
    """
    return _evidence(line, READ[line.way](line, "cm"))


def _evidence(line: Measurement, reading: Reading) -> Evidence:
    taken_off = sum(length for length, _ in reversed(reading.not_in_stitches))
    used = reading.yarn_cm - taken_off
    if used <= 0:
        raise PlanError(
            f"Measurement {line.number}: nothing is left for the stitches once tails, carries and "
            "edges are taken off. Check what was weighed or wound."
        )
    return Evidence(
        line.yarn,
        line.fabric,
        reading.stitches * line.stitch_cm,
        used,
        reading.error_cm,
        # A wrap stands for a stitch, but no stitch was measured.
        0 if line.way == WRAPS else reading.stitches,
        reading.shared_cm,
        band_of(line),
    )


def ratio_of(line: Measurement) -> float:
    """The multiplier this measurement alone would give."""
    return _ratio(evidence_in(line))


def _ratio(evidence: Evidence) -> float:
    return evidence.used_cm / evidence.width_cm


def arithmetic(line: Measurement, units: str = "cm") -> list[str]:
    """The sum that leads to the multiplier, line by line, to follow on paper."""
    reading = READ[line.way](line, units)
    evidence = _evidence(line, reading)
    used, width = (show_measured(cm, units, 2) for cm in (evidence.used_cm, evidence.width_cm))
    sums = [reading.sum_in_words] if reading.sum_in_words else []
    if reading.not_in_stitches:
        words = f"In the stitches: {show_measured(reading.yarn_cm, units)}"
        for length, what in reading.not_in_stitches:
            words += f" − {show_measured(length, units)} {what}" if length else ""
        sums.append(f"{words} = {show_measured(evidence.used_cm, units)}")
    over = line.gauge_over_cm / float(CM_PER[units])
    one_stitch = f"{over:.4g} {units} ÷ {line.gauge_stitches:g}"
    sums.append(f"Width of the stitches: {reading.stitches:g} × {one_stitch} = {width}")
    as_read = between(_ratio(evidence), evidence.error_cm / evidence.width_cm)
    sums.append(f"Multiplier: {used} ÷ {width} = {_ratio(evidence):.2f} (as read, {as_read})")
    return sums


def evidence_of(log: Iterable[Measurement]) -> list[Evidence]:
    """The evidence of the lines in force that are to be used."""
    return [evidence_in(line) for line in in_force(log) if line.use == "yes"]


def judge(new: Measurement, log: Sequence[Measurement] = ()) -> list[str]:
    """Questions that a measurement raises; none if it fits.

    Raises PlanError for one that is impossible.
    """
    questions = [
        _ask_about_its_size(ratio_of(new)),
        _ask_beside_the_rest(new, log),
        _ask_about_blocking(new),
        _ask_about_the_scale(new),
    ]
    return [question for question in questions if question]


def _likely(ratio: float) -> bool:
    return QUERY_BELOW <= ratio <= QUERY_ABOVE


def _ask_about_its_size(ratio: float) -> str:
    """A question if no knitting is likely to have this multiplier; PlanError if none can."""
    # A length in inches, typed as centimetres, comes out too small; a gauge counted over inches
    # too large.
    length_in_inches, gauge_over_inches = ratio * CM_PER_INCH, ratio / CM_PER_INCH
    inches = ""
    if _likely(length_in_inches):
        inches = f" Was it measured in inches? Then it is {length_in_inches:.2f}."
    if ratio <= IMPOSSIBLE:
        raise PlanError(
            f"The multiplier comes out as {ratio:.2f}: yarn cannot be shorter than the row it "
            f"makes. Check stitches, gauge, weight and length.{inches}"
        )
    if _likely(ratio):
        return ""
    if _likely(gauge_over_inches):
        why = (
            f"Was the gauge counted over inches? Then it is {gauge_over_inches:.2f}. Or is it a "
            "figure for crochet?"
        )
    elif ratio > QUERY_ABOVE:
        why = "Is it a figure for crochet, or was the cast-on left out of the count?"
    else:
        why = (
            "Was the swatch stretched, or were stitches counted that this yarn did not make?"
            + inches
        )
    return f"A multiplier of {ratio:.2f} is outside {QUERY_BELOW:g} to {QUERY_ABOVE:g}. {why}"


def _others(new: Measurement, log: Sequence[Measurement]) -> list[Measurement]:
    """The lines in force besides a measurement, which may be logged already."""
    older = [line for line in log if line.number != new.number]
    # The new line is put among them so that what it corrects drops out.
    return [line for line in in_force([*older, new]) if line.number != new.number]


def _ask_beside_the_rest(new: Measurement, log: Sequence[Measurement]) -> str:
    """A question if a measurement lies far from what the others lead one to expect."""
    rest = evidence_of(_others(new, log))
    if not rest:
        return ""
    found = evidence_in(new)
    calibration = Calibration(rest, [new.yarn])
    expected_cm, standard_error = calibration.expected(found)
    away = (found.used_cm - expected_cm) / standard_error
    if abs(away) <= FAR:
        return ""
    if away > 0:
        where, likely = "above", "the cast-on left out, or a double strand"
    else:
        where, likely = "below", "a stretched gauge, or stitches of another yarn counted in"
    expected = between(expected_cm / found.width_cm, standard_error / found.width_cm)
    return (
        f"It lies far {where} what your other measurements lead one to expect, which is "
        f"{expected}. A likely reason: {likely}."
    )


def _ask_about_blocking(new: Measurement) -> str:
    if new.state == new.gauge_state:
        return ""
    return (
        f"The yarn was measured {new.state}, its gauge {new.gauge_state}: blocking changes the "
        "width, not the yarn. Count the gauge in the same state."
    )


def _ask_about_the_scale(new: Measurement) -> str:
    if new.way != WEIGHED:
        return ""
    step_percent = 100 * new.grams_step / _given(new.grams)
    if step_percent * STEP_TO_ERROR <= COARSE_SCALE_PERCENT:
        return ""
    # A scale shows the nearest step, so it is out by half of it at most.
    return (
        f"A scale with steps of {new.grams_step:g} g may be out by {step_percent / 2:.0f} % of "
        f"{new.grams:g} g. Weigh several swatches together."
    )


def remarks(new: Measurement, log: Sequence[Measurement] = ()) -> list[str]:
    """What is worth knowing about a measurement that is not wrong: that it is weak evidence, or has
    its error in common with others of the log."""
    worth_knowing = []
    if new.way != WRAPS and new.stitches < WEAK_STITCHES:
        worth_knowing.append(
            f"{new.stitches:g} stitches are weak evidence and count for little; {WEAK_STITCHES} or "
            "more tell much more."
        )
    if new.way == WEIGHED and new.metres_per_gram_from == LABEL:
        bands = {band_of(line) for line in _others(new, log) if line.use == "yes"}
        if band_of(new) in bands:
            worth_knowing.append(
                "Weighings by one band share its error: weigh a measured length to do better."
            )
    return worth_knowing


def same_as(new: Measurement, log: Sequence[Measurement]) -> Measurement | None:
    """The line in force that says the same as a new one, which must not count twice."""
    for line in in_force(log):
        # A correction may say the same as the line that it takes the place of.
        if line.number == new.corrects:
            continue
        if replace(line, number=new.number, use=new.use, corrects=new.corrects) == new:
            return line
    return None


def calibration_of(project: Project) -> Calibration:
    """What the measurements of a piece say of its multipliers, whether the plan goes by them or
    not."""
    return Calibration(evidence_of(project.measurements), project.chart.letters)


def multipliers_of(project: Project) -> dict[str, Multiplier]:
    """The multiplier of each yarn on the chart of a piece, as its knitter chose."""
    letters = project.chart.letters
    if project.multiplier.way not in ("estimate", "measured"):
        return {letter: Multiplier.chosen(project.multiplier) for letter in letters}
    if project.multiplier.way == "measured":
        calibration = calibration_of(project)
    else:
        calibration = Calibration([], letters)
    return {letter: calibration.multiplier(letter, project.how.fabric) for letter in letters}
