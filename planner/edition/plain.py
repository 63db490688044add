"""Plain text: a document in UTF-8, no line longer than 72 signs, made to be read aloud as well.

A table is read line by line, each figure with its heading, for columns of blanks tell an ear
nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from textwrap import wrap

from planner.edition.blocks import Block, ChartHere, Document, Items, Key, Steps, Table, Words

WIDTH = 72
NUMBER = re.compile(r'(?<=\d) (?=["\w])')
BOUND = "\N{WORD JOINER}"  # in the place of a blank at which no line is broken


def plain_text(document: Document) -> bytes:
    """The document as plain text in UTF-8."""
    lines = [*_headed(document.title, "="), *_wrapped(document.about), ""]
    for section in document.sections:
        lines += ["", *_headed(section.title, "-")]
        for block in section.blocks:
            lines += [*_lines_of(block), ""]
    return ("\n".join(lines).rstrip() + "\n").encode()


def _headed(title: str, line: str) -> list[str]:
    wrapped = _wrapped(title)
    # Underlined, so that a title is known as one without any marks of print.
    longest = max(map(len, wrapped), default=0)
    return [*wrapped, line * longest, ""]


def _wrapped(text: str, first: str = "", after: str = "") -> list[str]:
    """The text in lines; `first` stands before the first of them, `after` before the others."""
    # A number stays with what it counts: "7 W". What is longer than a line is broken all the same.
    bound = NUMBER.sub(BOUND, text)
    lines = wrap(
        bound, WIDTH, initial_indent=first, subsequent_indent=after, break_on_hyphens=False
    )
    return [line.replace(BOUND, " ") for line in lines]


def _lines_of(block: Block) -> Iterator[str]:
    match block:
        case Words(text=text) | ChartHere(instead=text):
            yield from _wrapped(text)
        case Items(items=items):
            for item in items:
                yield from _wrapped(item, "- ", "  ")
        case Table():
            for line in block.lines:
                yield from _wrapped(_in_words(block, line), "- ", "  ")
        case Steps(steps=steps):
            for title, notes in steps:
                yield from _wrapped(title, after="  ")
                for note in notes:
                    yield from _wrapped(note, "  - ", "    ")
        case Key(yarns=yarns):
            for letter, words, _ in yarns:
                yield from _wrapped(f"{letter}: {words}", "- ", "  ")


def _in_words(table: Table, line: tuple[str, ...]) -> str:
    """A line of a table: what it is about, then each figure after its heading."""
    # Who listens to a text cannot look up to the head of a column.
    name, *cells = line
    said = []
    for head, cell in zip(table.heads[1:], cells, strict=True):
        if cell:
            said.append(f"{head}: {cell}")
    in_words = "; ".join(said)
    return f"{name}. {in_words[:1].upper()}{in_words[1:]}."
