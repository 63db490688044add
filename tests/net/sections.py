"""The sections of the net, by name, in the order they are printed."""

from __future__ import annotations

import hashlib
from collections.abc import Callable

from tests.net.text import Titled, section_text

SECTIONS: dict[str, Callable[[], Titled]] = {}


def section(covers: Callable[[], Titled]) -> Callable[[], Titled]:
    """Put a function into the net under its own name; it gives titles and answers."""
    SECTIONS[covers.__name__] = covers
    return covers


def digest(text: str) -> str:
    """The line that stands for a text."""
    return hashlib.sha256(text.encode()).hexdigest()[:24]


def text_of(name: str) -> str:
    """The text of a section."""
    return section_text(SECTIONS[name]())
