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

    `ready` is what must lie ready before the row, `said` what is said before its runs, `lines` the
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
        ready = [f"Ready: {'; '.join(map(str, self.ready))}"] if self.ready else []
        ahead = [self.ahead] if self.ahead else []
        works = f", {self.works}" if self.works else ""
        name = f"{self.title}{works}: {self.in_all}"
        return "\n".join([name, *ready, *self.said, *map(str, self.lines), *self.foot, *ahead])


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
    if phrases.casts_on:
        to_cast_on += ready.pop(0, [])
    for row, needs in refills_in_words(held, project.units, strands.how.row_word).items():
        ready.setdefault(row, []).extend(needs)

    afterwards = embroidered_in_words(embroidered, project.chart.letters, strands.how)
    cards = _row_cards(phrases, loads, project, ready, afterwards)
    for number, following in enumerate(cards[1:]):
        cards[number] = replace(cards[number], ahead=_ahead(following))
    if phrases.binds_off:
        cards[-1] = replace(cards[-1], ahead="Next: bind off.")
    cast_on = _cast_on(phrases, cards[0], to_cast_on, project)
    return Cards(cast_on, tuple(cards), _bind_off(phrases, cards[-1]))


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
    first_crossed = {load.side: load.row for load in reversed(loads) if load.borders}
    cards = []
    said_load = ""
    for load, in_row in zip(loads, runs_by_row(strands.runs), strict=True):
        row = load.row
        cross = how_to_cross(how, load.side)
        said = [shaping[row]] if row in shaping else []
        if first_crossed.get(load.side) == row:
            said.append(f"At each border: {cross}")
        if how.closes_join:
            said.append(f"At the join: {phrases.closing(row)}")
        foot = [afterwards[row]] if row in afterwards else []
        if said_load != (said_load := _load_in_words(load)):
            foot.insert(0, said_load)
        cards.append(
            Card(
                row=row + 1,
                chart_row=load.chart_row + 1,
                name=how.row_name(row),
                side=load.side,
                works=load.works,
                ready=tuple(ready.get(row, ())),
                said=tuple(said),
                lines=_lines(phrases, in_row, project),
                foot=tuple(foot),
                ahead="",
                cross=cross,
                hanging=tuple(sorted(hanging.get(row, []), key=itemgetter(1, 0))),
                live=load.live,
                load=load.load,
            )
        )
    return cards


def _load_in_words(load: RowLoad) -> str:
    hang = "1 length hangs" if load.live == 1 else f"{load.live:,} lengths hang"
    return f"{hang}: {load.load}."


def _lines(phrases: Phrases, in_row: range, project: Project) -> tuple[Line, ...]:
    """The runs of a row as its card has them."""
    strands = phrases.walk.strands
    runs, chart = strands.runs, strands.chart
    names = {letter: yarn.name or letter for letter, yarn in project.all_yarns.items()}
    lines = []
    so_far = 0
    for run in in_row:
        # The chart has no selvedge: it is worked in the yarn beside it, at both ends of the row. A
        # run from edge to edge has both.
        edges = [in_row[0], in_row[-1]].count(run)
        stitches = int(runs.stitches[run]) + strands.how.selvedge * edges
        steps = phrases.steps(run, first=so_far, last=so_far + stitches)
        so_far += stitches
        letter = chart.letters[runs.yarn[run]]
        lines.append(
            Line(phrases.walk.title(run), letter, names[letter], stitches, so_far, tuple(steps))
        )
    return tuple(lines)


def _ahead(card: Card) -> str:
    """What a card says of the one that follows it."""
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
    how, allow = phrases.how, project.allow
    widths, stitch_cm = allow.cast_on, float(project.gauge.stitch_cm)
    section_stitches: Counter[str] = Counter()
    for line in first.lines:
        section_stitches[line.strand] += line.stitches
    begun: set[str] = set()
    lines = []
    for run, line in reversed(list(enumerate(first.lines))):
        steps = []
        if line.strand not in begun:
            tail_cm = widths * section_stitches[line.strand] * stitch_cm + allow.tail_cm
            tail = show(rounded_up(tail_cm, project.units), project.units)
            steps.append(phrases.cast_on_with(run, tail, begun))
        begun.add(line.strand)
        lines.append(line._replace(steps=tuple(steps)))
    begins = f"{first.name} begins with the last stitch cast on"
    if how.is_tube:
        begins += ", and at its end it joins the ring; take care that the cast-on is not twisted"
    said = [f"Cast on in this order: {begins}."]
    if len(lines) > 1:
        said.append("Where two yarns meet, cross them, so that the sections hang together.")
    said += _between_sections(lines)
    said.append(
        f"For a long-tail cast-on each tail has {widths:g} times the width of its sections in it."
    )
    return _before_the_rows(first, ready, said, _counted_anew(lines))


def _cast_on_in_one(phrases: Phrases, first: Card, ready: Sequence[Need], project: Project) -> Card:
    """The card of a cast-on all in one yarn, which is cut; the first row begins with its own."""
    yarn = project.all_yarns[project.allow.cast_on_in]
    stitches = first.lines[-1].so_far
    cut = f"cut, tail {phrases.tail}"
    line = Line(CAST_ON, yarn.letter, yarn.name or yarn.letter, stitches, stitches, (cut,))
    method = "knitted on or by a cable cast-on; a long-tail cast-on takes more"
    order = f"{first.name} begins with the last stitch cast on, and each of its yarns is new there"
    said = [f"Cast on all stitches with the length that lies ready ({method}); {order}."]
    card = _before_the_rows(first, ready, said, (line,))
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
        ready=tuple(ready),
        said=tuple(said),
        lines=lines,
        foot=(),
        ahead="",
    )


def _between_sections(lines: Sequence[Line]) -> list[str]:
    """What to do with a yarn from one section to its next, if any has more than one."""
    if len({line.strand for line in lines}) == len(lines):
        return []
    return ["A yarn with more than one section is taken along behind those between."]


def _bind_off(phrases: Phrases, last: Card) -> Card | None:
    """The card of the bind-off, in the yarns of the last row; None if it is not planned.

    Common practice, no source.
    """
    if not phrases.binds_off:
        return None
    how = phrases.how
    # Each strand is cut after its last section, which is its first in the row.
    cut: set[str] = set()
    lines = []
    for line in last.lines:
        steps = () if line.strand in cut else (f"cut, tail {phrases.tail}",)
        cut.add(line.strand)
        lines.append(line._replace(steps=steps))
    # The yarns hang where the row left them, so it goes the other way, in rounds as well.
    side = "WS" if last.side == "RS" else "RS"
    said = ["Turn the work and bind off."]
    if len(lines) > 1:
        said = ["Turn the work and bind off each section in its own yarn."]
        said.append(f"At each border: {how_to_cross(how, side)}")
    said += _between_sections(lines)
    leftwards = last.works == "left to right"
    return replace(
        last,
        row=last.row + 1,
        name="bind off",
        side=side,
        works="right to left" if leftwards else "left to right",
        ready=(),
        said=tuple(said),
        lines=_counted_anew(lines[::-1]),
        foot=(),
        ahead="",
        hanging=(),
        live=0,
        load="",
    )
