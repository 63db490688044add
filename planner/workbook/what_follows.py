"""Notebook 3, what follows: strand map and winding list, tables, the order of the strands."""

from __future__ import annotations

import html
from collections import defaultdict
from collections.abc import Sequence
from functools import partial
from math import isfinite
from typing import Any

import ipywidgets as widgets
import pandas as pd

from planner import pictures
from planner.buying import LIST
from planner.cards import HOW_TO, ready_before
from planner.finishing import ends_in_words, how_to_sew
from planner.knitting import is_begun
from planner.multiplier import RULE_OF_THREE
from planner.piece import (
    BALL,
    EVERY_YARN,
    NO_YARN,
    PARTS,
    SUPPLIES,
    Allowances,
    Project,
    part_title,
    rows_worked,
)
from planner.plan import Plan
from planner.supplies import (
    NOT_KNOWN,
    Piece,
    alike_pieces,
    balls_of_yarns,
    which_ball,
    yarns_not_known,
)
from planner.units import (
    CM_PER,
    LISTED_UNIT,
    LONG_UNIT,
    figure,
    rounded_up,
    show,
    show_short,
    show_total,
)
from planner.workbook.basket import others_html
from planner.workbook.common import is_measured_unused, quiet
from planner.workbook.desk import Desk, pictured, unless_same
from planner.workbook.fields import labelled
from planner.workbook.folds import SideBySide
from planner.workbook.headings import to_mind
from planner.workbook.offered import without_grade
from planner.workbook.panes import Form, Pane, picture_html, table_html
from planner.workbook.results import headline_pane, most_at_once
from planner.workbook.slider import Slider

ROWS_IN_ORDER = 14  # rows whose order of strands is shown at a time
MAP_IN = 5.0  # the width of the map: half a page
MEASURED_UNUSED = (
    "Lengths go by an estimate; what you have measured is not planned with yet. One press does it: "
    "under “How much yarn”, below, or in notebook 2."
)
WOUND_ALREADY = "Begun already, nothing more to wind for it"
TO_WIND = "To wind or cut, in the order you need it"
ON_THE_MAP = (
    "Each strand, a single length of yarn, is a shade of its yarn; the number with its name is how "
    "many stitches it works."
)
NOTHING_TO_WIND = "Fed from the ball, nothing to wind"
BALLS_BESIDE_MAP = 4  # lines of the winding list that stand beside the map: of balls,
LINES_BESIDE_MAP = 11  # and of what is wound
LINES_OF_A_TABLE = 8  # of a long table, before it is unfolded

NOT_COUNTED = "not known"  # how many balls of a yarn are to be bought
WOVEN_IN = "behind other stitches, woven in or caught every few of them"
IN_THE_LIST = (
    "Wraps: how often what is wound goes round. Rule of three: three times the width of the "
    "knitting, plus tails, to compare. Place: between which strands of its row it begins."
)
ADDED_UP = (
    "Worked + carried + cast-on + bind-off + tails + margin = wound. To measure off, as on the "
    "winding list, it is rounded up, and joins have tails. Beside it the rule of three: three "
    "times the width of the knitting, and the same tails."
)


class _Results(Form):
    """Panes with results: a saved notebook keeps them one after the other, and nothing else."""

    def __init__(self, children: Sequence[widgets.Widget], panes: Sequence[Pane]):
        super().__init__(children)
        self._panes = panes

    def words(self) -> str:
        return "<br>".join(pane.value for pane in self._panes if pane.value)


# ---- the first screen


def plan_form(desk: Desk, strand_map: Pane, winding: Pane) -> Form:
    """What the plan comes to and tells the knitter; below it map and winding list."""
    headline = headline_pane(desk)
    notes = desk.words(lambda plan: without_grade("\n".join(plan.notes)))
    by_estimate = quiet(desk, _not_planned_with)
    read = quiet(desk, lambda plan: ON_THE_MAP)
    beside = SideBySide([widgets.VBox([strand_map, read]), winding])
    beside.add_class("plan-wide")
    shown = [headline, notes, by_estimate, beside]
    return _Results(shown, [headline, notes, by_estimate, strand_map, winding])


def _not_planned_with(plan: Plan) -> str:
    """That the lengths go by an estimate though something was measured; "" where they do not."""
    return MEASURED_UNUSED if is_measured_unused(plan.project) else ""


def strand_map(desk: Desk) -> Pane:
    """The chart by strands, drawn so large that their labels are read beside a list."""
    words = "The strands on the chart: {!r}"
    draw = partial(pictures.draw_strands, width_in=MAP_IN)
    return desk.picture(draw, lambda plan: words.format(plan.traced))


def what_to_wind(desk: Desk) -> Pane:
    """The winding list beside the map: what is wound or cut; apart, what is fed from the ball."""

    def made(plan: Plan) -> str:
        yarns = plan.project.all_yarns
        groups = (
            (TO_WIND, False, LINES_BESIDE_MAP),
            (NOTHING_TO_WIND, True, BALLS_BESIDE_MAP),
        )
        listed = []
        for words, from_ball, first in groups:
            table = winding_table(plan, from_ball=from_ball, begun=False)
            if len(table):
                listed.append(f"<h3>{words}</h3>{table_html(table, first=first, yarns=yarns)}")
        # What comes next stands first; what is in the work is there for who looks for it.
        used = winding_table(plan, begun=True)
        if len(used):
            table = table_html(used, yarns=yarns)
            listed.append(f"<details><summary>{WOUND_ALREADY}</summary>{table}</details>")
        return "".join(listed)

    return desk.pane(made)


def winding_table(
    plan: Plan, *, from_ball: bool | None = None, begun: bool | None = None
) -> pd.DataFrame:
    """One row a line of the winding list, short enough to stand beside the map.

    All of it, or what is fed `from_ball`, or what is not; what is `begun` by now, or what is not.
    """
    project = plan.project
    done = rows_worked(project.progress)
    pieces = [each for each in plan.pieces if begun in (None, is_begun(each, done))]
    balls = balls_of_yarns(plan.pieces, project.all_yarns)
    lines = []
    for alike in alike_pieces(pieces, project.units):
        first = alike[0]
        if from_ball is not None and from_ball != (first.supply == BALL):
            continue
        lines.append(
            {
                "yarn": first.yarn,
                "strand": _labels_in_words(alike),
                "held_as": _held_in_words(first, project, balls=balls[first.yarn]),
                # In the words of the cards.
                "length": show(first.to_measure_cm(project.units), project.units),
                f"before_{project.how.row_word}": _ready_before(first, project.allow),
            }
        )
    return pd.DataFrame(lines)


def _ready_before(piece: Piece, allow: Allowances) -> str:
    """The row before which a piece must be ready, or the cast-on; "" for the embroidery."""
    # What is embroidered after blocking hangs in no row.
    return ready_before(piece, allow) if isfinite(piece.begins) else ""


def _labels_in_words(alike: Sequence[Piece]) -> str:
    """The labels of pieces that are wound alike: "Y2, Y5, Y6: each"."""
    labels = ", ".join(piece.label for piece in alike)
    return f"{labels}: each" if len(alike) > 1 else labels


def _held_in_words(piece: Piece, project: Project, *, balls: int) -> str:
    """How a piece is held, and what is to be known before it is cut."""
    if piece.supply == BALL:
        return which_ball(piece.ball, project.all_yarns[piece.yarn], balls)
    if piece.before_row is not None:
        return f"{piece.supply}, measured off its ball then"
    if piece.cut_before is not None:
        row = f"{project.how.row_word} {piece.row + 1}"
        return f"{piece.supply} for {row}, cut while its ball is free"
    return piece.supply + piece.begun_in_words(project.units)


# ---- tables


def sections_table(plan: Plan) -> pd.DataFrame:
    """The mix of supplies as planned and its best alternative, section by section."""
    names = ["rows", "load", "way", "held", "lengths_to_wind", "most_at_once", "refills"]
    table = plan.ways[[*names, "for", "against"]]
    # An alternative stands below the mix of its section, whose rows it need not say again.
    is_first = ~table["rows"].duplicated()
    rows, load = table["rows"].where(is_first, ""), table["load"].where(is_first, "")
    return _without(table.assign(rows=rows, load=load), "refills", 0)


def supplies_by_strand(plan: Plan) -> pd.DataFrame:
    """How each strand is held, how long it is, in which rows, and why it is held so."""
    names = ["strand", "yarn", "supply", "length", "first_row", "last_row"]
    # The halves of one begun from its middle have names of their own.
    titles = [each.part.title for each in plan.held]
    table = plan.supplies.assign(strand=titles, length=_lengths_of_parts(plan, titles))
    table = table[[*names, "refill_rows", "why", "against"]]
    return table.rename(columns={"supply": "held_as"})


def _lengths_of_parts(plan: Plan, titles: Sequence[str]) -> list[str]:
    """What the winding list has measured off for each part, in words: "11.20 m + 2.45 m"."""
    units = plan.project.units
    measured: dict[str, list[str]] = {}
    for piece in plan.pieces:
        parts, lengths_cm = [piece.part], [piece.to_measure_cm(units)]
        if piece.halves_cm is not None:
            parts = [part_title(piece.strand, half) for half in PARTS[1:]]
            lengths_cm = [rounded_up(each, units) for each in piece.halves_cm]
        for part, length_cm in zip(parts, lengths_cm, strict=True):
            measured.setdefault(part, []).append(show(length_cm, units))
    return [" + ".join(measured.get(title, [])) for title in titles]


def _without(table: pd.DataFrame, column: str, usual: Any) -> pd.DataFrame:
    """The table without a column that says the usual in every line."""
    return table.drop(columns=column) if (table[column] == usual).all() else table


def lengths_by_strand(plan: Plan) -> pd.DataFrame:
    """One row a strand, in the order of first need: what its length is made up of, in m or yd."""
    units = plan.project.units
    unit = LONG_UNIT[units]
    # Whatever else the table says of a strand, its lengths have the unit in their names.
    lengths = [name for name in plan.strands if name.endswith(f"_{unit}")]
    measured_cm: dict[str, float] = defaultdict(float)
    for piece in plan.pieces:
        measured_cm[piece.strand] += piece.to_measure_cm(units)
    cm_per_unit = float(CM_PER[unit])
    to_measure = [measured_cm[strand] / cm_per_unit for strand in plan.strands.strand]
    table = plan.strands[["strand", "yarn", "stitches", *lengths]]
    place = table.columns.get_loc(f"wound_{unit}") + 1
    table.insert(place, f"to_measure_off_{unit}", to_measure)
    return table


def how_long(plan: Plan) -> str:
    """Where the lengths come from, and what the rule of three would make of them, in words."""
    by_rule = sum(part.rule_cm for part in plan.parts)
    planned = sum(part.wound_cm for part in plan.parts)
    if plan.project.multiplier.way == "rule of three":
        return plan.how_sure()
    units = plan.project.units
    multipliers = [each.value for each in plan.multipliers.values()]
    most = max(multipliers)
    reckoned = figure(most) if most == min(multipliers) else f"up to {figure(most)}"
    return (
        f"{plan.how_sure()} By the rule of three the strands take {show_total(by_rule, units)}, "
        f"here {show_total(planned, units)}: the rule reckons {RULE_OF_THREE:g} widths of yarn to "
        f"a width of knitting, without a margin; here it is {reckoned}, and a margin."
    )


def ends_table(plan: Plan) -> pd.DataFrame:
    """Each end, and how it is run."""
    return ends_in_words(plan).drop(columns="area")


def winding_in_full(plan: Plan) -> pd.DataFrame:
    """The winding list with weights, wraps, and the place where each length is begun."""
    rule = f"rule_of_three_{LISTED_UNIT[plan.project.units]}"
    columns = ["yarn", "line", "wraps", "weight_g", rule, "first_row", "first_side", "place"]
    project = plan.project
    lines = alike_pieces(plan.pieces, project.units)
    before = [_ready_before(line[0], project.allow) for line in lines]
    table = plan.winding_list[columns].assign(first_row=before)
    names = {"first_row": f"before_{project.how.row_word}", "first_side": "side"}
    return table.rename(columns=names)


def how_bought(plan: Plan) -> str:
    """What the shopping list counts beside the piece itself, in words."""
    allow, units = plan.project.allow, plan.project.units
    swatch = counted_swatch(allow, units)
    return (
        f"In all: the piece as the winding list has it, with {swatch} and "
        f"{100 * allow.spare:g} % to spare. Balls are counted as if they were "
        f"{100 * allow.label_error:g} % shorter than their bands say.{_not_known(plan)}"
    )


def _not_known(plan: Plan) -> str:
    unknown = yarns_not_known(plan.needed)
    return f" {', '.join(unknown)}: {NOT_KNOWN}." if unknown else ""


def counted_swatch(allow: Allowances, units: str) -> str:
    """What the shopping list counts for a swatch, in words."""
    if allow.swatch_in == NO_YARN:
        return "no swatch"
    side = show_short(allow.swatch_cm, units)
    if allow.swatch_in == EVERY_YARN:
        return f"a swatch of {side} in each yarn that takes as much as one"
    return f"a swatch of {side} in {allow.swatch_in}"


def how_to_wind(plan: Plan) -> str:
    """How each kind of supply in the plan is wound and hung."""
    held = {piece.supply for piece in plan.pieces}
    return "".join(
        f"<p><b>{kind.capitalize()}.</b> {html.escape(HOW_TO[kind])}</p>"
        for kind in SUPPLIES
        if kind in held
    )


# ---- what the folds hold


def lengths_pane(desk: Desk) -> Form:
    """What makes up the length of each strand."""
    added_up = quiet(desk, lambda plan: ADDED_UP)
    table = desk.table(lengths_by_strand, first=LINES_OF_A_TABLE)
    return _all_shown([added_up, table])


def how_full_pane(desk: Desk) -> Form:
    """How many lengths hang in each row, as a picture."""
    words = "What hangs in each row, at most {}"
    picture = desk.picture(pictures.draw_load, lambda plan: words.format(most_at_once(plan)))
    return _all_shown([picture, quiet(desk, comfort_in_words)])


def where_sewn_in(desk: Desk) -> Form:
    """How each end is run, as the back shows it."""
    table = desk.table(ends_table, first=LINES_OF_A_TABLE)
    return _all_shown([quiet(desk, how_to_sew), table])


def shopping_pane(desk: Desk) -> Form:
    """What to buy, what is counted beside the piece, and what to mind before buying."""
    to_buy = desk.table(lambda plan: shopping_in_words(plan.shopping_list))
    # Lengths are fitted to what is in hand, which takes its time.
    others = desk.pane(lambda plan: others_html(plan, LIST), slow=True)
    return _all_shown([to_buy, quiet(desk, how_bought), others, desk.pane(to_mind_html)])


def shopping_in_words(table: pd.DataFrame) -> pd.DataFrame:
    """A shopping list whose headings say what each length is for, and what is not known."""
    names = {"piece": "for_the_piece", "swatch": "for_a_swatch", "spare": "to_spare"}
    names |= {"total": "in_all"}
    renamed = {}
    for column in table:
        what, _, unit = column.rpartition("_")
        if what in names:
            renamed[column] = f"{names[what]}_{unit}"
    to_buy = table.balls_to_buy.astype(object).where(table.balls_to_buy.notna(), NOT_COUNTED)
    return table.assign(balls_to_buy=to_buy).rename(columns=renamed)


def to_mind_html(plan: Plan) -> str:
    """What to mind before buying, a line each; "" where there is nothing."""
    lines = []
    for each in to_mind(plan):
        words = f"{each.where}: {each.finding}. {each.what_to_do}"
        lines.append(f"<li>{html.escape(words)}</li>")
    return f"<h4>Before you buy</h4><ul>{''.join(lines)}</ul>" if lines else ""


def winding_pane(desk: Desk) -> Form:
    """How each kind of supply is wound, and the winding list in full."""
    table = desk.table(winding_in_full, first=LINES_OF_A_TABLE)
    read = quiet(desk, lambda plan: IN_THE_LIST)
    return _all_shown([desk.pane(how_to_wind), read, table])


def _all_shown(panes: Sequence[Pane]) -> Form:
    return _Results(panes, panes)


# ---- how full the rows are, and the order of the strands


def comfort_in_words(plan: Plan) -> str:
    """What the words easy, busy and crowded stand for."""
    habits = plan.project.habits
    return (
        f"Up to {habits.comfortable} at once is easy, more than {habits.crowded} crowded: say what "
        'is so for you under "How the yarns are held".'
    )


def _first_around_the_fullest(plan: Plan) -> int:
    """The first of the rows to show around the fullest, where their order is hardest to see."""
    fullest = max(plan.loads, key=lambda load: load.live)
    return max(1, fullest.row + 1 - ROWS_IN_ORDER // 2)


def _last_first_row(plan: Plan) -> int:
    """The last row from which as many rows as are shown at a time follow."""
    return max(1, plan.traced.runs.rows - ROWS_IN_ORDER + 1)


def strand_order_form(desk: Desk) -> Form:
    """The order of the strands for a stretch of rows, moved with a slider or its arrow keys."""
    first_row = labelled(
        Slider,
        "from row",
        max=_last_first_row(desk.plan),
        value=_first_around_the_fullest(desk.plan),
    )

    def draw_order(plan: Plan) -> str:
        first = first_row.value
        end = min(first + ROWS_IN_ORDER - 1, plan.traced.runs.rows)
        words = f"Order of the strands in rows {first} to {end}"
        return picture_html(pictures.draw_strand_order(plan, first, end), words)

    draw = unless_same(draw_order, lambda plan: (pictured(plan), first_row.value))
    picture = desk.pane(draw, slow=True)
    following = False

    # Another chart has other rows. The picture follows in its turn.
    def follow(*, anew: bool = False) -> None:
        nonlocal following
        following = True
        first_row.max = _last_first_row(desk.plan)
        if anew:
            first_row.value = _first_around_the_fullest(desk.plan)
        following = False

    # A change of the desk on another thread might draw the same pane.
    def move(_: Any) -> None:
        with desk.lock:
            if not following:
                picture.value = draw(desk.plan)

    desk.on_change(follow)
    desk.on_arrival(lambda: follow(anew=True))
    first_row.observe(move, names="value")
    return _Results([quiet(desk, _how_to_read), first_row, picture], [picture])


def _how_to_read(plan: Plan) -> str:
    """How the picture of the order of the strands is read."""
    row = plan.project.how.row_word
    return f"Read upwards, each {row} in the direction of its arrow. Dashed: carried {WOVEN_IN}."
