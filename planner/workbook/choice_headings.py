"""How things stand, in a line: the headings of the folds of notebook 5."""

from __future__ import annotations

from planner.choices import carried_in_words, embroidery_in_words
from planner.piece import BOBBIN
from planner.plan import Plan
from planner.units import counted, show_total
from planner.workbook.headings import balls_to_buy


def what_is_offered(plan: Plan) -> str:
    """How far is looked for offers."""
    weighing = plan.project.weighing
    patches = counted(weighing.embroider_stitches, "stitch")
    aside = counted(weighing.carry_stitches, "stitch")
    up = counted(weighing.carry_rows, "row")
    return f"Looked for: patches up to {patches} to embroider, carries up to {aside} and {up}"


def what_is_embroidered(plan: Plan) -> str:
    """What is embroidered after blocking."""
    if not plan.to_embroider:
        return "To embroider after blocking: nothing"
    return f"To embroider after blocking: {embroidery_in_words(plan.to_embroider)}"


def most_at_once(plan: Plan) -> str:
    """What hangs at once now, and where."""
    fullest = int(plan.traced.live.argmax())
    most = int(plan.traced.live[fullest])
    return f"Never more at once than …: now {most}, in {plan.traced.how.row_name(fullest)}"


def limits_now(plan: Plan) -> str:
    """How far yarns are carried now."""
    project = plan.project
    own = [letter for letter in project.by_yarn if letter in project.chart.letters]
    more = f"; {', '.join(own)} apart" if own else ""
    across, sideways, up, _ = project.limits.at(project.gauge)
    now = carried_in_words(across, sideways, up)
    return f"Carry more, sew in less: now {now}{more}"


def on_bobbins(plan: Plan) -> str:
    """How many lengths are wound on bobbins."""
    wound = sum(piece.supply == BOBBIN for piece in plan.pieces)
    return f"Bobbins: {counted(wound, 'length')} to wind on them"


def in_the_basket(plan: Plan) -> str:
    """How many balls begun there are of the yarns of the piece."""
    yarns = plan.project.all_yarns
    balls = [share for needed in plan.needed for share in yarns[needed.yarn.letter].balls]
    begun = sum(share < 1 for share in balls)
    return f"Use what is in the basket: {counted(begun, 'ball')} begun"


def to_buy(plan: Plan) -> str:
    """Which balls are to be bought."""
    return f"To buy: {balls_to_buy(plan)}"


def comes_to(plan: Plan) -> str:
    """What the plan comes to."""
    yarn = show_total(plan.yarn_cm, plan.project.units)
    strands = counted(plan.traced.count, "strand")
    return f"What it comes to: {strands}, {plan.ends_in_all} ends, {yarn} of yarn for the piece"
