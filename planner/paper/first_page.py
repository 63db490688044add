"""The first page: the piece at a glance, its yarns, and what to have ready before which row."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from planner.cards import ready_before
from planner.edition import WORKED, size_in_words
from planner.multiplier import BEFORE_ANY_SWATCH
from planner.paper.lists import Pieces, balls_in_hand, balls_to_buy, not_known
from planner.paper.signs import LONGEST_LOT
from planner.piece import BALL
from planner.plan import Plan
from planner.supplies import CAST_ON, TO_EMBROIDER, Piece, find_sections
from planner.units import counted, stretches

MOST_STRETCHES = 4  # of rows that are named; the first say enough
NOT_FILLED_IN = "________"
NOT_MEASURED = "Lengths: not yet measured. Swatch first."


def glance(pieces: Pieces) -> dict[str, Any]:
    """What the first page says, beside the drawing of the chart."""
    plan = pieces.plan
    return {
        "facts": pieces.signs.texts(_facts(plan, pieces)),
        "yarns": _yarns(pieces),
        "long_lots": any(len(each.yarn.dye_lot) > LONGEST_LOT for each in plan.needed),
        "counts": _counts(plan),
        "ready": _ready(pieces),
        "sure": how_sure(plan),
        "worked": _worked(pieces),
        "notes": [*pieces.signs.notes, *pieces.signs.texts(_notes(plan))],
    }


def _notes(plan: Plan) -> list[str]:
    """The knitter's own notes, a line each; then what the plan tells her."""
    own = [line.strip() for line in plan.project.notes.splitlines() if line.strip()]
    return [*own, *not_known(plan), *plan.notes, *map(str, plan.alike)]


def how_sure(plan: Plan) -> str:
    """How sure the lengths are, in one sentence or two."""
    estimated = all(each.basis == BEFORE_ANY_SWATCH for each in plan.multipliers.values())
    return f"{NOT_MEASURED} {plan.how_sure()}" if estimated else plan.how_sure()


def _facts(plan: Plan, pieces: Pieces) -> list[str]:
    how = plan.traced.how
    gauge = plan.project.gauge.in_words(plan.project.units)
    stitches = counted(plan.traced.runs.columns, "stitch")
    rows = counted(plan.traced.runs.rows, how.row_word)
    return [
        f"{size_in_words(plan)}, {stitches} × {rows}",
        f"{gauge} · needle {plan.project.needle.strip() or NOT_FILLED_IN}",
        f"{WORKED[how.worked]} in {how.fabric} · {_cast_on(plan, pieces)}",
    ]


def _cast_on(plan: Plan, pieces: Pieces) -> str:
    """How many stitches are cast on, and in which yarn."""
    card = plan.all_cards.cast_on
    if card is None:
        return f"begins with {plan.cards[0].in_all}"
    stitches = card.lines[-1].so_far
    yarns = {line.yarn for line in card.lines}
    if len(yarns) == 1:
        return f"cast on {stitches} {pieces.signs.short_name(yarns.pop())}"
    return f"cast on {stitches} in {len(card.lines)} sections"


def _yarns(pieces: Pieces) -> list[dict[str, Any]]:
    lines = []
    for needed in pieces.plan.needed:
        yarn = needed.yarn
        lines.append(
            {
                "chip": pieces.chip(yarn.letter),
                "name": pieces.signs.name(yarn.letter),
                "lot": pieces.signs.lot(yarn.dye_lot),
                "have": balls_in_hand(needed),
                "buy": balls_to_buy(needed),
            }
        )
    return lines


def _counts(plan: Plan) -> list[str]:
    """Strands, ends, and the most lengths that hang at once."""
    how = plan.traced.how
    live = [load.live for load in plan.loads]
    most = max(live)
    rows = [load.row + 1 for load in plan.loads if load.live == most]
    return [
        counted(plan.traced.count, "strand"),
        counted(plan.ends_in_all, "end"),
        f"most at once {most}, {stretches_in_words(rows, how.row_word)}",
    ]


def stretches_in_words(rows: Sequence[int], noun: str) -> str:
    """Rows in words, those that follow each other as one stretch: "rows 35–39, 71"."""
    words = stretches(rows)
    if len(words) > MOST_STRETCHES:
        words = [*words[:MOST_STRETCHES], "…"]
    ending = "" if len(rows) == 1 else "s"
    return f"{noun}{ending} {', '.join(words)}"


def _ready(pieces: Pieces) -> list[dict[str, Any]]:
    """What to have ready in each section of rows, before which of them, with a box each."""
    plan = pieces.plan
    word = plan.traced.how.row_word
    knitted = [piece for piece in plan.pieces if piece.supply != TO_EMBROIDER]
    found = []
    for section in find_sections(plan.traced.live, plan.project.habits):
        wanted = [piece for piece in knitted if section.first <= piece.ready_row <= section.last]
        if not wanted:
            continue
        rows = f"{word}s {section.first + 1}–{section.last + 1}"
        found.append(
            {
                "title": f"Ready for {rows}",
                "note": section.load,
                "groups": _by_row(pieces, wanted),
            }
        )
    to_embroider = [piece for piece in plan.pieces if piece.supply == TO_EMBROIDER]
    if to_embroider:
        boxes = [_ready_box(pieces, piece) for piece in to_embroider]
        groups = [{"before": "to embroider", "boxes": boxes}]
        found.append({"title": "After blocking", "note": "", "groups": groups})
    return found


def _by_row(pieces: Pieces, wanted: Sequence[Piece]) -> list[dict[str, Any]]:
    """The pieces by the row before which they must be ready, as the winding list has it."""
    word = pieces.plan.traced.how.row_word
    allow = pieces.plan.project.allow
    groups = []
    for before, group in groupby(wanted, key=lambda piece: ready_before(piece, allow)):
        name = "before the cast-on" if before == CAST_ON else f"before {word} {before}"
        groups.append({"before": name, "boxes": [_ready_box(pieces, piece) for piece in group]})
    return groups


def _ready_box(pieces: Pieces, piece: Piece) -> dict[str, Any]:
    box = pieces.box(piece)
    word = pieces.plan.traced.how.row_word
    if piece.supply == BALL:
        box["words"] = "ball"
    elif piece.before_row is not None:
        # Its label names the row already.
        box["words"] = "off its ball then"
    elif piece.refill:
        box["words"] = f"{pieces.length(piece)}, {word} {piece.row + 1}"
    else:
        box["words"] = pieces.length(piece)
    return box


def _worked(pieces: Pieces) -> str:
    """How far the piece was when the sheet was made; "" before the first row."""
    word = pieces.plan.traced.how.row_word
    return f"Worked up to {word} {pieces.done} when this was made." if pieces.done else ""
