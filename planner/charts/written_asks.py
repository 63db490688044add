"""What is said and asked while written rows are read, and what the knitter answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from planner.charts.questions import Question
from planner.errors import PlanError

# The settings that written rows may leave in doubt, and their answers.
DIRECTIONS = (
    AS_WORKED,
    FROM_RIGHT,
    FROM_LEFT,
    THERE_AND_BACK,
) = ("as worked", "all right to left", "all left to right", "there and back")
A_LINE_A_RIDGE, A_LINE_A_ROW = "a line a ridge", "a line a row"
MAIN_COLOUR, YARN_BEFORE = "the main colour", "the yarn before"
MORE, IN_ALL = "more", "in all"
ROW_CHOICES = {
    "direction": DIRECTIONS,
    "repeats": (MORE, IN_ALL),
    "order": ("row 1 first", "row 1 last"),
    "capitals": ("two yarns", "one yarn"),
    "slips": ("yarns", "slips"),
    "last_row": ("worked", "left out"),
    "to_end": (MAIN_COLOUR, YARN_BEFORE),
    "ridges": (A_LINE_A_RIDGE, A_LINE_A_ROW),
    "size": ("as the rows are", "rows are missing"),
}


@dataclass(frozen=True)
class RowAnswers:
    """What the knitter says of written rows, by the settings of ROW_CHOICES; None is found out."""

    direction: str | None = None
    repeats: str | None = None
    order: str | None = None
    capitals: str | None = None
    slips: str | None = None
    last_row: str | None = None
    to_end: str | None = None
    ridges: str | None = None
    size: str | None = None

    def __post_init__(self) -> None:
        for setting, choices in ROW_CHOICES.items():
            value = getattr(self, setting)
            if value is not None and value not in choices:
                allowed = " or ".join(choices)
                raise PlanError(f'{setting} is "{value}"; it is {allowed}.')


@dataclass
class RowRemarks:
    """What is to be said about written rows while they are read, and what the knitter told."""

    told: RowAnswers
    notes: list[str] = field(default_factory=list)
    asks: list[Question] = field(default_factory=list)

    def note(self, words: str) -> None:
        if words not in self.notes:
            self.notes.append(words)

    def settle(self, setting: str, words: str, taken: str) -> str:
        """The knitter's answer to a question; without one, it is asked and `taken` is returned."""
        answer: str | None = getattr(self.told, setting)
        if answer is not None:
            return answer
        choices: Sequence[str] = ROW_CHOICES[setting]
        asked = [question for question in self.asks if question.setting == setting]
        # Each setting is asked once, for the first place where it is in doubt.
        if not asked:
            self.asks.append(Question(setting, words, tuple(choices), taken))
        return taken
