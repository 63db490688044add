"""The edition: a piece as others may have it, made from its plan, with nothing private in it.

What is private is taken off before anything is planned for others: stock, lots, logs, notes, where
the piece lies and where its knitter sits. So nothing has to be looked for in the words afterwards.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from planner.cards import HANGS_NEAR, Card, Line
from planner.charts import write_rows
from planner.edition.amounts import Material, materials_of
from planner.edition.lengths import InStitches, lengths_in_stitches
from planner.piece import Habits, Project, Yarn
from planner.plan import Plan, make_plan
from planner.supplies import Held, Section, find_sections

# What the designer's reasons say of her, as a reader is told it.
OF_THE_DESIGNER = {
    "your own choice": "the designer's own choice",
    "you would rather": "the designer would rather",
    "than you like": "than the designer likes",
}
WHICH_OF_A_RIDGE = ("First", "Second")


@dataclass(frozen=True)
class WrittenRow:
    """A row as a pattern writes it, and what is done to single lengths of yarn in it."""

    line: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class HeldSo:
    """The lengths that are held in one way for one reason; `against` is what speaks against it."""

    titles: tuple[str, ...]
    supply: str
    why: str
    against: str


@dataclass(frozen=True)
class InSection:
    """A stretch of rows, from 1, how full they are, and how many lengths are held in each way."""

    first: int
    last: int
    load: str
    most: int
    held: tuple[tuple[str, int], ...]


@dataclass(frozen=True, eq=False)
class Edition:
    """A piece for others.

    `plan` is the plan that it is made of, which knows of nothing private. `cast_on` and `bind_off`
    are None where the chart is set into a larger piece.
    """

    plan: Plan
    materials: tuple[Material, ...]
    lengths: tuple[InStitches, ...]
    cast_on: WrittenRow | None
    rows: tuple[WrittenRow, ...]
    bind_off: WrittenRow | None
    held: tuple[HeldSo, ...]
    sections: tuple[InSection, ...]

    @property
    def title(self) -> str:
        return self.plan.project.name.strip() or "A piece without a name"


def make_edition(plan: Plan) -> Edition:
    """The edition of a plan. It is planned as if nothing were knitted and all yarn to be bought."""
    # Planned anew, not trimmed: what is in hand or on the needles has shaped the plan that is shown
    # on the desk.
    public = make_plan(for_others(plan.project))
    lengths = lengths_in_stitches(public)
    cast_on, _, bind_off = public.all_cards
    return Edition(
        plan=public,
        materials=materials_of(public, lengths),
        lengths=lengths,
        cast_on=None if cast_on is None else _edge(cast_on),
        rows=tuple(_rows(public)),
        bind_off=None if bind_off is None else _edge(bind_off),
        held=_held(public.held),
        sections=tuple(_sections(public)),
    )


def for_others(project: Project) -> Project:
    """The project without anything private. What was measured only counts, and is never told."""
    yarns = {letter: _generic(yarn) for letter, yarn in project.yarns.items()}
    # Where she sits and what lies to hand there is her own; how she likes to hold yarn is part of
    # how the piece was made, and stays.
    usual = Habits()
    return replace(
        project,
        yarns=yarns,
        habits=replace(project.habits, place=usual.place, elsewhere=usual.elsewhere),
        progress=(),
        notes="",
        swatch_of="",
        folder=None,
    )


def _generic(yarn: Yarn) -> Yarn:
    # The name and the band stay, for a reader chooses her yarn by them.
    return replace(yarn, balls_in_hand=0, part_balls_g=(), dye_lot="")


# ---- rows


def _rows(plan: Plan) -> Iterator[WrittenRow]:
    """Each row of the knitted chart; in garter a ridge, with the notes of both its rows."""
    times = plan.project.how.rows_per_chart_row
    before = _before_rows(plan)
    # Written as the trade writes rows, by the room that reads such rows back from others.
    lines = write_rows(plan.traced.chart, plan.project.how).splitlines()
    for number, line in enumerate(lines):
        notes: list[str] = []
        cards = plan.cards[number * times : (number + 1) * times]
        for card, which in zip(cards, WHICH_OF_A_RIDGE, strict=False):
            said = [*before.get(card.row - 1, ()), *_notes(card)]
            # A ridge has two rows, so each note says in which.
            of_row = f"{which} {plan.traced.how.row_word}, {card.side}: "
            notes += [f"{of_row}{note}" for note in said] if times > 1 else said
        yield WrittenRow(line, tuple(notes))


def _before_rows(plan: Plan) -> dict[int, list[str]]:
    """What is measured off or joined, by worked row from 0."""
    said: dict[int, list[str]] = defaultdict(list)
    for piece in plan.pieces:
        # These two are in no card of a row: a card tells what hangs, not what is measured off.
        if piece.before_row is not None:
            said[piece.row].append(
                f"Before it begins: from the work on, measure off the length of {piece.label}, cut "
                f"it from its ball; {piece.part} is a {piece.supply} from here."
            )
        elif piece.refill:
            said[piece.row].append(f"About here {piece.label} is joined, where {piece.part} ends.")
    return said


def _notes(card: Card) -> list[str]:
    """What a row's card says beside its runs, and at those where something is done."""
    notes = [_sentence(said) for said in card.said]
    notes += [note for line in card.lines if (note := _at_run(line))]
    notes += [_sentence(said) for said in card.foot if said.startswith("embroidered")]
    return notes


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:].rstrip('.')}."


def _at_run(line: Line) -> str:
    """What is done at a run: "7 W (W1): new, tail 15 cm."; "" for nothing."""
    # A pattern tells once what to do with a yarn that hangs a stitch away: it is seen.
    steps = [step for step in line.steps if not step.startswith(HANGS_NEAR)]
    return f"{line.stitches} {line.yarn} ({line.strand}): {'; '.join(steps)}." if steps else ""


def _edge(card: Card) -> WrittenRow:
    """The cast-on or the bind-off, in its sections."""
    runs = ", ".join(f"{line.stitches} {line.yarn}" for line in card.lines)
    return WrittenRow(f"{card.title}: {runs}", tuple(_notes(card)))


# ---- how yarn is held


def _held(held: Sequence[Held]) -> tuple[HeldSo, ...]:
    """How each part of a strand is held and why, those that are alike together."""
    # A piece has dozens of lengths, but only a few reasons.
    alike: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    for each in held:
        way = (each.in_words, _of_the_designer(each.why), _of_the_designer(each.against))
        alike[way].append(each.part.title)
    return tuple(HeldSo(tuple(titles), *way) for way, titles in alike.items())


def _of_the_designer(reason: str) -> str:
    # The plan speaks to its knitter; in a pattern "you" is whoever reads it.
    for words, of_her in OF_THE_DESIGNER.items():
        reason = reason.replace(words, of_her)
    # A reader has no balls in hand yet.
    return reason.replace("in hand or to be bought ", "")


def _sections(plan: Plan) -> Iterator[InSection]:
    """The ways of holding yarn, section by section."""
    live = plan.traced.live
    for section in find_sections(live, plan.project.habits):
        ways = Counter(_way_in(section, each) for each in plan.held if section.holds(each.part))
        yield InSection(
            first=section.first + 1,
            last=section.last + 1,
            load=section.load,
            most=int(live[section.first : section.last + 1].max()),
            held=tuple(ways.most_common()),
        )


def _way_in(section: Section, held: Held) -> str:
    """How a part is held at the end of a section."""
    # A length may be wound in mid-strand: what counts is how the section leaves it.
    begun = [stage for stage in held.stages if stage.row <= section.last]
    return begun[-1].supply if begun else held.supply
