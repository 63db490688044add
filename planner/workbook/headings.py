"""The headings of notebook 3's folds: how things stand, each in a line made from the plan."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from planner.choices import Finding, before_buying
from planner.piece import PLACES, CarryLimits, Project
from planner.plan import Plan
from planner.supplies import NOT_KNOWN, yarns_not_known
from planner.units import (
    counted,
    exact,
    known_in_words,
    parse_length,
    show_measured,
    show_short,
    show_total,
)
from planner.workbook.common import is_measured_unused
from planner.workbook.results import HELD, most_at_once, of_yarns, pieces_held

PLACES_IN_WORDS = dict(zip(PLACES, ("at a table", "on a sofa", "in a train"), strict=True))
LIMITS = ("across", "sideways", "up")
FULL = ("busy", "crowded")
MOST_NAMED = 3  # of what has its name in a heading


# ---- what changes the plan


def carrying(plan: Plan) -> str:
    """How far yarns may be carried: all of them, then what holds otherwise for single yarns."""
    project = plan.project
    never = CarryLimits(across=0, sideways=0, up=0, middle_start=project.limits.middle_start)
    told = [", ".join(_carries(project.limits, never, project)) or "nothing is carried"]
    if not project.limits.middle_start:
        told.append("nothing begun from its middle")
    for letter, own in sorted(project.by_yarn.items()):
        differences = _carries(own, project.limits, project)
        if differences and letter in project.chart.letters:
            told.append(f"{letter} {', '.join(differences)}")
    return f"Carrying: {'; '.join(told)}"


def _carries(limits: CarryLimits, usual: CarryLimits, project: Project) -> list[str]:
    """Each limit that is not as `usual`, in words."""
    told = []
    for name in LIMITS:
        limit = getattr(limits, name)
        if limit != getattr(usual, name):
            told.append(_limit_in_words(name, limit, project))
    if limits.middle_start != usual.middle_start:
        allowed = "may be" if limits.middle_start else "not"
        told.append(f"{allowed} begun from its middle")
    return told


def _limit_in_words(name: str, limit: float | str, project: Project) -> str:
    """A carry limit in words: "sideways 2.5 cm", "up 2 rows", "not across"."""
    is_length = isinstance(limit, str)
    number = parse_length(limit) if isinstance(limit, str) else exact(limit, name)
    if not number:
        return f"not {name}"
    if is_length:
        return f"{name} {show_measured(float(number), project.units, 3)}"
    noun = project.how.row_word if name == "up" else "stitch"
    # Half a stitch may be typed, too.
    counts = counted(int(number), noun) if number == int(number) else f"{float(number):g} {noun}es"
    return f"{name} {counts}"


def ways_of_holding(plan: Plan) -> str:
    """Where the knitter sits, with how many balls, and how many strands she chose for herself."""
    project, habits = plan.project, plan.project.habits
    row = project.how.row_word
    told = [PLACES_IN_WORDS[habits.place]]
    (balls,) = replace(habits, elsewhere="").room(1)
    told.append(f"up to {counted(balls, 'ball')} beside the work" if balls else "no balls")
    for sitting in habits.sittings:
        rows = f"{row}s {sitting.from_row}–{sitting.to_row}"
        told.append(f"{rows} {PLACES_IN_WORDS[sitting.place]}")
    by_hand = sum(each.by_hand for each in plan.held)
    if by_hand:
        told.append(f"{counted(by_hand, 'choice')} of your own")
    return f"How the yarns are held: {', '.join(told)}"


def how_much_yarn(plan: Plan) -> str:
    """What the lengths go by: the multiplier, the tails, how seldom a strand falls short."""
    allow = plan.project.allow
    told = [known_in_words(plan.multipliers)]
    if is_measured_unused(plan.project):
        told.append("what you measured is not planned with yet")
    told.append(f"tails {show_short(allow.tail_cm, plan.project.units)}")
    if any(each.spread for each in plan.multipliers.values()):
        told.append(f"1 strand in {allow.short_once_in:g} may fall short")
    return f"How much yarn: {', '.join(told)}"


# ---- what follows


ORDER = "Order of the strands, row by row"
ON_PAPER = "On paper: a sheet to print, row cards for the phone"


def lengths(plan: Plan) -> str:
    """What the yarn of the piece is made up of, in all."""
    shares = {
        "in the stitches": sum(part.worked_cm for part in plan.parts),
        "of tails": sum(part.tails_cm for part in plan.parts),
        "of margin": sum(part.margin_cm for part in plan.parts),
    }
    units = plan.project.units
    # What is left of the whole, so that the shares add up to the headline's figure.
    shares["of carries, edges and rounding up"] = plan.yarn_cm - sum(shares.values())
    told = [f"{show_total(length_cm, units)} {what}" for what, length_cm in shares.items()]
    in_all = show_total(plan.yarn_cm, units)
    return f"What makes up each length: {', '.join(told)}; {in_all} in the piece"


def fullest_rows(plan: Plan) -> str:
    """How full the fullest row is, and how many rows are busy or crowded."""
    row = plan.project.how.row_word
    loads = Counter(load.load for load in plan.loads)
    full = [f"{counted(loads[word], row)} {word}" for word in FULL if loads[word]]
    told = [f"at most {most_at_once(plan)} hang at once", *(full or [f"all {row}s easy"])]
    return f"How full the {row}s are: {', '.join(told)}"


def ends(plan: Plan) -> str:
    """How many ends are to be sewn in, and in how many colour areas."""
    areas = counted(len(plan.ends_by_area), "colour area")
    return f"Ends: {plan.ends_in_all} in {areas}"


def shopping(plan: Plan) -> str:
    """What is to be bought."""
    found = len(to_mind(plan))
    first = f"; {counted(found, 'thing')} to mind first" if found else ""
    return f"Shopping list: {balls_to_buy(plan)}{first}"


def balls_to_buy(plan: Plan) -> str:
    """Which balls are to be bought, and of which yarns nobody can say."""
    missing = [each for each in plan.needed if each.to_buy]
    unknown = yarns_not_known(plan.needed)
    told = [f"{counted(each.to_buy or 0, 'ball')} of {each.yarn.title}" for each in missing]
    if len(missing) > MOST_NAMED:
        balls = sum(each.to_buy or 0 for each in missing)
        told = [f"{counted(balls, 'ball')} of {counted(len(missing), 'yarn')}"]
    if not unknown:
        return ", ".join(told) or "nothing, all is in hand"
    known = f"{', '.join(told)}; " if told else ""
    # Of the rest nothing is to be bought: that is said only where all is known.
    return f"{known}{of_yarns(unknown)}: {NOT_KNOWN}"


def to_mind(plan: Plan) -> list[Finding]:
    """What to mind before yarn is bought."""
    return before_buying(plan.traced, plan.project, plan.held, plan.needed)


def winding(plan: Plan) -> str:
    """How many lengths there are of each kind."""
    told = [
        HELD[supply][number != 1].format(number)
        for supply, number in pieces_held(plan).items()
        if number
    ]
    return f"How to wind: {', '.join(told)}"
