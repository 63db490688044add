"""What is said and asked while a sheet is read, and what the knitter answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from planner.errors import PlanError

MOST_LISTED = 12  # things in one note
# The settings that a sheet may leave in doubt, and their answers.
CHOICES = {
    "by": ("letters", "fills"),
    "row_1": ("bottom", "top"),
    "blanks": ("ground", "no stitch"),
    "hidden": ("left out", "kept"),
}
# What is asked only where the sheet gives cause.
SELDOM_ASKED = {"ridges": ("two rows each", "one row each")}


@dataclass(frozen=True)
class Question:
    """What a sheet does not tell.

    The argument of `read_sheet` that settles it, the question, its answers, the one taken.
    """

    setting: str
    words: str
    choices: tuple[str, ...]
    taken: str


@dataclass(frozen=True)
class Answers:
    """What the knitter says of a sheet, by the settings of CHOICES and
    SELDOM_ASKED; what is None is found out."""

    by: str | None = None
    row_1: str | None = None
    blanks: str | None = None
    hidden: str | None = None
    ridges: str | None = None

    def __post_init__(self) -> None:
        # Found out here, before a file of many sheets is read in vain.
        for setting, choices in (CHOICES | SELDOM_ASKED).items():
            value = getattr(self, setting)
            if value is not None and value not in choices:
                allowed = " or ".join(choices)
                raise PlanError(f'{setting} is "{value}"; it is {allowed}.')


@dataclass
class Remarks:
    """What is to be said about the reading of a file, while it is read; `name` is the file's."""

    name: str
    notes: list[str]
    asks: list[Question] = field(default_factory=list)

    def note(self, text: str) -> None:
        self.notes.append(text)

    def ask(
        self,
        setting: str,
        words: str,
        taken: str,
        *,
        choices: Sequence[str] | None = None,
    ) -> None:
        # Which sheet and which part of it is meant has answers that differ from file to file.
        if choices is None:
            choices = (CHOICES | SELDOM_ASKED)[setting]
        question = Question(setting, words, tuple(choices), taken)
        self.asks.append(question)


def listed(things: Sequence[str], *, most: int = MOST_LISTED) -> str:
    """The first things in words, and how many more there are."""
    words = ", ".join(things[:most])
    more = len(things) - most
    return f"{words} and {more} more" if more > 0 else words
