"""The plan: from a project to strands, lengths, supplies, winding list and shopping list."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from planner.choices import (
    ask,
    carries_not_made,
    embroidery_in_words,
    measure_embroidery,
    trace_asked,
)
from planner.multiplier import Multiplier, multipliers_of
from planner.piece import PARTS, OwnChoice, Project
from planner.rows import Card, ends_by_area, list_ends, load_by_row, make_cards, plan_sewing
from planner.strands import Strands, area_table, find_issues, label_areas
from planner.supplies import (
    Planned,
    balls_to_be_had,
    choose_supplies,
    compare_ways,
    measure_parts,
    shopping_list,
    strand_lengths,
    strand_parts,
    winding_list,
    winding_pieces,
)
from planner.units import LONG_UNIT, counted, show, shown


@dataclass(frozen=True, eq=False)
class Plan:
    """A computed plan. `traced` holds the strands as traced, its chart the one that is knitted; `embroidered` the yarn to
    embroider each cell in, an index into the chart's letters, −1 where none; `parts`, `held` and `embroidery_cm` the lengths of
    strands, how each is held and what is embroidered, in cm; `balls` how many of each yarn are to be had.

    What people read is worked out when it is first asked for: tables, lengths in metres (`…_m`) or yards (`…_yd`) as the
    project shows them, and cards."""

    project: Project
    traced: Strands
    multipliers: dict[str, Multiplier]
    parts: pd.DataFrame
    held: pd.DataFrame
    embroidered: np.ndarray
    embroidery_cm: pd.DataFrame
    balls: dict[str, int]
    notes: tuple[str, ...]

    @cached_property
    def cards(self) -> tuple[Card, ...]:
        """The card of each worked row."""
        return make_cards(self)

    @cached_property
    def area_of_cell(self) -> np.ndarray:
        """The colour area of each cell of the knitted chart, rows × columns, from 1."""
        return label_areas(self.traced.chart, self.project.how)

    @cached_property
    def areas(self) -> pd.DataFrame:
        return area_table(self.traced.chart, self.area_of_cell)

    @cached_property
    def strands(self) -> pd.DataFrame:
        lengths = strand_lengths(self.parts).reset_index(drop=True)
        return shown(
            pd.concat([self.traced.table(), lengths], axis=1), self.project.units, digits=3
        )

    @cached_property
    def supplies(self) -> pd.DataFrame:
        return shown(self.held, self.project.units)

    @cached_property
    def ways(self) -> pd.DataFrame:
        project = self.project
        return compare_ways(
            self.traced,
            self.held,
            project.all_yarns,
            project.habits,
            project.allow,
            balls=self.balls,
        )

    @cached_property
    def pieces(self) -> pd.DataFrame:
        """Each piece to wind, lengths in cm."""
        project = self.project
        return winding_pieces(
            self.traced, self.parts, self.held, project.all_yarns, project.habits, project.allow
        )

    @cached_property
    def winding_list(self) -> pd.DataFrame:
        return winding_list(
            self.pieces, self.project.all_yarns, self.project.habits, self.project.units
        )

    @cached_property
    def shopping_list(self) -> pd.DataFrame:
        lengths = self.pieces.groupby("yarn").length_cm.sum()
        return shown(
            _shopping(self.project, self.multipliers, lengths, self.embroidery_cm),
            self.project.units,
        )

    @cached_property
    def embroidery(self) -> pd.DataFrame:
        return shown(self.embroidery_cm, self.project.units)

    @cached_property
    def rows(self) -> pd.DataFrame:
        return load_by_row(self.traced, self.held, self.project.habits)

    @cached_property
    def ends(self) -> pd.DataFrame:
        ends = list_ends(
            self.traced, self.parts, self.held, strand_parts(self.traced)[0], self.area_of_cell
        )
        return plan_sewing(ends, self.traced, self.area_of_cell, self.project.habits.sew_every)

    @cached_property
    def ends_by_area(self) -> pd.DataFrame:
        return ends_by_area(self.ends, self.areas)

    @cached_property
    def findings(self) -> pd.DataFrame:
        return find_issues(self.traced, self.project.all_yarns, self.project.yarns)

    @property
    def ends_in_all(self) -> int:
        """Ends to sew in, those of refills and of embroidery included."""
        return (
            self.traced.ends + int(self.held.refill_ends.sum()) + int(self.embroidery_cm.ends.sum())
        )

    @property
    def wound_cm(self) -> float:
        """Yarn of all strands, tails and margins included."""
        return float(self.parts.wound_cm.sum())

    @property
    def yarn_cm(self) -> float:
        """Yarn of all strands and of what is embroidered."""
        return self.wound_cm + float(self.embroidery_cm.length_cm.sum())

    def summary(self) -> str:
        """The plan in a few sentences."""
        traced, units = self.traced, self.project.units
        held = self.supplies.supply.value_counts()
        peak = self.rows.loc[self.rows.live.idxmax()]
        joins = int(self.supplies.refill_ends.sum())
        embroidered = int(self.embroidery_cm.ends.sum())
        of_them = [
            f"{n} of them from {what}"
            for n, what in ((joins, "refills"), (embroidered, "embroidery"))
            if n
        ]
        how_held = ", ".join(f"{n} × {kind}" for kind, n in held.items()) + (
            ", halves apart" if traced.middle_starts else ""
        )
        lines = [
            f"{self.project.name}: {traced.chart.columns} stitches × {traced.chart.rows} chart rows, {self.project.gauge}.",
            f"{counted(len(self.areas), 'colour area')}, worked by {counted(traced.count, 'strand')}, "
            f"{traced.middle_starts} of them begun from the middle.",
            f"{self.ends_in_all} ends to sew in"
            + (f" ({', '.join(of_them)})." if of_them else "."),
            *([self.embroidery_in_words()] if len(self.embroidery) else []),
            f"At most {counted(int(peak.live), 'strand')} at once, in {traced.how.row_name(int(peak.row) - 1)}: {peak.load}.",
            f"Held as: {how_held}.",
            f"Yarn for the piece: {show(self.yarn_cm, units)}"
            + (", embroidery included" if embroidered else "")
            + f". {self.how_sure()}",
        ]
        return "\n".join(lines)

    def embroidery_in_words(self) -> str:
        """What is embroidered afterwards, its yarn and its ends."""
        length = self.embroidery[f"length_{LONG_UNIT[self.project.units]}"].sum()
        return (
            f"Embroidered afterwards: {embroidery_in_words(self.embroidery)}, {length:.2f} "
            f"{LONG_UNIT[self.project.units]} of yarn if a duplicate stitch takes {self.project.allow.embroider_factor:g} times "
            "as much as a knitted one (an assumption: measure yours)."
        )

    def how_sure(self) -> str:
        """Where the lengths come from and how sure they are, in words."""
        ranked = sorted(self.multipliers.items(), key=lambda item: (item[1].value, item[0]))
        (low, least), (high, most) = ranked[0], ranked[-1]
        if str(least) == str(most):
            said = f"Multiplier {least}, {least.basis}."
        else:
            said = f"Multipliers from {least} ({low}) to {most} ({high}), from your measurements."
        once = self.project.allow.short_once_in
        return said + (
            f" Wound so that a strand falls short only once in {once:g}."
            if most.spread
            else " No margin is added."
        )

    def __repr__(self):
        embroidered = (
            f", {self.embroidery_cm.stitches.sum()} stitches to embroider"
            if len(self.embroidery_cm)
            else ""
        )
        return f"Plan for {self.project.name}: {self.traced!r}, {show(self.yarn_cm, self.project.units)} of yarn{embroidered}"


def make_plan(project: Project, *, say: Callable[[str], None] | None = None) -> Plan:
    """The plan for a project; the same project gives the same plan.

    What its progress says is knitted stays as it is, and the plan is the best that can follow. `say` is told when a chart
    needs time.
    """
    yarns, multipliers, units = project.all_yarns, multipliers_of(project), project.units
    asked = ask(project)
    traced = trace_asked(project, asked, say=say)
    parts = measure_parts(traced, multipliers, project.allow)
    own, notes = own_supplies(traced, project.choices)
    strange = [letter for letter in project.by_yarn if letter not in project.chart.letters]
    notes += [*asked.notes, *carries_not_made(asked, traced)]
    notes += [
        f"Yarn {letter} has carry limits of its own but is not on the chart. Is its letter right?"
        for letter in strange
    ]

    planned = Planned(multipliers, project.allow)
    embroidery = measure_embroidery(project, asked, planned).table()
    balls = balls_to_be_had(
        _shopping(project, multipliers, parts.groupby("yarn").wound_cm.sum(), embroidery)
    )
    held, more = choose_supplies(
        traced, parts, yarns, project.habits, project.allow, balls=balls, own=own, units=units
    )
    return Plan(
        project=project,
        traced=traced,
        multipliers=multipliers,
        parts=parts,
        held=held,
        embroidered=np.where(asked.chart.cells != project.chart.cells, project.chart.cells, -1),
        embroidery_cm=embroidery,
        balls=balls,
        notes=(*notes, *more, *(m.query for m in set(multipliers.values()) if m.query)),
    )


def _shopping(
    project: Project,
    multipliers: dict[str, Multiplier],
    lengths: pd.Series,
    embroidery: pd.DataFrame,
) -> pd.DataFrame:
    """The shopping list, in cm, for lengths wound by yarn and for what is embroidered."""
    embroidered = embroidery.groupby("yarn").length_cm.sum()
    both = lengths.add(embroidered, fill_value=0).to_dict()
    table = shopping_list(both, project.all_yarns, multipliers, project.gauge, project.allow)
    if len(embroidered):
        table.insert(4, "of_it_embroidered_cm", table.yarn.map(embroidered).fillna(0.0))
    return table


def own_supplies(
    traced: Strands, choices: tuple[OwnChoice, ...]
) -> tuple[dict[tuple[str, str], str], list[str]]:
    """The knitter's choices of supply by (strand, part), and a note for each whose strand or half is not there now."""
    runs, first = traced.runs, traced.first_run
    places = zip(
        traced.yarn.tolist(),
        runs.row[first].tolist(),
        traced.stitch_number(first).tolist(),
        strict=True,
    )
    begins = {
        (traced.chart.letters[y], row + 1, stitch): i for i, (y, row, stitch) in enumerate(places)
    }
    own, notes = {}, []
    for choice in choices:
        if choice.about != "supply":
            continue
        strand = begins.get((choice.yarn, choice.row, choice.stitch))
        gone = "no strand begins there now"
        if strand is not None:
            if choice.part == PARTS[0] or (traced.has_middle[strand] and choice.part in PARTS):
                own[traced.labels[strand], choice.part] = choice.choice
                continue
            gone = f"{traced.labels[strand]} has no {choice.part}"
        notes.append(
            f"Your choice of a {choice.choice} for the strand of {choice.yarn} that began in row {choice.row} "
            f"at stitch {choice.stitch} is kept, but {gone}."
        )
    return own, notes
