"""The tokens of a written row, and where among them its reader stands."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from planner.charts.written_words import (
    AND,
    GAPS,
    KNIT,
    LIKE,
    MOST_QUOTED,
    NUMBERS,
    Token,
    count_in,
    tokens,
)
from planner.errors import PlanError
from planner.guards import MOST_STITCHES

SHOWN = 6  # tokens in a message


class Cursor:
    """A place among the tokens of a row; `pieces` are its text with the number of each line."""

    def __init__(self, pieces: Sequence[tuple[int, str]]):
        self.all: list[Token] = []
        for line, text in pieces:
            self.all.extend(tokens(text, line))
        self.at = 0
        self.first_line = pieces[0][0]

    # Looking

    def peek(self, ahead: int = 0) -> Token | None:
        place = self.at + ahead
        return self.all[place] if place < len(self.all) else None

    def word(self, ahead: int = 0) -> str:
        """The word that stands there in small letters; "" if none does."""
        place = self.at + ahead
        return self.all[place].word if place < len(self.all) else ""

    def kind(self, ahead: int = 0) -> str:
        place = self.at + ahead
        return self.all[place].kind if place < len(self.all) else ""

    def is_mark(self, marks: str, ahead: int = 0) -> bool:
        token = self.peek(ahead)
        return bool(token and token.kind == "mark" and token.text in marks)

    def is_number(self, ahead: int = 0) -> bool:
        return self.kind(ahead) == "number" or self.word(ahead) in NUMBERS

    def is_over(self, ahead: int = 0) -> bool:
        """Whether a run is over here: nothing follows, or what stands between runs."""
        token = self.peek(ahead)
        if token is None or token.kind in ("close", "open", "stars"):
            return True
        return (token.kind == "mark" and token.text in GAPS) or token.word in AND

    @property
    def line(self) -> int:
        token = self.peek() or (self.all[-1] if self.all else None)
        return token.line if token else self.first_line

    # Taking

    def take(self) -> Token:
        token = self.all[self.at]
        self.at += 1
        return token

    def number(self) -> int:
        token = self.take()
        if token.word in NUMBERS:
            return NUMBERS[token.word]
        return count_in(token.text, token.line, "number", most=MOST_STITCHES)

    def skip(self, words: Collection[str]) -> bool:
        """Step over words of a set as long as they stand there; whether any did."""
        start = self.at
        while self.word() in words:
            self.at += 1
        return self.at > start

    def skip_marks(self, marks: str) -> None:
        while self.is_mark(marks):
            self.at += 1

    def gap(self) -> bool:
        """Step over what only stands between runs; whether it did."""
        token = self.peek()
        if token is None:
            return False
        if (token.kind == "mark" and token.text in GAPS) or token.word in AND:
            self.at += 1
            # "ending with k3 A": no yarn is taken up here.
            counted = self.kind(1) == "number" or self.word(1) in KNIT
            if token.word.startswith("end") and self.word() == "with" and counted:
                self.at += 1
            return True
        if token.word == "turn" and self._turn_ends():
            self.at = len(self.all)
            return True
        return False

    def _turn_ends(self) -> bool:
        """Whether a turn stands at the end of the row, where it goes without saying."""
        rest = self.all[self.at + 1 :]
        return all(each.kind == "mark" or each.word in ("work", "piece", "the") for each in rest)

    # Errors

    def wrong(self, what: str, like: str = LIKE) -> PlanError:
        """The error about what stands here; `what` says what is wrong, `like` what would do."""
        shown = ""
        for token in self.all[self.at : self.at + SHOWN]:
            shown += token.text if token.glued else f" {token.text}"
        return PlanError(f'Line {self.line}: "{shown.strip()[:MOST_QUOTED]}" {what}. {like}')

    def no_plain_row(self) -> PlanError:
        """The error about a word of the craft."""
        return self.wrong(
            "is no plain stitch of one yarn",
            "Only rows of plain stitches are read here: write what the row shows, like "
            '"10 A, 3 B", or put the name of a yarn in quotation marks, like 3 "BO".',
        )
