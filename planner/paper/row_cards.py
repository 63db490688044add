"""Row cards: one for each row, to be ticked with a pencil; casting on first, binding off last."""

from __future__ import annotations

from typing import Any

from planner.cards import Card, Line
from planner.knitting import notes_about
from planner.paper.lists import Pieces
from planner.twists import BallAdvice, advise

ARROWS = {"right to left": "←", "left to right": "→"}
# A card that would fill a column may be broken, and says so; shorter ones keep together.
MOST_KEPT_TOGETHER = 34  # lines
SIGNS_A_LINE = 46


def row_cards(pieces: Pieces) -> list[dict[str, Any]]:
    """All cards of a plan, in the order in which they are worked."""
    plan = pieces.plan
    first, rows, last = plan.all_cards
    cards = [] if first is None else [_card(pieces, first)]
    for card, advice in zip(rows, advise(plan), strict=True):
        cards.append(_card(pieces, card, advice))
    if last is not None:
        cards.append(_card(pieces, last))
    return cards


def _card(pieces: Pieces, card: Card, advice: BallAdvice | None = None) -> dict[str, Any]:
    signs = pieces.signs
    notes = notes_about(pieces.plan.project.progress, card.row)
    above = [*notes, *card.said, *(advice.before if advice else ())]
    below = [*card.foot, *(advice.after if advice else ())]
    if card.ahead:
        below.append(card.ahead)
    texts = {
        "ready": signs.texts(map(str, card.ready)),
        "above": signs.texts(above),
        "below": signs.texts(below),
    }
    lines = [_line(pieces, line) for line in card.lines]
    return {
        "title": card.title,
        "arrow": ARROWS.get(card.works, ""),
        "lines": lines,
        "in_all": card.lines[-1].so_far,
        # Who has worked the first row has cast on.
        "done": max(card.row, 1) <= pieces.done,
        "together": _height(texts, lines) <= MOST_KEPT_TOGETHER,
        **texts,
    }


def _line(pieces: Pieces, line: Line) -> dict[str, Any]:
    signs = pieces.signs
    return {
        "stitches": line.stitches,
        "yarn": line.yarn,
        "name": signs.short_name(line.yarn),
        "strand": signs.text(line.strand),
        "steps": signs.text("; ".join(line.steps)),
    }


def _height(texts: dict[str, list[str]], lines: list[dict[str, Any]]) -> int:
    """About how many lines a card takes on paper."""
    height = 2  # its name, and what it adds up to
    for said in texts.values():
        for sentence in said:
            height += _lines_of(sentence)
    for line in lines:
        height += _lines_of(f"{line['name']} {line['strand']} {line['steps']}")
    return height


def _lines_of(text: str) -> int:
    """About how many lines a text takes on a card."""
    return 1 + len(text) // SIGNS_A_LINE
