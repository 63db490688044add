"""Row cards: one for each row, to be ticked with a pencil; casting on first, binding off last."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from planner.cards import Card, Line, words_of_cards
from planner.knitting import GOOD_STOP, good_rows_to_stop, notes_about
from planner.paper.lists import Pieces
from planner.twists import advise, said_before_cards

ARROWS = {"right to left": "←", "left to right": "→"}
# A card that would fill a column may be broken, and says so; shorter ones keep together.
MOST_KEPT_TOGETHER = 34  # lines
SIGNS_A_LINE = 46


def row_cards(pieces: Pieces) -> list[dict[str, Any]]:
    """All cards of a plan, in the order in which they are worked."""
    plan = pieces.plan
    first, rows, last = plan.all_cards
    balls = advise(plan)
    said_of_balls = iter(said_before_cards(balls, casts_on=first is not None))
    cards = [] if first is None else [_card(pieces, first, next(said_of_balls))]
    stops = set(good_rows_to_stop(plan, [each.clear for each in balls]))
    for card, advice in zip(rows, balls, strict=True):
        stop = [GOOD_STOP] if card.row in stops else []
        after = [*advice.after, *stop]
        cards.append(_card(pieces, card, next(said_of_balls), after))
    if last is not None:
        cards.append(_card(pieces, last))
    return cards


def words_on_cards(cards: Iterable[dict[str, Any]]) -> list[dict[str, str]]:
    """The words that stand on these cards, each with what it means."""
    texts = []
    for card in cards:
        texts += [f"Ready: {need}" for need in card["ready"]]
        texts += [card["title"], *card["above"], *card["below"]]
        texts += [line["steps"] for line in card["lines"]]
    words = words_of_cards(texts)
    return [{"word": f"{word}:", "meaning": meaning} for word, meaning in words.items()]


def _card(
    pieces: Pieces, card: Card, before: Sequence[str] = (), after: Sequence[str] = ()
) -> dict[str, Any]:
    """A card; `before` and `after` is what is said of balls beside it."""
    signs = pieces.signs
    notes = notes_about(pieces.plan.project.progress, card.row)
    above = [*notes, *before, *card.said]
    below = [*card.foot, *after]
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
        "stitch": card.stitch,
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
