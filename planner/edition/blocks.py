"""Blocks: what a document for others consists of, whether it is set on pages or read aloud.

A document is sections of blocks. They hold words only, never marks of how these look.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Words:
    """A paragraph; `is_sum` where it is a line to write on, or a sum to follow."""

    text: str
    is_sum: bool = False


@dataclass(frozen=True)
class Items:
    """A list, an item a line."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A table. Its first column names the line; `right` are the columns, from 0, of figures."""

    heads: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    # Of a narrow column 1, of one with sentences 3 or 4.
    wide: tuple[int, ...] = ()

    def without_empty(self) -> Table:
        """The table without the columns in which no line says anything."""
        columns = enumerate(zip(*self.lines, strict=True))
        told = [place for place, cells in columns if any(cells)]

        def kept(cells: Sequence[Any]) -> tuple[Any, ...]:
            return tuple(cells[column] for column in told) if cells else ()

        right = tuple(place for place, column in enumerate(told) if column in self.right)
        lines = tuple(kept(line) for line in self.lines)
        return Table(kept(self.heads), lines, right, kept(self.wide))


@dataclass(frozen=True)
class Steps:
    """What is done one after the other: each with a title, and notes below it.

    `boxes` says whether each has a box to tick.
    """

    steps: tuple[tuple[str, tuple[str, ...]], ...]
    boxes: bool = False


@dataclass(frozen=True)
class Key:
    """The yarns of the chart: letter, what is said of it, and its colour as #rrggbb."""

    yarns: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class ChartHere:
    """Where the chart stands; `instead` is said where none can be drawn."""

    instead: str


Block = Words | Items | Table | Steps | Key | ChartHere


@dataclass(frozen=True)
class Section:
    """Blocks under a title; `on_new_page` where it had better begin a page."""

    title: str
    blocks: tuple[Block, ...]
    on_new_page: bool = False


@dataclass(frozen=True)
class Document:
    """Sections under a title, with a line below the title that says what it is."""

    title: str
    about: str
    sections: tuple[Section, ...]

    def texts(self) -> Iterator[str]:
        """All that it says, in order."""
        yield from (self.title, self.about)
        for section in self.sections:
            yield section.title
            for block in section.blocks:
                yield from _texts_of(block)


def _texts_of(block: Block) -> Iterator[str]:
    # What is explained, and whether letters can be printed, is judged by all words of a document.
    match block:
        case Words(text=text) | ChartHere(instead=text):
            yield text
        case Items(items=items):
            yield from items
        case Table(heads=heads, lines=lines):
            yield from heads
            for line in lines:
                yield from line
        case Steps(steps=steps):
            for title, notes in steps:
                yield title
                yield from notes
        case Key(yarns=yarns):
            for letter, words, _ in yarns:
                yield from (letter, words)
