"""The card of a row as HTML: its runs as lines, each with a patch of its yarn's colour."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence

from planner.cards import Card, Line, words_of_cards
from planner.colour import ink_on
from planner.piece import Yarn


def card_html(
    card: Card,
    yarns: Mapping[str, Yarn],
    *,
    notes: Sequence[str] = (),
    balls: Sequence[str] = (),
    after: Sequence[str] = (),
) -> str:
    """A card in large type; `notes` stand at its top and `after` is what follows the row.

    `balls` is what is said of them before it, once what lies ready has been cut off.
    """
    works = f", {html.escape(card.how_worked)}" if card.how_worked else ""
    title = f"<h3>{html.escape(card.title)}{works}</h3>"
    ready = [f"Ready: {need}" for need in card.ready]
    above = [*notes, *ready, *balls, *card.said]
    lines = "".join(_line_html(line, yarns[line.yarn]) for line in card.lines)
    below = [f"= {card.in_all}", *after, *card.foot]
    if card.ahead:
        below.append(card.ahead)
    words = words_of_cards([str(card), *above, *below])
    parts = [title, _said(above), f"<ol>{lines}</ol>", _said(below), _on_call(card), _told(words)]
    return f'<div class="row-card">{"".join(parts)}</div>'


def _said(sentences: Sequence[str]) -> str:
    return "".join(f"<p>{html.escape(sentence)}</p>" for sentence in sentences)


def _line_html(line: Line, yarn: Yarn) -> str:
    """One run: how many stitches, a patch of colour with the yarn's letter, and what is done."""
    look = f"background: {yarn.colour}; color: {ink_on(yarn.colour)}"
    patch = f'<span class="patch" style="{look}">{html.escape(line.yarn)}</span>'
    steps = html.escape("; ".join(line.steps))
    told = f' <span class="steps">{steps}</span>' if steps else ""
    name = f"{html.escape(line.name)} <b>{html.escape(line.strand)}</b>"
    return f'<li><span class="count">{line.stitches}</span>{patch}<span>{name}{told}</span></li>'


def _told(words: Mapping[str, str]) -> str:
    """What the words of the card mean, folded away."""
    told = [f"<p><b>{html.escape(each)}</b>: {html.escape(words[each])}</p>" for each in words]
    return f"<details><summary>What its words mean</summary>{''.join(told)}</details>"


def _on_call(card: Card) -> str:
    """How yarns are crossed, folded away where the card does not say it itself."""
    if len(card.lines) < 2 or any(card.cross in sentence for sentence in card.said):
        return ""
    crossing = html.escape(f"{card.cross[0].upper()}{card.cross[1:]}")
    return f"<details><summary>How to cross at a border</summary><p>{crossing}</p></details>"
