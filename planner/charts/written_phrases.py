"""The phrases that runs of a written row are made of: how often, which yarn, no stitch."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from planner.charts.written_cursor import Cursor
from planner.charts.written_words import (
    ACROSS,
    IN_ALL,
    KNIT,
    NUMBERS,
    REPEAT,
    STITCH,
    TIME,
    TIMES,
    YARN,
    Token,
    is_taken,
    words_of,
)
from planner.piece import LETTER

BLANK_WORDS = words_of("blank blanks empty")
NO_STITCH_WORDS = words_of("no-stitch no-stitches no-st no-sts")
TO_END = words_of("to until till") | ACROSS
HAS_LETTER = re.compile(r"[^\W_]")
LONG_WORD = 3  # letters of each word of a yarn's name that has several


UNNAMED = "\n"  # which no name has, for it ends a line


@lru_cache(maxsize=1_000)
def key_of(text: str) -> str:
    """What tells a yarn apart: letters as they are written, longer names whatever their case."""
    return text if LETTER.fullmatch(text) else text.casefold()


@dataclass(frozen=True)
class Name:
    """A yarn as a line names it.

    `sure` unless the word could mean something else. `unnamed`: the line names none, and `text` is
    the yarn before it, "" where there is none.
    """

    text: str
    line: int
    sure: bool = True
    unnamed: bool = False

    @property
    def key(self) -> str:
        """What tells the yarn apart; no yarn that is named has the key of an unnamed one."""
        return UNNAMED + key_of(self.text) if self.unnamed else key_of(self.text)


@dataclass(frozen=True)
class Often:
    """How often a part is worked.

    `more`: it is not clear whether the times come on top of the first. `to_end`: it goes on to the
    end of the row, but for so many stitches to `leave`; None: as many as follow.
    """

    times: int = 0
    more: bool = False
    to_end: bool = False
    leave: int | None = None


class Phrases(Cursor):
    """A cursor that reads phrases; each returns None, and stays where it is, if none is there."""

    # How often

    def often(self, *, bracket: bool) -> Often | None:
        """How often a part is worked.

        After a bracket "4 times" is all there is to it. After "repeat from *" it is not clear.
        """
        start = self.at
        self.skip_marks(",;")
        often = self._times(bracket=bracket) or self.to_end()
        if often is None:
            self.at = start
        return often

    def often_after_repeat(self) -> Often | None:
        """ "(3 A, 2 B), repeat 3 more times"."""
        start = self.at
        self.skip_marks(",;")
        if self.skip(REPEAT):
            self.skip(words_of("this from the brackets bracket"))
            often = self.often(bracket=False)
            if often is not None:
                return often
        self.at = start
        return None

    def _times(self, *, bracket: bool) -> Often | None:
        start = self.at
        self.skip(words_of("for a work worked"))
        sign = self._times_sign() or (bracket and self._glued_star())
        alone = self.word() in TIMES
        number = self._how_many()
        if number is None:
            self.at = start
            return None
        more = self.skip(words_of("more"))
        said = self._times_sign() or self.skip(TIME)
        more = self.skip(words_of("more again")) or more
        in_all = self._in_all()
        # "(2 A, 1 B) 4" is enough; "(2 A, 1 B) 4 C" is not.
        if not (sign or said or more or alone or in_all or self.is_over()):
            self.at = start
            return None
        if more:
            return Often(number + 1)
        return Often(number, more=not bracket and not in_all)

    def _times_sign(self) -> bool:
        found = self.kind() == "times" or self.word() == "x"
        self.at += found
        return found

    def _glued_star(self) -> bool:
        """ ")*2": a star that is a sign of multiplication, for it stands between the two."""
        token, after = self.peek(), self.peek(1)
        if token is None or token.kind != "stars" or not token.glued:
            return False
        found = after is not None and after.kind == "number" and after.glued
        self.at += found
        return found

    def _how_many(self) -> int | None:
        known = TIMES.get(self.word()) or NUMBERS.get(self.word())
        if known:
            self.at += 1
            return known
        return self.number() if self.kind() == "number" else None

    def _in_all(self) -> bool:
        if self.word() == "in" and self.word(1) in IN_ALL | {"all"}:
            self.at += 2
            return True
        return self.skip(IN_ALL)

    def to_end(self) -> Often | None:
        """ "to end of row", "across", "to last 5 sts", "until 5 sts remain"."""
        start = self.at
        if self.skip(words_of("across around round")):
            self.skip(words_of("row round rnd the"))
            return self.to_end() or Often(to_end=True)
        if not self.skip(words_of("to until till for")):
            return None
        self.skip(words_of("the within"))
        if self.skip(words_of("end")):
            if self.word() == "of":
                self.skip(words_of("of the row round rnd rows"))
            return Often(to_end=True)
        last = self.skip(words_of("last"))
        number = 1 if last and self.word() in STITCH else self._how_many()
        self.skip(STITCH)
        remain = self.skip(words_of("remain remaining rem left"))
        if number is not None and (last or remain):
            return Often(to_end=True, leave=number)
        self.at = start
        return None

    # Yarns

    def name(self, *, counted: bool) -> Name | None:
        """The name of a yarn.

        `counted`: its stitches stand before it, so that a number glued to it is part of it.
        """
        start = self.at
        self.skip(words_of("the"))
        if self.word() in YARN and self.kind(1) in ("word", "quoted", "number"):
            lead = self.take()
            if self.kind() == "number":
                return Name(f"{lead.text} {self.take().text}", lead.line)
        token = self.peek()
        if token and token.kind == "quoted" and HAS_LETTER.search(token.text):
            self.at += 1
            return Name(token.text.strip(), token.line)
        if token is None or token.kind != "word" or is_taken(token.text):
            self.at = start
            return None
        self.at += 1
        text = token.text + self._more_of_name(token)
        text += self._number_of_name(counted=counted)
        self.skip(words_of("yarn"))
        return Name(text, token.line)

    def _more_of_name(self, first: Token) -> str:
        """Further words of a name such as "dark moss"."""
        more = ""
        if len(first.text) < LONG_WORD:
            return more
        while (token := self.peek()) and len(token.word) >= LONG_WORD and not is_taken(token.word):
            more += f" {token.text}"
            self.at += 1
        return more

    def _number_of_name(self, *, counted: bool) -> str:
        """The number of a name such as CC1, as far as it is no count."""
        token, after = self.peek(), self.peek(1)
        if token is None or token.kind != "number" or not token.glued:
            return ""
        if counted:
            # "10A3B" is ten A and three B.
            a_count = after is not None and after.kind == "word" and after.glued
        else:
            ahead = 1
            if self.is_mark(":=", ahead) or self.kind(ahead) == "times":
                ahead += 1
            if self.word(ahead) in KNIT or self.word(ahead) == "x":
                ahead += 1
            a_count = self.kind(ahead) != "number" and self.word(1) not in TO_END
        return "" if a_count else self.take().text

    def remark(self) -> None:
        """Step over words in brackets after a yarn: "3 A (ecru)"."""
        ahead = 1
        while self.kind() == "open" and self.kind(ahead) == "word":
            ahead += 1
        if ahead > 1 and self.kind(ahead) == "close":
            self.at += ahead + 1

    def no_stitch(self) -> bool:
        """Whether "no stitch", "no sts", "no-st" or "blank" stands here, which is taken."""
        start = self.at
        if self.skip(NO_STITCH_WORDS):
            return True
        if self.skip(BLANK_WORDS):
            self.skip(STITCH)
            return True
        if self.skip(words_of("no")):
            self.skip_marks("-–")
            if self.skip(STITCH):
                return True
        self.at = start
        return False
