"""The plan: from a project to strands, lengths, supplies, what to wind and what to buy."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from planner.choices import (
    Asked,
    ask,
    carries_not_made,
    embroidery_in_words,
    measure_embroidery,
    trace_asked,
)
from planner.multiplier import Multiplier, multipliers_of
from planner.piece import Project
from planner.rows import (
    Card,
    End,
    RowLoad,
    ends_by_area,
    ends_table,
    list_ends,
    load_by_row,
    load_table,
    make_cards,
    plan_sewing,
)
from planner.strands import Strands, area_table, find_issues, label_areas
from planner.supplies import (
    Held,
    Part,
    Piece,
    Planned,
    YarnNeeded,
    choose_supplies,
    compare_ways,
    lengths_by_strand,
    measure_parts,
    own_supplies,
    shopping_list,
    supplies_table,
    winding_list,
    winding_pieces,
    yarn_needed,
)
from planner.units import LONG_UNIT, counted, show, shown


@dataclass(frozen=True, eq=False)
class Plan:
    """A computed plan.

    `traced` holds the strands, its chart the one that is knitted; `parts` and `held` how long each
    part of a strand is and how it is held; `embroidered` the yarn to embroider each cell in, an
    index into the chart's letters, −1 where none; `embroidery_cm` what that takes, in cm; `balls`
    how many of each yarn are to be had.

    What people read is worked out when it is first asked for: cards, and tables with lengths in
    metres (`…_m`) or yards (`…_yd`), as the project shows them.
    """

    project: Project
    traced: Strands
    multipliers: dict[str, Multiplier]
    parts: tuple[Part, ...]
    held: tuple[Held, ...]
    embroidered: np.ndarray
    embroidery_cm: pd.DataFrame
    balls: dict[str, int]
    notes: tuple[str, ...]

    # Records, in cm, worked out from the fields above.

    @cached_property
    def loads(self) -> tuple[RowLoad, ...]:
        """How full each worked row is."""
        return load_by_row(self.traced, self.held, self.project.habits)

    @cached_property
    def cards(self) -> tuple[Card, ...]:
        """The card of each worked row."""
        return make_cards(
            self.traced, self.held, self.loads, self.project, embroidered=self.embroidered
        )

    @cached_property
    def pieces(self) -> list[Piece]:
        """Each piece to wind or ball to lay out, in the order of need."""
        return winding_pieces(self.traced, self.held, self.project.allow)

    @cached_property
    def area_of_cell(self) -> np.ndarray:
        """The colour area of each cell of the knitted chart, rows × columns, from 1."""
        return label_areas(self.traced.chart, self.project.how)

    @cached_property
    def ends_to_sew(self) -> list[End]:
        """Each end of the strands and their refills, and where it is sewn in."""
        ends = list_ends(self.traced, self.held, self.area_of_cell)
        return plan_sewing(ends, self.traced, self.area_of_cell, self.project.habits.sew_every)

    @cached_property
    def needed(self) -> list[YarnNeeded]:
        """What the piece takes of each yarn, swatch and spare included."""
        wound = _by_yarn((piece.yarn, piece.length_cm) for piece in self.pieces)
        return _yarn_needed(self.project, self.multipliers, wound, self.embroidery_cm)

    # Tables for people.

    @cached_property
    def strands(self) -> pd.DataFrame:
        lengths = lengths_by_strand(self.parts)
        table = pd.concat([self.traced.table(), lengths], axis=1)
        return shown(table, self.project.units, digits=3)

    @cached_property
    def supplies(self) -> pd.DataFrame:
        return shown(supplies_table(self.held), self.project.units)

    @cached_property
    def ways(self) -> pd.DataFrame:
        return compare_ways(self.traced, self.held, self.project, balls=self.balls)

    @cached_property
    def winding_list(self) -> pd.DataFrame:
        project = self.project
        return winding_list(self.pieces, project.all_yarns, project.habits, project.units)

    @cached_property
    def shopping_list(self) -> pd.DataFrame:
        return shown(shopping_list(self.needed), self.project.units)

    @cached_property
    def embroidery(self) -> pd.DataFrame:
        return shown(self.embroidery_cm, self.project.units)

    @cached_property
    def rows(self) -> pd.DataFrame:
        return load_table(self.loads)

    @cached_property
    def areas(self) -> pd.DataFrame:
        return area_table(self.traced.chart, self.area_of_cell)

    @cached_property
    def ends(self) -> pd.DataFrame:
        return ends_table(self.ends_to_sew)

    @cached_property
    def ends_by_area(self) -> pd.DataFrame:
        return ends_by_area(self.ends_to_sew, self.areas)

    @cached_property
    def findings(self) -> pd.DataFrame:
        return find_issues(self.traced, self.project.all_yarns, self.project.yarns)

    # Totals.

    @property
    def refill_ends(self) -> int:
        """Ends that the joins of refills leave."""
        return sum(each.refill_ends for each in self.held)

    @property
    def embroidery_ends(self) -> int:
        return int(self.embroidery_cm.ends.sum())

    @property
    def ends_in_all(self) -> int:
        """Ends to sew in, those of refills and of embroidery included."""
        return self.traced.ends + self.refill_ends + self.embroidery_ends

    @property
    def wound_cm(self) -> float:
        """Yarn of all strands, tails and margins included."""
        return math.fsum(part.wound_cm for part in self.parts)

    @property
    def yarn_cm(self) -> float:
        """Yarn of all strands and of what is embroidered."""
        return self.wound_cm + float(self.embroidery_cm.length_cm.sum())

    def summary(self) -> str:
        """The plan in a few sentences, one a line."""
        traced = self.traced
        chart = f"{traced.chart.columns} stitches × {traced.chart.rows} chart rows"
        lines = [
            f"{self.project.name}: {chart}, {self.project.gauge}.",
            f"{counted(len(self.areas), 'colour area')}, worked by "
            f"{counted(traced.count, 'strand')}, {traced.middle_starts} of them begun from the "
            "middle.",
            self._ends_in_words(),
        ]
        if len(self.embroidery_cm):
            lines.append(self.embroidery_in_words())
        lines += [self._fullest_row_in_words(), self._supplies_in_words(), self._yarn_in_words()]
        return "\n".join(lines)

    def _ends_in_words(self) -> str:
        extra = {"refills": self.refill_ends, "embroidery": self.embroidery_ends}
        of_them = [f"{ends} of them from {what}" for what, ends in extra.items() if ends]
        return f"{self.ends_in_all} ends to sew in" + (
            f" ({', '.join(of_them)})." if of_them else "."
        )

    def _fullest_row_in_words(self) -> str:
        fullest = max(self.loads, key=lambda load: load.live)
        row = self.traced.how.row_name(fullest.row)
        return f"At most {counted(fullest.live, 'strand')} at once, in {row}: {fullest.load}."

    def _supplies_in_words(self) -> str:
        kinds = pd.Series([each.supply for each in self.held]).value_counts()
        how_held = ", ".join(f"{number} × {kind}" for kind, number in kinds.items())
        apart = ", halves apart" if self.traced.middle_starts else ""
        return f"Held as: {how_held}{apart}."

    def _yarn_in_words(self) -> str:
        embroidered = ", embroidery included" if self.embroidery_ends else ""
        length = show(self.yarn_cm, self.project.units)
        return f"Yarn for the piece: {length}{embroidered}. {self.how_sure()}"

    def embroidery_in_words(self) -> str:
        """What is embroidered afterwards, its yarn and its ends."""
        unit = LONG_UNIT[self.project.units]
        length = self.embroidery[f"length_{unit}"].sum()
        return (
            f"Embroidered afterwards: {embroidery_in_words(self.embroidery)}, {length:.2f} {unit} "
            "of yarn if a duplicate stitch takes "
            f"{self.project.allow.embroider_factor:g} times as much as a knitted one (an "
            "assumption: measure yours)."
        )

    def how_sure(self) -> str:
        """Where the lengths come from and how sure they are, in words."""
        ranked = sorted(self.multipliers.items(), key=lambda item: (item[1].value, item[0]))
        (low, least), (high, most) = ranked[0], ranked[-1]
        if str(least) == str(most):
            source = f"Multiplier {least}, {least.basis}."
        else:
            source = f"Multipliers from {least} ({low}) to {most} ({high}), from your measurements."
        if not most.spread:
            return f"{source} No margin is added."
        once_in = self.project.allow.short_once_in
        return f"{source} Wound so that a strand falls short only once in {once_in:g}."

    def __repr__(self) -> str:
        length = show(self.yarn_cm, self.project.units)
        embroidered = ""
        if len(self.embroidery_cm):
            embroidered = f", {self.embroidery_cm.stitches.sum()} stitches to embroider"
        return f"Plan for {self.project.name}: {self.traced!r}, {length} of yarn{embroidered}"


def make_plan(project: Project, *, say: Callable[[str], None] | None = None) -> Plan:
    """The plan for a project; the same project gives the same plan.

    What its progress says is knitted stays as it is, and the plan is the best that can follow.
    `say` is told when a chart needs time.
    """
    asked = ask(project)
    strands = trace_asked(project, asked, say=say)

    multipliers = multipliers_of(project)
    parts = measure_parts(strands, multipliers, project.allow)
    embroidery = _embroidery(project, asked, multipliers)

    balls = _balls_to_be_had(project, multipliers, parts, embroidery)
    own, own_notes = own_supplies(strands, project.choices)
    held, supply_notes = choose_supplies(strands, parts, project, balls=balls, own=own)

    notes = [*own_notes, *asked.notes, *carries_not_made(asked, strands)]
    notes += [*_strange_limits(project), *supply_notes, *_queries(multipliers)]
    drawn = project.chart.cells
    return Plan(
        project=project,
        traced=strands,
        multipliers=multipliers,
        parts=parts,
        held=held,
        embroidered=np.where(asked.chart.cells != drawn, drawn, -1),
        embroidery_cm=embroidery,
        balls=balls,
        notes=tuple(notes),
    )


def _embroidery(
    project: Project, asked: Asked, multipliers: Mapping[str, Multiplier]
) -> pd.DataFrame:
    """What is embroidered afterwards, one row an area, lengths in cm."""
    planned = Planned(multipliers, project.allow)
    return measure_embroidery(project, asked, planned).table()


def _balls_to_be_had(
    project: Project,
    multipliers: Mapping[str, Multiplier],
    parts: Iterable[Part],
    embroidery: pd.DataFrame,
) -> dict[str, int]:
    """Balls of each yarn in hand or to be bought, before it is known how it is held."""
    wound = _by_yarn((part.yarn, part.wound_cm) for part in parts)
    needed = _yarn_needed(project, multipliers, wound, embroidery)
    return {each.yarn.letter: each.to_be_had for each in needed}


def _yarn_needed(
    project: Project,
    multipliers: Mapping[str, Multiplier],
    wound_cm: Mapping[str, float],
    embroidery: pd.DataFrame,
) -> list[YarnNeeded]:
    """What the piece takes of each yarn, for lengths wound by yarn and for what is embroidered."""
    embroidered = _by_yarn(zip(embroidery.yarn, embroidery.length_cm, strict=True))
    return yarn_needed(
        wound_cm,
        project.all_yarns,
        multipliers,
        project.gauge,
        project.allow,
        embroidered_cm=embroidered,
    )


def _by_yarn(lengths: Iterable[tuple[str, float]]) -> dict[str, float]:
    """Lengths added up by yarn, cm."""
    totals: dict[str, list[float]] = {}
    for letter, length_cm in lengths:
        totals.setdefault(letter, []).append(length_cm)
    return {letter: math.fsum(each) for letter, each in totals.items()}


def _strange_limits(project: Project) -> list[str]:
    """A note for each yarn with carry limits of its own that the chart does not have."""
    return [
        f"Yarn {letter} has carry limits of its own but is not on the chart. Is its letter right?"
        for letter in project.by_yarn
        if letter not in project.chart.letters
    ]


def _queries(multipliers: Mapping[str, Multiplier]) -> list[str]:
    """The questions that unlikely multipliers raise, each once."""
    return [each.query for each in dict.fromkeys(multipliers.values()) if each.query]
