"""A hand that sews in ends: it has the knitted cloth, back up, and the words, nothing else.

The cloth is the chart's rows, bottom row first, each mirrored: with the back up, the first stitch
from the right lies at the left.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

NO_STITCH = "."
STEP = {"left": -1, "right": 1}
ASIDE = 4  # stitches a hand looks for the same colour in the next row
FAR = 2  # stitches a hand reaches over to a border that is named

ENDS = re.compile(
    r"(?P<strand>\S+) (?P<what>starts|ends|is joined|is cast on with) in (?:row|round) "
    r"(?P<row>\d+), stitch (?P<stitch>\d+): (?P<way>.+)"
)
ONE_THREAD = re.compile(r"; cast on with one thread, from stitch (\d+): ")
ROUND = re.compile(r"round (?P<yarn>\w+)[^,]* on its (?P<side>left|right)")
ASIDE_BY = re.compile(r"to the (?P<side>left|right) behind (?P<n>\d+) stitch(?:es)? of its own row")
BORDER = re.compile(
    r"(?P<way>up|down) along its border with (?P<yarn>\w+)[^,]* on the (?P<side>left|right), "
    r"over (?P<n>\d+) (?:row|ridge)s?"
)
THAT_BORDER = re.compile(r"(?P<way>up|down) along that border, over (?P<n>\d+) (?:row|ridge)s?")
EDGE = re.compile(
    r"(?P<way>up|down) along the (?P<side>left|right) edge of the piece, "
    r"over (?P<n>\d+) (?:row|ridge)s?"
)
OWN = re.compile(r"(?P<way>up|down) behind its own stitches, over (?P<n>\d+) (?:row|ridge)s?")


class Finisher:
    """Follows each sentence on the cloth, and fails where what it says is not there."""

    def __init__(self, rows: Sequence[str], *, times: int, tube: bool):
        self.cloth = [line[::-1] for line in reversed(rows)]
        self.times, self.tube = times, tube
        # How far the end of the sentence at hand was run, and beside which border.
        self.gone, self.side = 0, ""
        self.highest = 0  # the highest chart row of it

    def follow(self, sentence: str) -> tuple[int, int, str]:
        """Run an end; its chart row, its place from the left, and the letter of its yarn."""
        said = ENDS.fullmatch(sentence)
        assert said, sentence
        row = (int(said["row"]) - 1) // self.times
        place = int(said["stitch"]) - 1
        yarn = re.sub(r"\d+$", "", said["strand"])
        assert self.cloth[row][place] == yarn, sentence
        if said["what"] == "is cast on with":
            assert said["way"] == "along the cast-on edge"
            return row, place, yarn
        way, *other = ONE_THREAD.split(said["way"])
        self.highest = row
        self._run(way, row, place, yarn)
        if other:
            # A yarn that is cast on with one thread hangs elsewhere in the first row.
            stitch, other_way = other
            assert (said["row"], said["what"]) == ("1", "starts"), sentence
            assert self.cloth[row][int(stitch) - 1] == yarn, sentence
            highest = self.highest
            self._run(other_way, row, int(stitch) - 1, yarn)
            self.highest = highest
        return row, place, yarn

    def _run(self, way: str, row: int, place: int, yarn: str) -> None:
        self.gone, self.side, at = 0, "", place
        steps = way.removesuffix(" and back").split(", then ")
        for step in steps:
            at = self._step(step, row, at, yarn)
        if way.endswith(" and back"):
            self.gone *= 2
        assert self.gone >= 6 or "does not show" in way or way.endswith("and back"), way

    def _step(self, words: str, row: int, place: int, yarn: str) -> int:
        if found := ROUND.fullmatch(words):
            assert self.beside(row, place, found["side"]) == found["yarn"] != yarn, words
            self.side = found["side"]
        elif found := ASIDE_BY.fullmatch(words):
            place = self._aside(row, place, found["side"], int(found["n"]))
        elif found := BORDER.fullmatch(words):
            place = self._to_border(row, place, found["side"], found["yarn"])
            self._along(row, place, found, found["side"])
        elif found := THAT_BORDER.fullmatch(words):
            self._along(row, place, found, self.side)
        elif found := EDGE.fullmatch(words):
            place = self._to_border(row, place, found["side"], "")
            self._along(row, place, found, found["side"])
        elif found := OWN.fullmatch(words):
            self.gone += int(found["n"])
        else:
            assert words == "on behind the next stitches, where it does not show", words
        return place

    def beside(self, row: int, place: int, side: str) -> str:
        """The yarn of the next stitch on this side; "" past the edge of the piece."""
        found = self._next(row, place, side)
        return "" if found is None else self.cloth[row][found]

    def _next(self, row: int, place: int, side: str) -> int | None:
        wide = len(self.cloth[row])
        for _ in range(wide):
            place += STEP[side]
            if self.tube:
                place %= wide
            if not 0 <= place < wide:
                return None
            if self.cloth[row][place] != NO_STITCH:
                return place
        return None

    def _aside(self, row: int, place: int, side: str, stitches: int) -> int:
        yarn = self.cloth[row][place]
        for _ in range(stitches - 1):
            found = self._next(row, place, side)
            assert found is not None
            place = found
            assert self.cloth[row][place] == yarn
        self.gone += stitches
        return place

    def _to_border(self, row: int, place: int, side: str, beyond: str) -> int:
        yarn = self.cloth[row][place]
        for _ in range(FAR + 1):
            if self.beside(row, place, side) == beyond:
                return place
            found = self._next(row, place, side)
            assert found is not None
            assert self.cloth[row][found] == yarn
            place = found
        raise AssertionError(f"no border with {beyond or 'the edge'} on the {side} in row {row}")

    def _along(self, row: int, place: int, found: re.Match[str], side: str) -> None:
        """Row after row there must be a stitch of the same colour near the last one, and beside
        it the yarn beyond the border."""
        yarn = self.cloth[row][place]
        # At a border that is named for a stitch near it, the border itself is what is followed.
        while self.beside(row, place, side) == yarn:
            further = self._next(row, place, side)
            assert further is not None
            place = further
        beyond = self.beside(row, place, side)
        up = 1 if found["way"] == "up" else -1
        back = {"left": "right", "right": "left"}[side]
        for _ in range(int(found["n"]) - 1):
            row += up
            assert 0 <= row < len(self.cloth)
            places = [place]
            while len(places) <= ASIDE:
                further = self._next(row, places[-1], back)
                if further is None:
                    break
                places.append(further)
            own = [each for each in places if self.cloth[row][each] == yarn]
            assert own, f"row {row}: no {yarn} near stitch {place}"
            place = own[0]
            while self.beside(row, place, side) == yarn:
                further = self._next(row, place, side)
                if further is None or further == place:
                    break
                place = further
                if self.tube and place == own[0]:
                    break
            assert self.beside(row, place, side) == beyond, f"row {row}: another border"
            self.highest = max(self.highest, row)
        self.gone += int(found["n"])
