"""Row cards: what the hands do in each worked row, in the order in which they do it.

Casting on and binding off are cards of their own. So the first row does not begin again what hangs
from the cast-on, and the last one does not cut what is bound off with.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from operator import itemgetter
from typing import NamedTuple

import numpy as np

from planner.cards.phrases import (
    BEFORE_ALL,
    Need,
    Phrases,
    embroidered_in_words,
    how_to_cross,
    refills_in_words,
)
from planner.cards.shaping import shaping_in_words
from planner.cards.stitches import stitch_of, stitch_on
from planner.piece import Project
from planner.rows import RowLoad, runs_by_row
from planner.strands import Strands
from planner.supplies import CAST_ON, Held, Piece
from planner.units import counted, rounded_up, show


class Line(NamedTuple):
    """A run as its card has it, and what is done at it.

    `name` is what its yarn is called and `strand` the length that works it; selvedge stitches are
    counted in, and `so_far` counts from where the row begins. `steps` are in working order.
    """

    strand: str
    yarn: str
    name: str
    stitches: int
    so_far: int
    steps: tuple[str, ...]

    def __str__(self) -> str:
        steps = f": {'; '.join(self.steps)}" if self.steps else ""
        return f"{self.stitches:>3} {self.name} {self.strand}{steps}"


@dataclass(frozen=True)
class Card:
    """One worked row, counted from 1; row 0 is the cast-on, and binding off follows the last row.

    `stitch` says whether it is knitted or purled, "" of a cast-on. `ready` is what must lie ready
    before the row, `said` what is said before its runs, `lines` the
    runs in working order, `foot` what is said after them, `ahead` what the next row needs. What has
    not changed since an earlier card is not said again; `cross`, how yarns are crossed at a border,
    is there for whoever asks. `hanging` (strand, edge from the left) is how the yarns hang after
    the row.
    """

    row: int
    chart_row: int
    name: str
    side: str
    works: str
    stitch: str
    ready: tuple[Need, ...]
    said: tuple[str, ...]
    lines: tuple[Line, ...]
    foot: tuple[str, ...]
    ahead: str
    cross: str
    hanging: tuple[tuple[str, int], ...]
    live: int
    load: str

    @property
    def title(self) -> str:
        """The row's name as a line begins with it: "Row 5 (RS)"."""
        return self.name[0].upper() + self.name[1:]

    @property
    def how_worked(self) -> str:
        """Its stitch and its way: "knit, right to left"; "" of a cast-on."""
        return ", ".join(filter(None, (self.stitch, self.works)))

    @property
    def in_all(self) -> str:
        """The stitches of the row, in words."""
        return counted(self.lines[-1].so_far, "stitch")

    def aloud(self) -> str:
        """The runs as they are read aloud: "3 A1, 12 B1, 7 A2"."""
        return ", ".join(f"{line.stitches} {line.strand}" for line in self.lines)

    def written(self) -> str:
        """The row as a pattern writes it: "Row 5 (RS): 10 A, 3 B, 19 A"."""
        runs = ", ".join(f"{line.stitches} {line.yarn}" for line in self.lines)
        return f"{self.title}: {runs}"

    def __str__(self) -> str:
        works = f", {self.how_worked}" if self.how_worked else ""
        text = [f"{self.title}{works}: {self.in_all}"]
        if self.ready:
            text.append(f"Ready: {'; '.join(map(str, self.ready))}")
        text += self.said
        text += map(str, self.lines)
        text += self.foot
        if self.ahead:
            text.append(self.ahead)
        return "\n".join(text)


class Cards(NamedTuple):
    """The cards of a piece: that of each worked row, and those before and after, if there are."""

    cast_on: Card | None
    rows: tuple[Card, ...]
    bind_off: Card | None


def make_cards(
    strands: Strands,
    held: Sequence[Held],
    loads: Sequence[RowLoad],
    project: Project,
    *,
    pieces: Sequence[Piece],
    embroidered: np.ndarray,
) -> Cards:
    """The cards of a piece, in order.

    `loads` comes from `load_by_row` and `pieces` from `winding_pieces`; `embroidered` is the yarn
    to embroider each cell of the chart in, an index into its letters, −1 where there is none.
    """
    phrases = Phrases(strands, pieces, project)
    ready = phrases.ready()
    to_cast_on = ready.pop(BEFORE_ALL, [])
    # What hangs from the cast-on is there before the first row, so that its card is silent on it.
    if phrases.casts_on:
        to_cast_on += ready.pop(0, [])
    refills = refills_in_words(held, project.units, strands.how.row_word)
    for row, needs in refills.items():
        ready.setdefault(row, []).extend(needs)

    afterwards = embroidered_in_words(embroidered, project.chart.letters, strands.how)
    cards = _row_cards(phrases, loads, project, ready, afterwards)
    # A row's needs are known only when its own card is made.
    for number, following in enumerate(cards[1:]):
        cards[number] = replace(cards[number], ahead=_ahead(following))
    if phrases.binds_off:
        cards[-1] = replace(cards[-1], ahead="Next: bind off.")
    cast_on = _cast_on(phrases, cards[0], to_cast_on, project)
    bind_off = _bind_off(phrases, cards[-1])
    return Cards(cast_on, tuple(cards), bind_off)


def _row_cards(
    phrases: Phrases,
    loads: Sequence[RowLoad],
    project: Project,
    ready: Mapping[int, Sequence[Need]],
    afterwards: Mapping[int, str],
) -> list[Card]:
    """The cards of the worked rows; `ready` and `afterwards` go by worked rows from 0."""
    strands = phrases.walk.strands
    how = strands.how
    hanging = phrases.carries.ways.hanging()
    shaping = shaping_in_words(strands)
    # How yarns are crossed is said once for each side, where a row first has a border.
    first_crossed: dict[str, int] = {}
    for load in loads:
        if load.borders:
            first_crossed.setdefault(load.side, load.row)
    cards = []
    load_before = ""
    for load, in_row in zip(loads, runs_by_row(strands.runs), strict=True):
        row = load.row
        cross = how_to_cross(how, load.side)
        said = [shaping[row]] if row in shaping else []
        if first_crossed.get(load.side) == row:
            said.append(f"At each border: {cross}")
        if how.closes_join:
            said.append(f"At the join: {phrases.closing(row)}")
        foot = []
        # How many lengths hang is said where it changes: on every card nobody would read it.
        load_now = _load_in_words(load)
        if load_now != load_before:
            foot.append(load_now)
        load_before = load_now
        if row in afterwards:
            foot.append(afterwards[row])
        # From the left of the chart, and by name where two hang at one edge.
        in_place = sorted(hanging.get(row, []), key=itemgetter(1, 0))
        cards.append(
            Card(
                row=row + 1,
                chart_row=load.chart_row + 1,
                name=how.row_name(row),
                side=load.side,
                works=load.works,
                stitch=stitch_of(how, row),
                ready=tuple(ready.get(row, ())),
                said=tuple(said),
                lines=_lines(phrases, in_row),
                foot=tuple(foot),
                ahead="",
                cross=cross,
                hanging=tuple(in_place),
                live=load.live,
                load=load.load,
            )
        )
    return cards


def _load_in_words(load: RowLoad) -> str:
    # Of a strand begun from its middle both halves hang, so they are not called strands.
    hang = "1 hangs" if load.live == 1 else f"{load.live:,} hang at once"
    return f"{hang}: {load.load}."


def _lines(phrases: Phrases, in_row: range) -> tuple[Line, ...]:
    """The runs of a row as its card has them."""
    strands = phrases.walk.strands
    runs = strands.runs
    # The chart has no selvedge: it is worked in the yarn beside it, at both ends of the row. A run
    # from edge to edge has both.
    at_an_edge = (in_row[0], in_row[-1])
    lines = []
    so_far = 0
    for run in in_row:
        selvedge = strands.how.selvedge * at_an_edge.count(run)
        stitches = int(runs.stitches[run]) + selvedge
        done = so_far + stitches
        steps = phrases.steps(run, first=so_far, last=done)
        so_far = done
        letter = strands.chart.letters[runs.yarn[run]]
        name = phrases.yarns[letter].name or letter
        line = Line(phrases.walk.title(run), letter, name, stitches, so_far, tuple(steps))
        lines.append(line)
    return tuple(lines)


def _ahead(card: Card) -> str:
    """What a card says of the one that follows it."""
    # A yarn that is begun and runs out in one row is named once.
    titles = dict.fromkeys(need.title for need in card.ready)
    needs = f"have {', '.join(titles)} ready" if titles else "nothing new"
    return f"Next, {card.name}: {needs}."


def _counted_anew(lines: Sequence[Line]) -> tuple[Line, ...]:
    """The same lines, their stitches counted from the first of them."""
    so_far = 0
    counted_lines = []
    for line in lines:
        so_far += line.stitches
        counted_lines.append(line._replace(so_far=so_far))
    return tuple(counted_lines)


def _cast_on(phrases: Phrases, first: Card, ready: Sequence[Need], project: Project) -> Card | None:
    """The card of the cast-on, in the sections of the first row; None if it is not planned.

    The last stitch cast on is the first worked, so that each yarn hangs where the first row wants
    it; a tube becomes a ring when that is done (common practice, no source).
    """
    if project.allow.casts_on_in_one:
        return _cast_on_in_one(phrases, first, ready, project)
    if not phrases.casts_on:
        return None
    lines = _sections(phrases, first.lines, project)
    begins = f"{first.name} begins with the last stitch cast on"
    if phrases.how.is_tube:
        begins += ", and at its end it joins the ring; take care that the cast-on is not twisted"
    said = [f"Cast on in this order: {begins}."]
    if len(lines) > 1:
        said.append("Where two yarns meet, cross them, so that the sections hang together.")
    said += _between_sections(lines)
    widths = f"{project.allow.cast_on:g} times the width of its sections"
    # Both threads go into every stitch, so that both hang from the last one.
    go_on = "knit on with the yarn, not with what is left of the tail"
    said.append(f"For a long-tail cast-on each tail has {widths} in it; {go_on}.")
    return _before_the_rows(first, ready, said, _counted_anew(lines))


def _sections(phrases: Phrases, first_row: Sequence[Line], project: Project) -> list[Line]:
    """The sections of a cast-on in the order in which they are cast on, from the last one back."""
    # The tail of a yarn has all of its sections in it, so it is said at the first of them.
    section_stitches: Counter[str] = Counter()
    for line in first_row:
        section_stitches[line.strand] += line.stitches
    allow = project.allow
    stitch_cm = float(project.gauge.stitch_cm)
    begun: set[str] = set()
    sections = []
    for run, line in reversed(list(enumerate(first_row))):
        steps: tuple[str, ...] = ()
        if line.strand not in begun:
            tail_cm = allow.cast_on * section_stitches[line.strand] * stitch_cm + allow.tail_cm
            tail = show(rounded_up(tail_cm, project.units), project.units)
            steps = (phrases.cast_on_with(run, tail, begun),)
        begun.add(line.strand)
        sections.append(line._replace(steps=steps))
    return sections


def _cast_on_in_one(phrases: Phrases, first: Card, ready: Sequence[Need], project: Project) -> Card:
    """The card of a cast-on all in one yarn, which is cut; the first row begins with its own."""
    yarn = phrases.yarns[project.allow.cast_on_in]
    name = yarn.name or yarn.letter
    stitches = first.lines[-1].so_far
    cut = f"cut, tail {phrases.tail}"
    line = Line(CAST_ON, yarn.letter, name, stitches, stitches, steps=(cut,))
    method = "knitted on or by a cable cast-on; a long-tail cast-on takes more"
    order = f"{first.name} begins with the last stitch cast on, and each of its yarns is new there"
    said = [f"Cast on all stitches with the length that lies ready ({method}); {order}."]
    card = _before_the_rows(first, ready, said, (line,))
    # It is cut, so that nothing hangs from it.
    return replace(card, hanging=())


def _before_the_rows(
    first: Card, ready: Sequence[Need], said: Sequence[str], lines: tuple[Line, ...]
) -> Card:
    """The card of the cast-on; what it does not say is as in the first row."""
    return replace(
        first,
        row=0,
        chart_row=0,
        name="cast on",
        side="",
        works="",
        stitch="",
        ready=tuple(ready),
        said=tuple(said),
        lines=lines,
        foot=(),
        ahead="",
    )


def _between_sections(lines: Sequence[Line]) -> list[str]:
    """What to do with a yarn from one section to its next, if any has more than one."""
    strands = {line.strand for line in lines}
    if len(strands) == len(lines):
        return []
    return ["A yarn with more than one section is taken along behind those between."]


def _bind_off(phrases: Phrases, last: Card) -> Card | None:
    """The card of the bind-off, in the yarns of the last row; None if it is not planned.

    Common practice, no source.
    """
    if not phrases.binds_off:
        return None
    # Each strand is cut after its last section, which is its first in the row.
    cut: set[str] = set()
    lines = []
    for line in last.lines:
        steps: tuple[str, ...] = ()
        if line.strand not in cut:
            steps = (f"cut, tail {phrases.tail}",)
        cut.add(line.strand)
        lines.append(line._replace(steps=steps))
    # The yarns hang where the row left them, so it goes the other way, in rounds as well.
    side = "WS" if last.side == "RS" else "RS"
    said = ["Turn the work and bind off."]
    if len(lines) > 1:
        said = ["Turn the work and bind off each section in its own yarn."]
        said.append(f"At each border: {how_to_cross(phrases.how, side)}")
    said += _between_sections(lines)
    leftwards = last.works == "left to right"
    return replace(
        last,
        row=last.row + 1,
        name="bind off",
        side=side,
        works="right to left" if leftwards else "left to right",
        stitch=stitch_on(phrases.how, side),
        ready=(),
        said=tuple(said),
        lines=_counted_anew(lines[::-1]),
        foot=(),
        ahead="",
        hanging=(),
        live=0,
        load="",
    )
