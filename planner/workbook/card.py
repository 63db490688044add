"""The card of a row as HTML: its runs as lines, each with a patch of its yarn's colour."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence

from planner.cards import Card, Line
from planner.colour import ink_on
from planner.piece import Yarn

# Twelve runs fit a screen 390 wide and 844 high. JupyterLab's own colours, so that a dark theme
# stays dark.
LOOK = """<style>
.row-card {border-left: 6px solid #4d7ea8; padding: 0.2em 0.8em; margin: 0.3em 0; max-width: 46em;
  font-size: 1.2em; line-height: 1.35; color: var(--jp-content-font-color1, inherit)}
.row-card h3 {margin: 0.1em 0; font-size: 1.1em}
.row-card ol {list-style: none; margin: 0.3em 0; padding: 0}
.row-card li {display: grid; grid-template-columns: 2.2em 2.4em 1fr; align-items: baseline;
  padding: 0.12em 0; border-bottom: 1px solid var(--jp-border-color2, #ddd)}
.row-card .count {text-align: right; font-weight: bold; padding-right: 0.5em}
.row-card .patch {text-align: center; border: 1px solid var(--jp-border-color0, #888);
  border-radius: 3px; margin-right: 0.5em; font-size: 0.85em}
.row-card .steps {font-size: 0.85em; font-style: italic}
.row-card p {margin: 0.2em 0; font-size: 0.85em}
</style>"""


def card_html(
    card: Card,
    yarns: Mapping[str, Yarn],
    *,
    notes: Sequence[str] = (),
    after: Sequence[str] = (),
) -> str:
    """A card in large type; `notes` stand at its top and `after` is what follows the row."""
    works = f", {html.escape(card.works)}" if card.works else ""
    title = f"<h3>{html.escape(card.title)}{works}</h3>"
    ready = [f"Ready: {need}" for need in card.ready]
    above = [*notes, *ready, *card.said]
    lines = "".join(_line_html(line, yarns[line.yarn]) for line in card.lines)
    below = [f"= {card.in_all}", *after, *card.foot]
    if card.ahead:
        below.append(card.ahead)
    parts = [title, _said(above), f"<ol>{lines}</ol>", _said(below), _on_call(card)]
    return f'{LOOK}<div class="row-card">{"".join(parts)}</div>'


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


def _on_call(card: Card) -> str:
    """How yarns are crossed, folded away where the card does not say it itself."""
    if len(card.lines) < 2 or any(card.cross in sentence for sentence in card.said):
        return ""
    crossing = html.escape(card.cross)
    return f"<details><summary>How to cross at a border</summary><p>{crossing}</p></details>"
