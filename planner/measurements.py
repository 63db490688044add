"""Measurements of yarn used: the ways knitters measure, each turned into evidence with its error, and judged."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date

from planner.calibration import Calibration, Evidence, noise_variance
from planner.errors import PlanError
from planner.multiplier import IMPOSSIBLE, QUERY_ABOVE, QUERY_BELOW
from planner.units import check_number, in_words

MARKED, UNRAVELLED, WEIGHED, WRAPS, SUPPLY = WAYS = ("marked length", "unravelled", "weighed swatch", "needle wraps", "supply")
STEP_TO_ERROR = 1 / math.sqrt(12)  # a reading to the nearest step is off evenly by up to half of it
WRAPS_ERROR = 0.20  # judgement: wraps round the needle are a guess
LABEL_ERROR, WEIGHED_ERROR = 0.10 / math.sqrt(3), 0.01  # metres per gram: a band's ±10 %; weighed from a measured length
EDGE_ERROR = 0.15  # judgement: cast-on and bind-off are known to about this share
TAIL_ERROR_CM = 1.5
WEAK_STITCHES = 20
FAR = 4.0  # standard errors from what the rest leads one to expect
CM_PER_INCH = 2.54


@dataclass(frozen=True)
class Measurement:
    """One line of the log. Lengths in cm, weights in g, the instrument's step beside what was read with it.

    `gauge_stitches` over `gauge_over_cm` is the gauge of the same fabric; `state` and `gauge_state` say whether each is
    as knitted or blocked. `edges_cm` is yarn in cast-on and bind-off, `corrects` the number of an older line that this
    one takes the place of, `use` yes or no. `planned_cm`, `planned_low_cm`, `planned_high_cm`: what the plan
    said of a supply, tails included.
    """

    number: int
    date: str
    way: str
    yarn: str
    gauge_stitches: float
    gauge_over_cm: float = 10
    fabric: str = "stockinette"
    needle_mm: float | None = None
    state: str = "as knitted"
    gauge_state: str = "as knitted"
    stitches: float = 0
    length_cm: float | None = None
    length_step_cm: float = 0.1
    grams: float | None = None
    grams_step: float = 1
    metres_per_gram: float | None = None
    metres_per_gram_from: str = "label"
    wraps: float | None = None
    strand: str = ""
    wound_cm: float | None = None
    left_cm: float | None = None
    carried_cm: float = 0
    edges_cm: float = 0
    tails_cm: float = 0
    planned_cm: float | None = None
    planned_low_cm: float | None = None
    planned_high_cm: float | None = None
    use: str = "yes"
    corrects: int | None = None
    note: str = ""

    def __post_init__(self):
        where = f"Measurement {self.number}"
        states, sources = ("as knitted", "blocked"), ("label", "weighed length")
        choices = {"way": WAYS, "fabric": ("stockinette", "garter"), "use": ("yes", "no"), "metres_per_gram_from": sources}
        choices |= {"state": states, "gauge_state": states}
        for name, allowed in choices.items():
            if getattr(self, name) not in allowed:
                raise PlanError(f'{where}: {name} is "{getattr(self, name)}"; it is {" or ".join(allowed)}.')
        for field in fields(self):
            if field.type in ("float", "float | None") and getattr(self, field.name) is not None:
                check_number(getattr(self, field.name), f"{where}: {in_words(field.name)}")
        for name in ("gauge_stitches", "gauge_over_cm"):
            check_number(getattr(self, name), f"{where}: {in_words(name)}, of the same fabric", above=0)
        try:
            date.fromisoformat(self.date)
        except ValueError:
            raise PlanError(f'{where}: the date is "{self.date}"; write it like 2026-03-14.') from None
        if self.corrects is not None and self.corrects >= self.number:
            raise PlanError(f"{where} corrects number {self.corrects}; only an older line can be corrected.")
        planned = (self.planned_cm, self.planned_low_cm, self.planned_high_cm)
        if planned.count(None) in (1, 2):
            raise PlanError(f"{where}: give what was planned with both ends of its interval, or none of the three.")
        if not self.yarn.strip():
            raise PlanError(f"{where} names no yarn. Give the letter of the yarn that was measured.")
        needed = {MARKED: "length_cm", UNRAVELLED: "length_cm", WEIGHED: "grams", WRAPS: "length_cm", SUPPLY: "wound_cm"}[self.way]
        check_number(getattr(self, needed) or 0, f"{where}: {in_words(needed)}", above=0)
        if self.way == WRAPS:
            check_number(self.wraps or 0, f"{where}: wraps", above=0)
        else:
            check_number(self.stitches, f"{where}: stitches", above=0)
        if self.way == WEIGHED and not self.metres_per_gram:
            raise PlanError(
                f"{where} is weighed, but yarn {self.yarn} has no metres per gram. Take them from its band, or weigh a "
                "measured length."
            )
        if self.way == SUPPLY and (self.left_cm or 0) > self.wound_cm:
            raise PlanError(f"{where}: {self.left_cm:g} cm were left over of {self.wound_cm:g} cm wound. Were the two exchanged?")

    @property
    def stitch_cm(self) -> float:
        return self.gauge_over_cm / self.gauge_stitches

    def evidence(self) -> Evidence:
        """The yarn in the stitches and their width, with the standard error of the instrument."""
        ruler = self.length_step_cm * STEP_TO_ERROR
        stitches, rest = self.stitches, self.edges_cm + self.carried_cm + self.tails_cm
        if self.way in (MARKED, UNRAVELLED):
            used = self.length_cm
            error = math.hypot(ruler, used / stitches * STEP_TO_ERROR)  # the marks fall somewhere within a stitch
        elif self.way == WRAPS:
            stitches = 1
            used = self.length_cm / self.wraps
            error = WRAPS_ERROR * used
        elif self.way == WEIGHED:
            per_gram = 100 * self.metres_per_gram
            share = LABEL_ERROR if self.metres_per_gram_from == "label" else WEIGHED_ERROR
            weighed, step = self.grams * per_gram, self.grams_step * STEP_TO_ERROR * per_gram
            used = weighed - rest
            error = math.hypot(step, share * weighed, EDGE_ERROR * self.edges_cm)
        else:
            used = self.wound_cm - (self.left_cm or 0) - rest
            error = math.hypot(ruler, ruler, EDGE_ERROR * self.edges_cm, TAIL_ERROR_CM * (self.tails_cm > 0))
        if used <= 0:
            raise PlanError(
                f"Measurement {self.number}: nothing is left for the stitches once tails, carries and edges ({rest:.0f} cm) are "
                "taken off. Check what was weighed or wound."
            )
        return Evidence(self.yarn, self.fabric, stitches * self.stitch_cm, used, error, 0 if self.way == WRAPS else stitches)

    @property
    def ratio(self) -> float:
        """The multiplier this measurement alone would give."""
        e = self.evidence()
        return e.used_cm / e.width_cm

    def arithmetic(self) -> list[str]:
        """The sum that leads to the multiplier, line by line, to follow on paper."""
        e = self.evidence()
        lines = []
        if self.way == WEIGHED:
            in_all = self.grams * self.metres_per_gram
            lines.append(f"Yarn in the swatch: {self.grams:g} g × {self.metres_per_gram:.3g} m/g = {in_all:.2f} m")
        elif self.way == SUPPLY:
            used = self.wound_cm - (self.left_cm or 0)
            lines.append(f"Used: {self.wound_cm:.1f} cm wound − {self.left_cm or 0:.1f} cm left = {used:.1f} cm")
        elif self.way == WRAPS:
            lines.append(f"Yarn in a stitch, guessed: {self.length_cm:.1f} cm ÷ {self.wraps:g} wraps = {e.used_cm:.2f} cm")
        if self.way in (WEIGHED, SUPPLY):
            taken = [(self.tails_cm, "tails"), (self.carried_cm, "carries"), (self.edges_cm, "cast-on and bind-off")]
            off = "".join(f" − {cm:.1f} cm {what}" for cm, what in taken if cm)
            lines.append(f"In the stitches: {e.used_cm + sum(cm for cm, _ in taken):.1f} cm{off} = {e.used_cm:.1f} cm")
        stitches = 1 if self.way == WRAPS else self.stitches
        width, within = f"{e.width_cm:.2f} cm", f"read to within ±{e.error_cm / e.width_cm:.2f}"
        lines.append(f"Width of the stitches: {stitches:g} × {self.gauge_over_cm:.4g} cm ÷ {self.gauge_stitches:g} = {width}")
        lines.append(f"Multiplier: {e.used_cm:.2f} cm ÷ {width} = {self.ratio:.2f}, {within}")
        return lines


def in_force(log: Iterable[Measurement]) -> list[Measurement]:
    """The lines that no later line corrects, in the order of their numbers."""
    log = sorted(log, key=lambda m: m.number)
    corrected = {m.corrects for m in log if m.corrects is not None}
    return [m for m in log if m.number not in corrected]


def evidence_of(log: Iterable[Measurement]) -> list[Evidence]:
    """The evidence of the lines in force that are to be used."""
    return [m.evidence() for m in in_force(log) if m.use == "yes"]


def judge(new: Measurement, log: Sequence[Measurement] = ()) -> list[str]:
    """Questions that a measurement raises; none if it fits. One that is impossible is refused."""
    ratio, e = new.ratio, new.evidence()
    in_inches, inches = ratio * CM_PER_INCH, ""
    if QUERY_BELOW <= in_inches <= QUERY_ABOVE:
        inches = f" Was it measured in inches? Then it is {in_inches:.2f}."
    if ratio <= IMPOSSIBLE:
        raise PlanError(
            f"The multiplier comes out as {ratio:.2f}: yarn cannot be shorter than the row it makes. "
            f"Check stitches, gauge, weight and length.{inches}"
        )
    said = []
    if not QUERY_BELOW <= ratio <= QUERY_ABOVE:
        if QUERY_BELOW <= ratio / CM_PER_INCH <= QUERY_ABOVE:
            why = f"Was the gauge counted over inches? Then it is {ratio / CM_PER_INCH:.2f}. Or is it a figure for crochet?"
        elif ratio > QUERY_ABOVE:
            why = "Is it a figure for crochet, or was the cast-on left out of the count?"
        else:
            why = f"Was the swatch stretched, or were stitches counted that this yarn did not make?{inches}"
        said.append(f"A multiplier of {ratio:.2f} is outside {QUERY_BELOW:g} to {QUERY_ABOVE:g}. {why}")
    together = in_force([*(m for m in log if m.number != new.number), new])
    rest = evidence_of(m for m in together if m.number != new.number)
    if rest:
        calibration = Calibration(rest, [new.yarn])
        expected = calibration.multiplier(new.yarn, new.fabric)
        noise = math.sqrt(noise_variance(e.width_cm, calibration.noise))
        away = (e.used_cm - expected.value * e.width_cm) / math.hypot(expected.spread * e.width_cm, noise, e.error_cm)
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
        said.append(f"A {new.grams_step:g} g step leaves ±{share:.1f} % here; weigh several swatches together.")
    return said


def remarks(new: Measurement) -> list[str]:
    """What is worth knowing about a measurement that is not wrong: that it is weak evidence."""
    if new.way == WRAPS or new.stitches >= WEAK_STITCHES:
        return []
    return [f"{new.stitches:g} stitches are weak evidence and count for little; {WEAK_STITCHES} or more tell much more."]


def same_as(new: Measurement, log: Sequence[Measurement]) -> Measurement | None:
    """The line in force that says the same as a new one, which must not count twice."""
    others = [m for m in in_force(log) if m.number != new.corrects]
    return next((m for m in others if replace(m, number=new.number, use=new.use, corrects=new.corrects) == new), None)
