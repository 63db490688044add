"""The row cards as one HTML file, for a phone beside the needles.

All cards stand in it as plain HTML, so that it reads without its script as well; the script shows
one at a time. It asks for nothing from outside, and what the knitter typed is never taken for HTML.
"""

from __future__ import annotations

import base64
import hashlib
import html
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from string import Template
from typing import NamedTuple

from planner.cards import Card, Line, words_of_cards
from planner.colour import ink_on
from planner.knitting import GOOD_STOP, good_rows_to_stop, notes_about
from planner.piece import Yarn, rows_worked
from planner.plan import Plan
from planner.rows import runs_by_row
from planner.twists import advise, said_before_cards

FILES = Path(__file__).parent
CONTROL = re.compile("[\x00-\x1f\x7f-\x9f]")
CAST_ON, BIND_OFF, END = "cast-on", "bind-off", "end"  # cards that are no worked row, by their id
# A longer name would push a run's line out of a phone's width; the list of yarns has it whole.
LONGEST_NAME = 24
ARROWS = {"right to left": "←", "left to right": "→", "": ""}
JOINER = "\u200d"  # makes one sign of those at its sides, as in an emoji of a family


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
    yarns = _yarns_of(plan, screens)
    # One class of style a yarn, for its colour stands at every run.
    classes = {letter: f"y{number}" for number, letter in enumerate(yarns)}
    articles = [_article(screen, classes) for screen in screens]
    cards = "\n".join([*articles, _end(plan)])

    name = _safe(plan.project.name)
    # A place is kept in the browser for these very cards.
    key = hashlib.sha256(f"{name}\n{cards}".encode()).hexdigest()
    due, due_name = _due(screens, rows_worked(plan.project.progress))
    script = _text_of("cards.js")
    style = _text_of("cards.css") + _colours(yarns, classes)
    page = Template(_text_of("cards.html")).substitute(
        policy=_policy(style, script),
        name=name,
        style=style,
        script=script,
        key=key[:16],
        due=due,
        due_name=_safe(due_name),
        row_word=plan.traced.how.row_word,
        rows=len(plan.cards),
        notes=_notes(plan, screens, yarns, classes),
        cards=cards,
    )
    return page.encode()


def _text_of(file: str) -> str:
    return (FILES / file).read_text("utf-8")


def _safe(text: str) -> str:
    """A text as it may stand in HTML; signs that no page may hold become spaces."""
    return html.escape(CONTROL.sub(" ", text))


def _policy(style: str, script: str) -> str:
    """What the browser may take: this style and this script, and nothing from anywhere."""
    allowed = []
    for kind, text in (("style", style), ("script", script)):
        digest = hashlib.sha256(text.encode()).digest()
        known_by = base64.b64encode(digest).decode()
        allowed.append(f"{kind}-src 'sha256-{known_by}'")
    # A form's answer would go to an address, and a base would make addresses of names.
    return "; ".join(["default-src 'none'", *allowed, "base-uri 'none'", "form-action 'none'"])


# ---- what the page shows


def _screens(plan: Plan) -> list[_Screen]:
    """The cards of the plan in order, casting on first and binding off last."""
    cast_on, rows, bind_off = plan.all_cards
    edges = list(_edges_by_row(plan))
    balls = advise(plan)
    said_of_balls = iter(said_before_cards(balls, casts_on=cast_on is not None))
    screens = []
    if cast_on:
        # Cast on in the other direction; all in one yarn, there is one run from edge to edge.
        between = edges[0][::-1]
        if len(cast_on.lines) == 1:
            between = [between[0], between[-1]]
        before = [*next(said_of_balls), *cast_on.said]
        screens.append(_Screen(CAST_ON, cast_on, 0, before, cast_on.foot, between))

    stops = set(good_rows_to_stop(plan, [each.clear for each in balls]))
    for card, advice, between in zip(rows, balls, edges, strict=True):
        notes = notes_about(plan.project.progress, card.row)
        before = [*notes, *next(said_of_balls), *card.said]
        after = [*card.foot, *advice.after]
        if card.row in stops:
            after.append(GOOD_STOP)
        if card.ahead:
            after.append(card.ahead)
        worked = card.row - 1
        screens.append(_Screen(f"r{card.row}", card, worked, before, after, between))

    if bind_off:
        between = edges[-1][::-1]
        said, foot = bind_off.said, bind_off.foot
        screens.append(_Screen(BIND_OFF, bind_off, len(rows), said, foot, between))
    return screens


def _edges_by_row(plan: Plan) -> Iterator[list[int]]:
    """Of each worked row the edges at which its runs are entered, and the last one's far edge."""
    runs = plan.traced.runs
    left = runs.lo.tolist()
    right = (runs.hi + 1).tolist()
    for row, in_row in enumerate(runs_by_row(runs)):
        enters, leaves = (right, left) if runs.leftwards[row] else (left, right)
        edges = [enters[run] for run in in_row]
        edges.append(leaves[in_row[-1]])
        yield edges


def _yarns_of(plan: Plan, screens: Iterable[_Screen]) -> dict[str, Yarn]:
    """The yarns that the cards name, by letter, in the order of the chart's."""
    named = {line.yarn for screen in screens for line in screen.card.lines}
    yarns = plan.project.all_yarns
    return {letter: yarns[letter] for letter in yarns if letter in named}


def _due(screens: Sequence[_Screen], done: int) -> tuple[str, str]:
    """The card that is due when so many rows are worked: its id, and what it is called."""
    for screen in screens:
        if screen.worked == done:
            return screen.name, screen.card.name
    return END, "the end"


# ---- as HTML. Closing tags that HTML can do without are left out, for there are many runs.


def _article(screen: _Screen, classes: Mapping[str, str]) -> str:
    """A card: its name, what is said before, its runs as lines, what is said after."""
    card = screen.card
    works = ""
    if card.works:
        works = f" <small>{ARROWS[card.works]} {card.how_worked}</small>"
    edges = " ".join(map(str, screen.edges))
    numbers = f'data-row="{card.row}" data-worked="{screen.worked}" data-edges="{edges}"'
    lines = [_line(line, classes[line.yarn]) for line in card.lines]
    parts = [
        f'<article id="{screen.name}" {numbers} data-name="{_safe(card.name)}">',
        f"<h2>{_safe(card.title)}{works}</h2>",
        _ready(card),
        _paragraphs("before", screen.before),
        f"<ol>{''.join(lines)}</ol>",
        f'<p class="sum">= {card.in_all}</p>',
        _paragraphs("foot", screen.after),
        "</article>",
    ]
    return "\n".join(filter(None, parts))


def _ready(card: Card) -> str:
    """What must lie ready before a row, one thing a line."""
    if not card.ready:
        return ""
    needs = []
    for need in card.ready:
        needs.append(f"<li><strong>{_safe(need.title)}</strong>: {_safe(need.words)}")
    return f'<div class="ready before"><p>Ready:<ul>{"".join(needs)}</ul></div>'


def _line(line: Line, colour: str) -> str:
    """A run: how many stitches, its yarn's letter on its colour, its strand, what is done."""
    patch = f"<i class={colour}>{_safe(line.yarn)}</i>"
    # Names of any script, each kept from turning round what stands beside it.
    name = f"<bdi>{_safe(_shortened(line.name))}</bdi> <em>{_safe(line.strand)}</em>"
    steps = ""
    if line.steps:
        # An annotation, in the shortest tag there is for one: there are thousands of them.
        steps = f" <u>{_safe('; '.join(line.steps))}</u>"
    return f"<li><b>{line.stitches}</b>{patch}{name}{steps}\n"


def _shortened(name: str) -> str:
    """A name that fits its line, with "…" where something is left out."""
    if len(name) <= LONGEST_NAME:
        return name
    last = LONGEST_NAME - 1
    # Not within a sign that is made of several: marks, and what a joiner joins, stay together.
    while last and (_is_part(name[last]) or name[last - 1] == JOINER):
        last -= 1
    return f"{name[:last].rstrip()}…"


def _is_part(sign: str) -> bool:
    """Whether a sign only ever changes the one before it, as an accent does."""
    return unicodedata.category(sign)[0] == "M" or sign == JOINER


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


def _colours(yarns: Mapping[str, Yarn], classes: Mapping[str, str]) -> str:
    """The style of the patches of each yarn."""
    rules = []
    for letter, name in classes.items():
        colour = yarns[letter].colour
        look = f"background: {colour}; color: {ink_on(colour)}"
        rules.append(f".{name} {{{look}}}\n")
    return "".join(rules)


def _texts(screens: Iterable[_Screen]) -> Iterator[str]:
    """All that the cards say."""
    for screen in screens:
        yield str(screen.card)
        yield from (*screen.before, *screen.after)


def _notes(
    plan: Plan, screens: Iterable[_Screen], yarns: Mapping[str, Yarn], classes: Mapping[str, str]
) -> str:
    """What holds for the whole piece: its yarns, which look alike, crossing, the cards' words."""
    named = []
    for letter, yarn in yarns.items():
        name = _safe(yarn.name or letter)
        lot = f", lot <bdi>{_safe(yarn.dye_lot)}</bdi>" if yarn.dye_lot else ""
        named.append(f"<dt class={classes[letter]}>{_safe(letter)}<dd><bdi>{name}</bdi>{lot}")
    parts = [f"<h2>Yarns</h2>\n<dl>{''.join(named)}</dl>"]
    if plan.alike:
        pairs = map(str, plan.alike)
        parts.append(f"<h2>Look alike</h2>\n{_paragraphs('alike', pairs)}")

    # A card says it once; here it is for whoever asks again.
    crossed = {card.side: card.cross for card in plan.cards if len(card.lines) > 1}
    if crossed:
        word = plan.traced.how.row_word
        said = [f"{side} {word}s: {cross}" for side, cross in sorted(crossed.items())]
        parts.append(f"<h2>At each border</h2>\n{_paragraphs('cross', said)}")
    words = words_of_cards(_texts(screens)).items()
    explained = [f"{word}: {meaning}" for word, meaning in words]
    parts.append(f"<h2>Words</h2>\n{_paragraphs('word', explained)}")
    return "\n".join(parts)
