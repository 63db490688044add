"""The row cards as one HTML file, for a phone beside the needles.

All cards stand in it as plain HTML, so that it reads without its script as well; the script shows
one at a time. It asks for nothing from outside, and what the knitter typed is never taken for HTML.
"""

from __future__ import annotations

import base64
import hashlib
import html
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from string import Template
from typing import NamedTuple

from planner.cards import Card, Line
from planner.colour import ink_on
from planner.knitting import good_rows_to_stop
from planner.piece import Yarn, rows_worked
from planner.plan import Plan
from planner.rows import runs_by_row
from planner.twists import advise

FILES = Path(__file__).parent
CAST_ON, BIND_OFF, END = "cast-on", "bind-off", "end"  # cards that are no worked row, by their id
# A longer name would push a run's line out of a phone's width; the list of yarns has it whole.
LONGEST_NAME = 24
ARROWS = {"right to left": "←", "left to right": "→", "": ""}
GOOD_STOP = "A good row to stop after."


class _Screen(NamedTuple):
    """A card as the page has it: its id, and what is said before its runs and after them.

    `worked` is how many rows are worked when it is due; `edges` are the edges of the chart between
    its runs, in working order.
    """

    name: str
    card: Card
    worked: int
    before: Sequence[str]
    after: Sequence[str]
    edges: Sequence[int]


def cards_page(plan: Plan) -> bytes:
    """The cards of a plan as one HTML file in UTF-8; the same plan gives the same bytes.

    It opens at the row that is due by the piece's log.
    """
    screens = _screens(plan)
    classes = {letter: f"y{number}" for number, letter in enumerate(_yarns_of(plan, screens))}
    articles = [_article(screen, classes) for screen in screens]
    articles.append(_end(plan))
    cards = "\n".join(articles)

    how, done = plan.traced.how, rows_worked(plan.project.progress)
    due = _due(screens, done)
    script = _text_of("cards.js")
    style = _text_of("cards.css") + _colours(plan, classes)
    name = _safe(plan.project.name)
    page = Template(_text_of("cards.html")).substitute(
        policy=_policy(style, script),
        name=name,
        style=style,
        script=script,
        # A place is kept in the browser for these very cards.
        key=hashlib.sha256(f"{name}\n{cards}".encode()).hexdigest()[:16],
        due=due.name if due else END,
        due_id=due.name if due else END,
        due_name=_safe(due.card.name if due else "the end"),
        row_word=how.row_word,
        rows=len(plan.cards),
        key_to_yarns=_notes(plan, classes),
        articles=cards,
    )
    return page.encode()


def _text_of(file: str) -> str:
    return (FILES / file).read_text("utf-8")


def _safe(text: str) -> str:
    """A text as it may stand in HTML; signs that no page may hold become spaces."""
    shown = "".join(" " if unicodedata.category(sign) == "Cc" else sign for sign in text)
    return html.escape(shown)


def _policy(style: str, script: str) -> str:
    """What the browser may take: this style and this script, and nothing from anywhere."""

    def total(text: str) -> str:
        digest = hashlib.sha256(text.encode()).digest()
        return f"'sha256-{base64.b64encode(digest).decode()}'"

    allowed = f"style-src {total(style)}; script-src {total(script)}"
    return f"default-src 'none'; {allowed}; base-uri 'none'; form-action 'none'"


# ---- what the page shows


def _screens(plan: Plan) -> list[_Screen]:
    """The cards of the plan in order, casting on first and binding off last."""
    cast_on, rows, bind_off = plan.all_cards
    stops = set(good_rows_to_stop(plan))
    edges = list(_edges_by_row(plan))
    screens = []
    if cast_on:
        between = edges[0][::-1]
        # All in one yarn, it has one run from edge to edge.
        if len(between) > len(cast_on.lines) + 1:
            between = [between[0], between[-1]]
        screens.append(_Screen(CAST_ON, cast_on, 0, cast_on.said, cast_on.foot, between))
    for card, advice, between in zip(rows, advise(plan), edges, strict=True):
        before = [*advice.before, *card.said]
        after = [*card.foot, *advice.after]
        if card.row in stops:
            after.append(GOOD_STOP)
        after += filter(None, [card.ahead])
        screens.append(_Screen(f"r{card.row}", card, card.row - 1, before, after, between))
    if bind_off:
        between = edges[-1][::-1]
        screens.append(
            _Screen(BIND_OFF, bind_off, len(rows), bind_off.said, bind_off.foot, between)
        )
    return screens


def _edges_by_row(plan: Plan) -> Iterator[list[int]]:
    """Of each worked row the edges at which its runs are entered, and the last one's far edge."""
    runs = plan.traced.runs
    lo, hi = runs.lo.tolist(), runs.hi.tolist()
    for row, in_row in enumerate(runs_by_row(runs)):
        if runs.leftwards[row]:
            yield [*(hi[run] + 1 for run in in_row), lo[in_row[-1]]]
        else:
            yield [*(lo[run] for run in in_row), hi[in_row[-1]] + 1]


def _yarns_of(plan: Plan, screens: Iterable[_Screen]) -> dict[str, Yarn]:
    """The yarns that the cards name, by letter, in the order of the chart's."""
    named = {line.yarn for screen in screens for line in screen.card.lines}
    return {letter: yarn for letter, yarn in plan.project.all_yarns.items() if letter in named}


def _due(screens: Sequence[_Screen], done: int) -> _Screen | None:
    """The card that is due when so many rows are worked; None when nothing is left to do."""
    for screen in screens:
        if screen.worked == done:
            return screen
    return None


# ---- as HTML. Closing tags that HTML can do without are left out, for there are many runs.


def _article(screen: _Screen, classes: dict[str, str]) -> str:
    """A card: its name, what is said before, its runs as lines, what is said after."""
    card = screen.card
    works = f" <small>{ARROWS[card.works]} {card.works}</small>" if card.works else ""
    ready = [
        f"<li><strong>{_safe(need.title)}</strong>: {_safe(need.words)}" for need in card.ready
    ]
    listed = ""
    if ready:
        listed = f'<div class="ready before"><p>Ready:<ul>{"".join(ready)}</ul></div>'
    lines = "".join(_line(line, classes[line.yarn]) for line in card.lines)
    edges = " ".join(map(str, screen.edges))
    attributes = f'id="{screen.name}" data-row="{card.row}" data-worked="{screen.worked}"'
    return "\n".join(
        [
            f'<article {attributes} data-edges="{edges}" data-name="{_safe(card.name)}">',
            f"<h2>{_safe(card.title)}{works}</h2>",
            listed + _paragraphs("before", screen.before),
            f"<ol>{lines}</ol>",
            f'<p class="sum">= {card.in_all}</p>' + _paragraphs("foot", screen.after),
            "</article>",
        ]
    )


def _line(line: Line, colour: str) -> str:
    """A run: how many stitches, its yarn's letter on its colour, its strand, what is done."""
    steps = f" <small>{_safe('; '.join(line.steps))}</small>" if line.steps else ""
    name = _safe(_shortened(line.name))
    return (
        f"<li><b>{line.stitches}</b><i class={colour}>{_safe(line.yarn)}</i>"
        f"<bdi>{name}</bdi> <em>{_safe(line.strand)}</em>{steps}\n"
    )


def _shortened(name: str) -> str:
    """A name that fits its line, with "…" where something is left out."""
    if len(name) <= LONGEST_NAME:
        return name
    last = LONGEST_NAME - 1
    # Not within a sign that is made of several: marks, and what a joiner joins, stay together.
    while last and (unicodedata.category(name[last])[0] in "MC" or name[last - 1] == "\u200d"):
        last -= 1
    return f"{name[:last].rstrip()}…"


def _paragraphs(kind: str, sentences: Iterable[str]) -> str:
    return "".join(f'<p class="{kind}">{_safe(sentence)}</p>' for sentence in sentences)


def _end(plan: Plan) -> str:
    """What is shown when all is worked."""
    rows = len(plan.cards)
    said = [f"{plan.ends_in_all} ends to sew in.", f"Type {rows} into notebook 4."]
    if plan.to_embroider:
        said.append(plan.embroidery_in_words())
    return (
        f'<article id="{END}" data-worked="{rows}" data-name="the end">\n'
        f"<h2>All {rows} {plan.traced.how.row_word}s are worked</h2>"
        f"{_paragraphs('before', said)}</article>"
    )


def _colours(plan: Plan, classes: dict[str, str]) -> str:
    """The style of the patches of each yarn."""
    yarns = plan.project.all_yarns
    rules = []
    for letter, name in classes.items():
        colour = yarns[letter].colour
        rules.append(f".{name} {{background: {colour}; color: {ink_on(colour)}}}\n")
    return "".join(rules)


def _notes(plan: Plan, classes: dict[str, str]) -> str:
    """What holds for the whole piece: its yarns, and how they are crossed at a border."""
    yarns = plan.project.all_yarns
    named = []
    for letter, colour in classes.items():
        yarn = yarns[letter]
        lot = f", lot <bdi>{_safe(yarn.dye_lot)}</bdi>" if yarn.dye_lot else ""
        name = _safe(yarn.name or letter)
        named.append(f"<dt class={colour}>{_safe(letter)}<dd><bdi>{name}</bdi>{lot}")
    parts = [f"<h2>Yarns</h2>\n<dl>{''.join(named)}</dl>"]
    if plan.alike:
        parts.append(f"<h2>Look alike</h2>\n{_paragraphs('alike', map(str, plan.alike))}")

    crossed = {card.side: card.cross for card in plan.cards if len(card.lines) > 1}
    if crossed:
        sides = sorted(crossed.items())
        said = [f"{side} {plan.traced.how.row_word}s: {cross}" for side, cross in sides]
        parts.append(f"<h2>At each border</h2>\n{_paragraphs('cross', said)}")
    return "\n".join(parts)
