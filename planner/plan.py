"""The plan: from a project to strands, lengths, supplies, what to wind and what to buy."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from planner import cards  # loaded when a card is asked for
from planner.choices import (
    Alike,
    Embroidery,
    alike_yarns,
    ask,
    before_buying,
    compare_ways,
    cost_of_rounds,
    embroidery_in_full,
    find_issues,
    measure_embroidery,
    notes_on_choices,
    trace_asked,
)
from planner.multiplier import Multiplier, multipliers_of
from planner.piece import BALL, JOINED, Project, part_title, rows_worked, standing
from planner.rows import (
    Caught,
    End,
    RowLoad,
    ends_by_area,
    ends_caught,
    ends_table,
    list_ends,
    load_by_row,
    load_table,
)
from planner.strands import Strands, area_table, label_areas
from planner.supplies import (
    CAST_ON,
    TO_EMBROIDER,
    Held,
    Part,
    Piece,
    Planned,
    YarnNeeded,
    choose_supplies,
    lengths_by_strand,
    lengths_of_balls,
    measure_parts,
    own_supplies,
    shopping_list,
    supplies_table,
    winding_list,
    yarn_needed,
)
from planner.units import (
    CM_PER,
    LISTED_UNIT,
    counted,
    known_in_words,
    rounded_up,
    show_total,
    shown,
    shown_totals,
)

if TYPE_CHECKING:
    from planner.cards import Card, Cards


@dataclass(frozen=True, eq=False)
class Plan:
    """A computed plan.

    `traced` holds the strands, its chart the one that is knitted; `parts` and `held` how long each
    part of a strand is and how it is held; `drawn_areas` the colour area of each cell of the chart
    as drawn; `embroidered` the yarn to embroider each cell in, an index into the chart's letters,
    −1 where none; `to_embroider` what that takes; `balls` the lengths, cm, of the balls of each
    yarn in hand or to be bought.

    What people read is worked out when it is first asked for: cards, and tables with lengths in
    metres (`…_m`) or yards (`…_yd`), as the project shows them.
    """

    project: Project
    traced: Strands
    multipliers: dict[str, Multiplier]
    parts: tuple[Part, ...]
    held: tuple[Held, ...]
    drawn_areas: np.ndarray
    embroidered: np.ndarray
    to_embroider: Embroidery
    balls: dict[str, tuple[float, ...]]
    notes: tuple[str, ...]

    # Records, in cm, worked out from the fields above. Each is kept when it was asked for once: a
    # plan that is only compared with others is never asked for most of them.

    @cached_property
    def loads(self) -> tuple[RowLoad, ...]:
        """How full each worked row is."""
        return load_by_row(self.traced, self.held, self.project.habits)

    @property
    def cards(self) -> tuple[Card, ...]:
        """The card of each worked row."""
        return self.all_cards.rows

    @cached_property
    def all_cards(self) -> Cards:
        """The cards of the worked rows, and of casting on and binding off."""
        return cards.make_cards(
            self.traced,
            self.held,
            self.loads,
            self.project,
            pieces=self.pieces,
            embroidered=self.embroidered,
        )

    @cached_property
    def pieces(self) -> list[Piece]:
        """Each piece to wind or ball to lay out, in the order of need; what is embroidered last."""
        wound = cards.pieces_in_time(self.traced, self.held, self.project.all_yarns)
        cast_on = cards.cast_on_piece(self.project, self.traced)
        return [*cast_on, *wound, *self.to_embroider.pieces(self.project.how)]

    @cached_property
    def area_of_cell(self) -> np.ndarray:
        """The colour area of each cell of the knitted chart, rows × columns, from 1."""
        # Without embroidery the chart is knitted as it is drawn.
        if not self.to_embroider:
            return self.drawn_areas
        return label_areas(self.traced.chart, self.project.how)

    @cached_property
    def joins(self) -> dict[str, tuple[int, ...]]:
        """The worked rows, from 0, in which each part is joined to a next piece, by its title.

        Those that were logged come first.
        """
        log = self.project.progress
        done = rows_worked(log)
        logged: dict[str, list[int]] = defaultdict(list)
        for entry in standing(log):
            if entry.what == JOINED:
                logged[part_title(entry.strand, entry.part)].append(entry.rows_done)
        by_title = {each.part.title: each for each in self.held}
        return {title: each.join_rows(logged[title], done) for title, each in by_title.items()}

    @cached_property
    def caught(self) -> Caught:
        """The tails that are caught as they are knitted."""
        casts_on = bool(self.project.allow.section_cast_on)
        if not self.project.habits.tails_caught:
            return Caught((), ())
        return ends_caught(self.traced, self.held, self.joins, casts_on=casts_on)

    @cached_property
    def ends_to_sew(self) -> list[End]:
        """Each end of strands, refills and embroidery, in working order, embroidery last."""
        areas, allow = self.area_of_cell, self.project.allow
        listed = list_ends(
            *(self.traced, self.held, areas),
            joins=self.joins,
            binds_off=bool(allow.bind_off),
            caught=self.caught,
        )
        apart = _embroidery_ends(self.pieces, self.traced, areas)
        return [*_cast_on_ends(self.pieces, self.traced, areas), *listed, *apart]

    @cached_property
    def needed(self) -> list[YarnNeeded]:
        """What the piece takes of each yarn, swatch and spare included."""
        # What the winding list asks to measure off, line by line: no total differs from its lines.
        units = self.project.units
        measured_off = [(p.yarn, p.supply, p.to_measure_cm(units)) for p in self.pieces]
        return yarn_needed(self.project, self.multipliers, measured_off)

    @cached_property
    def alike(self) -> list[Alike]:
        """The yarns that touch and look alike, to whom, and where."""
        return alike_yarns(self.traced, self.project.all_yarns)

    # Tables for people, in the units of the project. No logic reads them back.

    @cached_property
    def strands(self) -> pd.DataFrame:
        lengths = lengths_by_strand(self.parts)
        table = pd.concat([self.traced.table(), lengths], axis=1)
        # To the millimetre, so that the shares of a short strand still add up.
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
        return shown_totals(shopping_list(self.needed), self.project.units)

    @cached_property
    def embroidery(self) -> pd.DataFrame:
        units, unit = self.project.units, LISTED_UNIT[self.project.units]
        table = self.to_embroider.table().rename(columns={"length_cm": f"length_{unit}"})
        lengths = [rounded_up(cm, units) / float(CM_PER[unit]) for cm in table[f"length_{unit}"]]
        return table.assign(**{f"length_{unit}": np.array(lengths, dtype=float).round(2)})

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
        project, traced = self.project, self.traced
        more = before_buying(traced, project, self.held, self.needed)
        return find_issues(traced, project.all_yarns, project.yarns, units=project.units, more=more)

    # Totals: each is added up here and nowhere else, so that no two tables can disagree.

    @property
    def refill_ends(self) -> int:
        """Ends to sew in that joins leave, those that were logged among them."""
        titles = [each.part.title for each in self.held if not each.spliced]
        joins = sum(len(self.joins[title]) for title in titles)
        return 2 * (joins - len(self.caught.joins))

    @property
    def ends_caught(self) -> int:
        """Ends that are caught as they are knitted, and need no sewing in."""
        return 2 * len(self.caught.joins) + len(self.caught.starts)

    @property
    def ends_in_all(self) -> int:
        """Ends to sew in, those of refills and of embroidery included."""
        of_strands = self.traced.ends - len(self.caught.starts)
        cast_on = 2 if self.project.allow.casts_on_in_one else 0
        return of_strands + cast_on + self.refill_ends + self.to_embroider.ends

    @property
    def yarn_cm(self) -> float:
        """Yarn for the piece: all that is measured off, embroidery and refills included."""
        return sum(each.piece_cm for each in self.needed)

    def summary(self) -> str:
        """The plan in a few sentences, one a line."""
        traced = self.traced
        chart = f"{traced.chart.columns} stitches × {traced.chart.rows} chart rows"
        lines = [
            f"{self.project.name}: {chart}, {self.project.gauge.in_words(self.project.units)}.",
            f"{counted(len(self.areas), 'colour area')}, worked by "
            f"{counted(traced.count, 'strand')}, {traced.middle_starts} of them begun from the "
            "middle.",
            self._ends_in_words(),
        ]
        if self.to_embroider:
            lines.append(self.embroidery_in_words())
        lines += [self._fullest_row_in_words(), self._supplies_in_words(), self._yarn_in_words()]
        return "\n".join(lines)

    def _ends_in_words(self) -> str:
        # What could be done without is said apart: other choices may save these ends.
        of_them = []
        if self.refill_ends:
            of_them.append(f"{self.refill_ends} of them from refills")
        if self.to_embroider:
            of_them.append(f"{self.to_embroider.ends} of them from embroidery")
        if self.ends_caught:
            of_them.append(f"{self.ends_caught} more are caught as they are knitted")
        extra = f" ({', '.join(of_them)})" if of_them else ""
        return f"{self.ends_in_all} ends to sew in{extra}."

    def _fullest_row_in_words(self) -> str:
        # The first of equals, where the knitter meets it.
        fullest = max(self.loads, key=lambda load: load.live)
        row = self.traced.how.row_name(fullest.row)
        return f"At most {counted(fullest.live, 'length')} hang at once, in {row}: {fullest.load}."

    def _supplies_in_words(self) -> str:
        # The commonest first.
        kinds = Counter(each.in_words for each in self.held).most_common()
        how_held = "; ".join(f"{number} × {kind}" for kind, number in kinds)
        # Each half is held in a way of its own, so there may be more of these than strands.
        apart = " (the halves counted apart)" if self.traced.middle_starts else ""
        return f"Held as: {how_held}{apart}."

    def _yarn_in_words(self) -> str:
        embroidered = ", embroidery included" if self.to_embroider else ""
        length = show_total(self.yarn_cm, self.project.units)
        return f"Yarn for the piece: {length}{embroidered}. {self.how_sure()}"

    def embroidery_in_words(self) -> str:
        """What is embroidered afterwards, its yarn and its ends."""
        embroidered_cm = sum(each.embroidered_cm for each in self.needed)
        return embroidery_in_full(self.to_embroider, embroidered_cm, self.project)

    def how_sure(self) -> str:
        """Where the lengths come from and how sure they are, in words."""
        known = f"Yarn a row takes: {known_in_words(self.multipliers)}."
        if not any(each.spread for each in self.multipliers.values()):
            return f"{known} No margin is added."
        once_in = self.project.allow.short_once_in
        return f"{known} Wound so that a strand falls short only once in {once_in:g}."

    def __repr__(self) -> str:
        length = show_total(self.yarn_cm, self.project.units)
        embroidered = ""
        if self.to_embroider:
            embroidered = f", {self.to_embroider.stitches.sum()} stitches to embroider"
        return f"Plan for {self.project.name}: {self.traced!r}, {length} of yarn{embroidered}"


def make_plan(
    project: Project,
    *,
    say: Callable[[str], None] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Plan:
    """The plan for a project; the same project gives the same plan.

    What its progress says is knitted stays as it is, and the plan is the best that can follow.
    `say` is told when a chart needs time, and `progress` which share of the tracing is done; what
    it raises ends the work.
    """
    # What was decided by hand: areas to embroider, carries to make or to leave, and where the chart
    # that is knitted therefore differs from the one drawn.
    asked = ask(project)
    strands = trace_asked(project, asked, say=say, progress=progress)

    multipliers = multipliers_of(project)
    parts = measure_parts(strands, multipliers, project.allow)
    embroidery = measure_embroidery(project, asked, Planned(multipliers, project.allow))

    # Balls have to be counted before it is known how the yarn is held, for how it is held hangs on
    # how many balls there are. The tails of refills are not in it yet; they are short.
    measured_off = [*_measured_off(parts, embroidery, project.units)]
    for piece in cards.cast_on_piece(project, strands):
        measured_off.append((piece.yarn, piece.supply, piece.to_measure_cm(project.units)))
    needed = yarn_needed(project, multipliers, measured_off)
    balls = lengths_of_balls(needed, project.units)
    own, own_notes = own_supplies(strands, project.choices)
    held, supply_notes = choose_supplies(strands, parts, project, balls=balls, own=own)

    # Where the knitter's own decisions do not fit comes first.
    notes = [*own_notes, *notes_on_choices(project, asked, strands, embroidery)]
    # Yarns that were not measured share one multiplier, and would ask the same again and again.
    queries = [each.query for each in multipliers.values() if each.query]
    notes += [*supply_notes, *dict.fromkeys(queries)]
    notes += cost_of_rounds(project, asked, strands)
    drawn = project.chart.cells
    return Plan(
        project=project,
        traced=strands,
        multipliers=multipliers,
        parts=parts,
        held=held,
        drawn_areas=asked.areas,
        embroidered=np.where(asked.chart.cells != drawn, drawn, -1),
        to_embroider=embroidery,
        balls=balls,
        notes=tuple(notes),
    )


def _measured_off(
    parts: Iterable[Part], embroidery: Embroidery, units: str
) -> Iterator[tuple[str, str, float]]:
    """Yarn, supply and rounded length of each part and each area to embroider."""
    for part in parts:
        yield part.yarn, BALL, rounded_up(part.wound_cm, units)
    for letter, length_cm in zip(embroidery.yarn, embroidery.length_cm, strict=True):
        yield letter, TO_EMBROIDER, rounded_up(length_cm, units)


def _embroidery_ends(pieces: Iterable[Piece], strands: Strands, areas: np.ndarray) -> list[End]:
    """The two ends of each length that is embroidered with."""
    columns = strands.chart.columns
    ends = []
    for piece in pieces:
        if piece.supply != TO_EMBROIDER or piece.stitch is None:
            continue
        column = columns - piece.stitch
        end = End(
            strand=piece.label,
            yarn=piece.yarn,
            what="embroidery",
            row=piece.row,
            side=piece.side,
            column=column,
            stitch=piece.stitch,
            area=int(areas[piece.row // strands.how.rows_per_chart_row, column]),
        )
        ends += [end, end]
    return ends


def _cast_on_ends(pieces: Iterable[Piece], strands: Strands, areas: np.ndarray) -> list[End]:
    """The two ends of a length that all stitches are cast on with, one at either side."""
    how, columns = strands.how, strands.chart.columns
    in_first_row = strands.runs.only(strands.runs.row == 0)
    ends = []
    for piece in pieces:
        if piece.label != CAST_ON:
            continue
        for column in (int(in_first_row.lo.min()), int(in_first_row.hi.max())):
            ends.append(
                End(
                    strand=piece.label,
                    yarn=piece.yarn,
                    what="cast-on",
                    row=0,
                    side=how.side(0),
                    column=column,
                    stitch=columns - column,
                    area=int(areas[0, column]),
                )
            )
    return ends
