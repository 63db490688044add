"""Written rows in the styles in which people write them, each with the chart that it means.

A style writes a chart as text. In that text the counts, yarns, runs and lines that a slip may
strike are marked by signs that no text has, so that mistaken twins can be made of it; `plain` takes
the marks out. Counts in rows that go on "to end" are not marked: no reader can tell a slip there.
"""

from __future__ import annotations

import random
import re
import textwrap
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from itertools import groupby

from planner.piece import NO_STITCH, Chart, Construction

COUNT, YARN, RUN, LINE, END = "\ue000", "\ue001", "\ue002", "\ue003", "\ue004"
MARKS = re.compile("[\ue000-\ue004]")
FLAT = Construction()
ROUNDS = Construction(worked="rounds")
Row = list[str]
Runs = list[tuple[int, str]]
# What a knitter does that is no plain stitch of a yarn.
CRAFT = (
    *("sl 1", "k2tog", "BO 3", "inc 1", "dec 1", "p20", "yo", "ssk", "CO 4", "bind off 2"),
    *("sl1 wyif", "kfb", "M1", "slip 2", "p2tog"),
)


def plain(text: str) -> str:
    return MARKS.sub("", text)


def count(number: int) -> str:
    return f"{COUNT}{number}{END}"


def run(text: str) -> str:
    return f"{RUN}{text}{END}"


def yarn(name: str) -> str:
    return f"{YARN}{name}{END}"


@dataclass(frozen=True)
class Piece:
    """A chart to be written: its rows from the bottom, each from the left."""

    rows: list[Row]
    how: Construction = FLAT

    @property
    def width(self) -> int:
        return len(self.rows[0])

    def in_order(self, number: int) -> Row:
        """A row as it is worked."""
        row = self.rows[number]
        side = self.how.rows_per_chart_row * number
        return row[::-1] if self.how.runs_leftwards(side) else row

    def side(self, number: int) -> str:
        return self.how.side(self.how.rows_per_chart_row * number)

    def runs(self, number: int) -> Runs:
        return runs_of(self.in_order(number))

    def chart(self) -> Chart:
        return Chart.from_rows(self.rows[::-1])


def runs_of(cells: Row) -> Runs:
    return [(len(list(same)), letter) for letter, same in groupby(cells)]


# ---- charts of the kinds that styles need


def patches(rng: random.Random, *, holes: bool = False) -> list[Row]:
    """Blocks of yarns on a ground, each over several rows."""
    width, height = rng.randint(14, 24), rng.randint(8, 12)
    rows = [["A"] * width for _ in range(height)]
    for _ in range(5):
        for letter in "BC":
            left, low = rng.randrange(width - 3), rng.randrange(height - 3)
            for row in range(low, min(height, low + rng.randint(2, 4))):
                for column in range(left, min(width, left + rng.randint(2, 6))):
                    rows[row][column] = letter
    if holes:
        for row in range(height):
            gone = row // 3
            rows[row][:gone] = [NO_STITCH] * gone
    return rows


def mirrored(rng: random.Random) -> list[Row]:
    """Rows that read the same both ways, each worked one to four times."""
    rows: list[Row] = []
    while len(rows) < 10:
        half = [rng.choice("ABC")] * rng.randint(2, 5)
        while len(half) < 10:
            half += [rng.choice("ABC")] * rng.randint(1, 4)
        half = half[:10]
        row = half + half[::-1]
        rows += [row] * rng.randint(1, 4)
    return rows


def pairs(rng: random.Random) -> list[Row]:
    """Each RS row is followed by a WS row in the same colours."""
    rows = []
    for row in patches(rng)[:6]:
        rows += [row, list(row)]
    return rows


def repeats(rng: random.Random) -> list[Row]:
    """Rows of a part worked several times, with plain rows of blocks between."""
    part, times, edge = rng.randint(4, 6), rng.randint(3, 5), rng.randint(2, 4)
    rows = []
    for number in range(9):
        cut = rng.randint(1, part - 1)
        one = ["B"] * cut + ["C"] * (part - cut)
        row = ["A"] * edge + one * times + ["A"] * edge
        if number % 3 == 1:
            row = ["A"] * (edge + cut) + ["B"] * (len(row) - 2 * edge - cut) + ["A"] * edge
        rows.append(row)
    return rows


def blocks(rng: random.Random) -> list[Row]:
    """Four rows that are worked over and over, three or four times."""
    return patches(rng)[:4] * rng.randint(3, 4)


# ---- how titles, runs and what is between them look

Title = Callable[[int, Piece], str]
Write = Callable[[int, str], str]


def ordinal(number: int) -> str:
    ending = (
        "th" if 10 <= number % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    )
    return f"{number}{ending}"


TITLES: dict[str, Title] = {
    "Row 1 (RS):": lambda n, piece: f"Row {n} ({piece.side(n - 1)}): ",
    "Row 1:": lambda n, piece: f"Row {n}: ",
    "ROW 1:": lambda n, piece: f"ROW {n}: ",
    "Row 1": lambda n, piece: f"Row {n} ",
    "Row 1.": lambda n, piece: f"Row {n}. ",
    "Row 1 –": lambda n, piece: f"Row {n} – ",
    "Row 1 -": lambda n, piece: f"Row {n} - ",
    "Row #1:": lambda n, piece: f"Row #{n}: ",
    "R1:": lambda n, piece: f"R{n}: ",
    "R 1:": lambda n, piece: f"R {n}: ",
    "1st row:": lambda n, piece: f"{ordinal(n)} row: ",
    "1st row (RS):": lambda n, piece: f"{ordinal(n)} row ({piece.side(n - 1)}): ",
    "1st RS row": lambda n, piece: f"{ordinal(n)} {piece.side(n - 1)} row: ",
    "1:": lambda n, piece: f"{n}: ",
    "1.": lambda n, piece: f"{n}. ",
    "1)": lambda n, piece: f"{n}) ",
    "Rnd 1:": lambda n, piece: f"Rnd {n}: ",
    "Round 1:": lambda n, piece: f"Round {n}: ",
    "Rd 1.": lambda n, piece: f"Rd {n}. ",
    "Ridge 1:": lambda n, piece: f"Ridge {n}: ",
    "Row 1 [RS]:": lambda n, piece: f"Row {n} [{piece.side(n - 1)}]: ",
    "Row 1, RS:": lambda n, piece: f"Row {n}, {piece.side(n - 1)}: ",
    "Row 1 – RS:": lambda n, piece: f"Row {n} – {piece.side(n - 1)}: ",
    "RS Row 1:": lambda n, piece: f"{piece.side(n - 1)} Row {n}: ",
    "Row 1 (right side):": lambda n, piece: (
        f"Row {n} ({'right' if piece.side(n - 1) == 'RS' else 'wrong'} side): "
    ),
    "Row 1: (RS)": lambda n, piece: f"Row {n}: ({piece.side(n - 1)}) ",
    "**Row 1:**": lambda n, piece: f"**Row {n}:** ",
    "• Row 1:": lambda n, piece: f"• Row {n}: ",
    "Row 1 (20 sts):": lambda n, piece: f"Row {n} ({piece.width} sts): ",
    "Row 1 (RS, 20 sts):": lambda n, piece: f"Row {n} ({piece.side(n - 1)}, {piece.width} sts): ",
    "Row 1 | RS |": lambda n, piece: f"Row {n} | {piece.side(n - 1)} | ",
    "R1 -": lambda n, piece: f"R{n} - ",
    "1 -": lambda n, piece: f"{n} - ",
    "1 (RS):": lambda n, piece: f"{n} ({piece.side(n - 1)}): ",
    "Row 1 ←:": lambda n, piece: f"Row {n} ({'←' if piece.side(n - 1) == 'RS' else '→'}): ",
    "Next row:": lambda n, piece: f"Next row ({piece.side(n - 1)}): ",
    "Row 1 (K):": lambda n, piece: f"Row {n} ({'K' if piece.side(n - 1) == 'RS' else 'P'}): ",
    "": lambda n, piece: "",
}
RUNS: dict[str, Write] = {
    "10 A": lambda n, name: f"{count(n)} {yarn(name)}",
    "10A": lambda n, name: f"{count(n)}{yarn(name)}",
    "A10": lambda n, name: f"{yarn(name)}{count(n)}",
    "A 10": lambda n, name: f"{yarn(name)} {count(n)}",
    "K10 A": lambda n, name: f"K{count(n)} {yarn(name)}",
    "k10A": lambda n, name: f"k{count(n)}{yarn(name)}",
    "k 10 A": lambda n, name: f"k {count(n)} {yarn(name)}",
    "k10 in A": lambda n, name: f"k{count(n)} in {yarn(name)}",
    "k10 with A": lambda n, name: f"k{count(n)} with {yarn(name)}",
    "knit 10 A": lambda n, name: f"knit {count(n)} {yarn(name)}",
    "knit 10 in A": lambda n, name: f"knit {count(n)} in {yarn(name)}",
    "p10 A": lambda n, name: f"p{count(n)} {yarn(name)}",
    "10 sts A": lambda n, name: f"{count(n)} {'st' if n == 1 else 'sts'} {yarn(name)}",
    "10 sts in A": lambda n, name: f"{count(n)} {'st' if n == 1 else 'sts'} in {yarn(name)}",
    "10 stitches of A": lambda n, name: f"{count(n)} stitches of {yarn(name)}",
    "10 in A": lambda n, name: f"{count(n)} in {yarn(name)}",
    "10 x A": lambda n, name: f"{count(n)} x {yarn(name)}",
    "A × 10": lambda n, name: f"{yarn(name)} × {count(n)}",
    "A x10": lambda n, name: f"{yarn(name)} x{count(n)}",
    "10 (A)": lambda n, name: f"{count(n)} ({yarn(name)})",
    "k10 (A)": lambda n, name: f"k{count(n)} ({yarn(name)})",
    "A(10)": lambda n, name: f"{yarn(name)}({count(n)})",
    "A: 10": lambda n, name: f"{yarn(name)}: {count(n)}",
    "A = 10": lambda n, name: f"{yarn(name)} = {count(n)}",
    "A k10": lambda n, name: f"{yarn(name)} k{count(n)}",
    "with A k10": lambda n, name: f"with {yarn(name)} k{count(n)}",
    "with A, k10": lambda n, name: f"with {yarn(name)}, k{count(n)}",
    "in A k10": lambda n, name: f"in {yarn(name)} k{count(n)}",
    "k10 w/ A": lambda n, name: f"k{count(n)} w/ {yarn(name)}",
    "(10 A)": lambda n, name: f"({count(n)} {yarn(name)})",
    "10 yarn A": lambda n, name: f"{count(n)} yarn {yarn(name)}",
    "k10 in colour A": lambda n, name: f"k{count(n)} in colour {yarn(name)}",
    '10 "A"': lambda n, name: f'{count(n)} "{yarn(name)}"',
}
NAMES = {
    "A, B, C": {"A": "A", "B": "B", "C": "C"},
    "MC, A, B": {"A": "MC", "B": "A", "C": "B"},
    "MC, CC1, CC2": {"A": "MC", "B": "CC1", "C": "CC2"},
    "W, R, G": {"A": "W", "B": "R", "C": "G"},
    "a, b, c": {"A": "a", "B": "b", "C": "c"},
    "words": {"A": "moss", "B": "cream", "C": "rust"},
    "hyphens": {"A": "off-white", "B": "blue-grey", "C": "red"},
    "two words": {"A": "dark moss", "B": "cream", "C": "sky blue"},
}


@dataclass(frozen=True)
class Text:
    """What a style wrote, marked, and the chart that it means in the names that it uses."""

    text: str
    piece: Piece
    names: dict[str, str]


@dataclass(frozen=True)
class Style:
    """A way to write rows; `write` writes a piece, `make` draws a chart that suits it."""

    name: str
    write: Callable[[Piece, Style], str]
    make: Callable[[random.Random], list[Row]] = patches
    how: Construction = FLAT
    title: Title = TITLES["Row 1 (RS):"]
    run: Write = RUNS["10 A"]
    gap: str = ", "
    end: str = ""
    names: dict[str, str] = field(default_factory=lambda: NAMES["A, B, C"])
    # Whether a line that is gone can be missed: rows without numbers are not.
    numbered: bool = True
    family: str = ""

    def text(self, seed: int) -> Text:
        piece = Piece(self.make(random.Random(seed)), self.how)
        return Text(self.write(piece, self), piece, self.names)

    def row(self, runs: Runs) -> str:
        """Runs in this style."""
        return self.gap.join(self.written(number, letter) for number, letter in runs)

    def written(self, number: int, letter: str) -> str:
        if letter == NO_STITCH:
            return run(f"{count(number)} no stitch")
        return run(self.run(number, self.names[letter]))


def line(title: str, body: str, *, marked: bool = True) -> str:
    """A line; one that is `marked` may be left out by a twin."""
    return f"{LINE}{title}{body}{END}" if marked else f"{title}{body}"


def unmarked(text: str) -> str:
    return plain(text)


def row_by_row(piece: Piece, style: Style) -> str:
    lines = []
    for number in range(len(piece.rows)):
        title = style.title(number + 1, piece)
        lines.append(line(title, style.row(piece.runs(number)) + style.end))
    return "\n".join(lines)


def with_total(piece: Piece, style: Style) -> str:
    end = style.end
    lines = []
    for number in range(len(piece.rows)):
        stitches = piece.width - piece.rows[number].count(NO_STITCH)
        body = style.row(piece.runs(number)) + end.replace("33", str(stitches))
        lines.append(line(style.title(number + 1, piece), body))
    return "\n".join(lines)


def headed(piece: Piece, style: Style) -> str:
    """With what patterns have round their rows."""
    names = list(style.names.values())
    return "\n".join(
        [
            "Boat Motif",
            "",
            "This panel is worked flat in intarsia. Twist the yarns where they meet.",
            f"Cast on {piece.width} sts with {names[0]}.",
            "",
            row_by_row(piece, style),
            "",
            "Bind off all sts. Weave in ends.",
        ]
    )


def keyed(piece: Piece, style: Style) -> str:
    words = ("ecru", "navy", "brick red")
    key = [f"{name} = {word}" for name, word in zip(style.names.values(), words, strict=True)]
    return "\n".join([*key, "", row_by_row(piece, style)])


def key_in_a_line(piece: Piece, style: Style) -> str:
    words = ("ecru", "navy", "brick")
    key = [f"{name} {word}" for name, word in zip(style.names.values(), words, strict=True)]
    return f"Yarns: {', '.join(key)}\n{row_by_row(piece, style)}"


def sized(piece: Piece, style: Style) -> str:
    return f"Chart: {piece.width} sts × {len(piece.rows)} rows\n{row_by_row(piece, style)}"


def wrapped(piece: Piece, style: Style) -> str:
    lines = []
    for number in range(len(piece.rows)):
        whole = style.title(number + 1, piece) + style.row(piece.runs(number))
        lines.append(line("", "\n".join(textwrap.wrap(whole, 44, break_on_hyphens=False))))
    return "\n".join(lines)


def from_the_top(piece: Piece, style: Style) -> str:
    return "\n".join(row_by_row(piece, style).split("\n")[::-1])


def spaced(piece: Piece, style: Style) -> str:
    return row_by_row(piece, style).replace("\n", "\n\n")


def all_one_way(words: str, *, leftwards: bool) -> Callable[[Piece, Style], str]:
    """Every row in one direction, which the text says."""

    def write(piece: Piece, style: Style) -> str:
        lines = [words] if words else []
        for number, row in enumerate(piece.rows):
            runs = runs_of(row[::-1] if leftwards else row)
            lines.append(line(style.title(number + 1, piece), style.row(runs)))
        return "\n".join(lines)

    return write


def both_ways(piece: Piece, style: Style) -> str:
    return (
        "RS rows are read from right to left, WS rows from left to right.\n"
        f"{row_by_row(piece, style)}"
    )


# ---- repeats within a row


def repeating(form: str) -> Callable[[Piece, Style], str]:
    """Rows whose part comes again are written in a form, the others out."""

    def write(piece: Piece, style: Style) -> str:
        lines = []
        for number in range(len(piece.rows)):
            runs = piece.runs(number)
            body = style.row(runs)
            middle = runs[1:-1]
            times = len(middle) // 2
            if times > 1 and middle == middle[:2] * times:
                first, last = style.row(runs[:1]), style.row(runs[-1:])
                body = form.format(
                    first=first,
                    last=last,
                    part=style.row(middle[:2]),
                    n=times,
                    more=times - 1,
                    left=runs[-1][0],
                    gap=style.gap,
                )
                if "end" in form or "{left}" in form or "across" in form:
                    body = unmarked(body)
            lines.append(line(style.title(number + 1, piece), body))
        return "\n".join(lines)

    return write


def to_the_end(
    form: str, *, all_of_it: str = "", ground: bool = False
) -> Callable[[Piece, Style], str]:
    """The last run of a row goes to its end, or on the `ground` only; so does a row in one yarn."""

    def write(piece: Piece, style: Style) -> str:
        lines = []
        for number in range(len(piece.rows)):
            runs = piece.runs(number)
            body = style.row(runs)
            name = style.names[runs[-1][1]]
            goes_on = not ground or runs[-1][1] == "A"
            if number and len(runs) > 1 and number % 3 and goes_on:
                body = unmarked(style.row(runs[:-1]) + style.gap + form.format(name=name))
            elif number and len(runs) == 1 and all_of_it:
                body = all_of_it.format(name=name)
            lines.append(line(style.title(number + 1, piece), body))
        return "\n".join(lines)

    return write


def to_the_last(form: str) -> Callable[[Piece, Style], str]:
    """The run before the last goes on until the last one's stitches are left."""

    def write(piece: Piece, style: Style) -> str:
        lines = []
        for number in range(len(piece.rows)):
            runs = piece.runs(number)
            body = style.row(runs)
            if number and len(runs) > 2 and number % 3:
                name = style.names[runs[-2][1]]
                filled = form.format(name=name, left=count(runs[-1][0]))
                parts = [unmarked(style.row(runs[:-2])), filled, style.row(runs[-1:])]
                body = style.gap.join(parts)
            lines.append(line(style.title(number + 1, piece), body))
        return "\n".join(lines)

    return write


# ---- several rows at once


def ranges(form: str) -> Callable[[Piece, Style], str]:
    """Rows that are worked alike are written once, under a title in a form."""

    def write(piece: Piece, style: Style) -> str:
        lines = []
        number = 0
        while number < len(piece.rows):
            last = number
            while last + 1 < len(piece.rows) and piece.in_order(last + 1) == piece.in_order(number):
                last += 1
            title = style.title(number + 1, piece)
            if last > number:
                between = [str(row + 1) for row in range(number, last)]
                title = form.format(
                    first=number + 1, last=last + 1, all=", ".join(between), more=last - number + 1
                )
            lines.append(line(title, style.row(piece.runs(number))))
            number = last + 1
        return "\n".join(lines)

    return write


def as_set(first: str, *, again: str = "", at: int = 1) -> Callable[[Piece, Style], str]:
    """WS rows in the colours of the row below: said once, or `again` for each."""

    def write(piece: Piece, style: Style) -> str:
        lines = []
        for number in range(len(piece.rows)):
            if number % 2 == 0:
                lines.append(line(style.title(number + 1, piece), style.row(piece.runs(number))))
            elif again:
                lines.append(line("", again.format(n=number + 1)))
            if number == at and first:
                lines.append(first)
        return "\n".join(lines)

    return write


def even(form: str) -> Callable[[Piece, Style], str]:
    """Rows like the one below go on even; the form may speak of several."""

    def write(piece: Piece, style: Style) -> str:
        lines = []
        number = 0
        while number < len(piece.rows):
            lines.append(line(style.title(number + 1, piece), style.row(piece.runs(number))))
            last = number
            while last + 1 < len(piece.rows) and piece.rows[last + 1] == piece.rows[number]:
                last += 1
            if last == number + 1:
                title = style.title(last + 1, piece)
                lines.append(line(title, "as colours set."))
            elif last > number:
                words = form.format(first=number + 2, last=last + 1, rows=last - number)
                lines.append(line("", words))
            number = last + 1
        return "\n".join(lines)

    return write


def again(form: str, *, tail: bool = False) -> Callable[[Piece, Style], str]:
    """Rows 1–4 are written, and said to be repeated; a `tail` of rows is written out."""

    def write(piece: Piece, style: Style) -> str:
        times = len(piece.rows) // 4
        if tail:
            times -= 1
        lines = []
        for number in range(4):
            lines.append(line(style.title(number + 1, piece), style.row(piece.runs(number))))
        words = {2: "once", 3: "twice"}.get(times, f"{times - 1} times")
        lines.append(
            form.format(
                more=times - 1,
                words=words,
                n=times,
                rows=4 * times,
                first=5,
                last=4 * times,
            )
        )
        for number in range(4 * times, len(piece.rows)):
            lines.append(line(style.title(number + 1, piece), style.row(piece.runs(number))))
        return "\n".join(lines)

    return write


def like_others(form: str) -> Callable[[Piece, Style], str]:
    """A row worked like an earlier one says so."""

    def write(piece: Piece, style: Style) -> str:
        lines = []
        for number in range(len(piece.rows)):
            body = style.row(piece.runs(number))
            for before in range(number):
                if piece.in_order(before) == piece.in_order(number):
                    body = form.format(n=before + 1, nth=ordinal(before + 1))
                    break
            lines.append(line(style.title(number + 1, piece), body))
        return "\n".join(lines)

    return write


# ---- the styles


def _plain_styles() -> Iterator[Style]:
    """Each title with usual runs, and each way of writing runs under a usual title."""
    for name, title in TITLES.items():
        how = FLAT
        if name.startswith(("Rnd", "Round", "Rd")):
            how = ROUNDS
        if name.startswith("Ridge"):
            how = Construction(fabric="garter")
        run_name = "K10 A" if name in ("Row 1", "1.") else "10 A"
        style = Style(f"{name or 'no title'} {run_name}", row_by_row, how=how, title=title)
        yield replace(style, run=RUNS[run_name], numbered=name not in ("", "Next row:"))
    for name, written in RUNS.items():
        yield Style(f"runs {name}", row_by_row, run=written)
    for name, gap in {
        "semicolon": "; ",
        "blank": " ",
        "slash": " / ",
        "bar": " | ",
        "dash": " - ",
        "plus": " + ",
        "then": ", then ",
        "and": " and ",
        "no blank": ",",
    }.items():
        yield Style(f"between runs: {name}", row_by_row, gap=gap)
    yield Style("10A3B", row_by_row, run=RUNS["10A"], gap="")
    yield Style("A10 B3", row_by_row, run=RUNS["A10"], gap=" ")
    yield Style("k10 A k3 B", row_by_row, run=RUNS["K10 A"], gap=" ")


def _styles_of_names() -> Iterator[Style]:
    title = TITLES["Row 1:"]
    for name, names in NAMES.items():
        yield Style(f"yarns {name}: 10 A", row_by_row, names=names)
        yield Style(f"yarns {name}: k10 in A", row_by_row, run=RUNS["k10 in A"], names=names)
    cc = NAMES["MC, CC1, CC2"]
    yield Style("CC1 × 10", row_by_row, run=RUNS["A × 10"], names=cc, title=title)
    yield Style("with CC1 k10", row_by_row, run=RUNS["with A k10"], names=cc, title=title)
    yield Style("moss 28", row_by_row, run=RUNS["A 10"], names=NAMES["words"], title=title)
    yield Style("28 moss", row_by_row, run=RUNS["10 A"], names=NAMES["words"], title=title)
    yield Style(
        "28 sts in dark moss", row_by_row, run=RUNS["10 sts in A"], names=NAMES["two words"]
    )
    yield Style("a key, a line a yarn", keyed)
    yield Style("a key in one line", key_in_a_line)


def _styles_of_texts() -> Iterator[Style]:
    yield Style("headings, cast on, bind off", headed, run=RUNS["K10 A"])
    yield Style("size at the top", sized)
    yield Style("wrapped lines", wrapped, run=RUNS["k10 in A"])
    yield Style(
        "wrapped lines, k10 with MC", wrapped, run=RUNS["k10 with A"], names=NAMES["MC, A, B"]
    )
    yield Style("last row first", from_the_top)
    yield Style("a blank line between", spaced)
    yield Style("total in brackets", with_total, end=" (33 sts)")
    yield Style("total after a dash", with_total, end=" – 33 sts.")
    yield Style("total in square brackets", with_total, end=". [33 stitches]")
    yield Style("total as a bare number", with_total, end=" (33)")
    yield Style("total as a sentence", with_total, end=". 33 sts.")
    yield Style("turn at the end", row_by_row, end=". Turn.")
    holes = lambda rng: patches(rng, holes=True)  # noqa: E731
    yield Style("no stitch", row_by_row, make=holes)
    yield Style("no stitch, with totals", with_total, make=holes, end=" (33 sts)")
    yield Style("WS first", row_by_row, how=Construction(first_row="WS"))
    yield Style("left-handed", row_by_row, how=Construction(hand="left"))
    yield Style(
        "turned rounds", row_by_row, how=Construction(worked="turned"), title=TITLES["Rnd 1:"]
    )
    leftwards = "All rows are read from right to left."
    yield Style("all right to left, said", all_one_way(leftwards, leftwards=True))
    rightwards = "Every row is written as seen from the RS, from the left edge to the right."
    yield Style("all left to right, said", all_one_way(rightwards, leftwards=False))
    yield Style("both ways, said", both_ways)


def _styles_of_repeats() -> Iterator[Style]:
    forms = {
        "(3 A, 2 B) × 4": "{first}, ({part}) × {n}, {last}",
        "(3 A, 2 B) x4": "{first}, ({part}) x{n}, {last}",
        "(3 A, 2 B) 4 times": "{first}, ({part}) {n} times, {last}",
        "[3 A, 2 B] 4 times": "{first}, [{part}] {n} times, {last}",
        "4 × (3 A, 2 B)": "{first}, {n} × ({part}), {last}",
        "4 times (3 A, 2 B)": "{first}, {n} times ({part}), {last}",
        "work [3 A, 2 B] 4 times": "{first}, work [{part}] {n} times, {last}",
        "rep from * 3 more times": "{first}, *{part}; rep from * {more} more times, {last}",
        "rep from * 3 times more": "{first}, *{part}; rep from * {more} times more, {last}",
        "rep from * 3 times (more)": "{first}, *{part}; rep from * {more} times, {last}",
        "rep from * 4 times (in all)": "{first}, *{part}; rep from * {n} times, {last}",
        "rep from * 4 times in all": "{first}, *{part}; rep from * {n} times in all, {last}",
        "rep from * to end": "{first}, *{part}; rep from * to end, {last}",
        "rep from * to last 5": "{first}, *{part}; rep from * to last {left} sts, {last}",
        "repeat from * to last 5": "{first}, *{part}, repeat from * to last {left}, {last}",
        "until 5 sts remain": "{first}, *{part}; rep from * until {left} sts remain, {last}",
        "* * 4 times": "{first}, *{part}* {n} times, {last}",
        "rep from * to * 3 more times": (
            "{first}, *{part}*; rep from * to * {more} more times, {last}"
        ),
        "( ) to last 5": "{first}, ({part}) to last {left} sts, {last}",
        "rep across, ending": "{first}, *{part}; rep from * across, ending {last}",
        "(3 A, 2 B)*4": "{first}, ({part})*{n}, {last}",
        "4*(3 A, 2 B)": "{first}, {n}*({part}), {last}",
        "( ), rep 3 more times": "{first}, ({part}), rep {more} more times, {last}",
    }
    for name, form in forms.items():
        yield Style(name, repeating(form), make=repeats)
    form = forms["rep from * 3 more times"]
    yield Style("k in *, 3 more times", repeating(form), make=repeats, run=RUNS["K10 A"])
    yield Style(
        "names in ( )", repeating(forms["(3 A, 2 B) 4 times"]), make=repeats, names=NAMES["words"]
    )


def _styles_of_ends() -> Iterator[Style]:
    k, mc = RUNS["K10 A"], NAMES["MC, A, B"]
    forms = {
        "A to end": ("{name} to end", "{name}"),
        "k to end in A": ("k to end in {name}", "k in {name}"),
        "k to end (in A)": ("k to end (in {name})", "knit all sts in {name}"),
        "knit to end of row with A": ("knit to end of row with {name}", "knit with {name}"),
        "with A k to end": ("with {name} k to end", "with {name}, knit"),
        "rem sts in A": ("rem sts in {name}", "all {name}"),
        "rest A": ("rest {name}", "all in {name}"),
        "k rem sts A": ("k rem sts {name}", "k across in {name}"),
        "in A to end": ("in {name} to end", "in {name}"),
        "k to end (MC is meant)": ("k to end", "knit in {name}"),
        "remaining sts A": ("remaining sts {name}", "work in st st with {name}"),
        "k to end of row in A": ("k to end of row in {name}", "stockinette in {name}"),
    }
    for name, (form, whole) in forms.items():
        write = to_the_end(form, all_of_it=whole, ground="{name}" not in form)
        yield Style(name, write, run=k, names=mc, title=TITLES["Row 1:"])
    lasts = {
        "A to last 5 sts": "{name} to last {left} sts",
        "k to last 5 sts in A": "k to last {left} sts in {name}",
        "knit to the last 5 in A": "knit to the last {left} sts in {name}",
        "with A k until 5 sts remain": "with {name} k until {left} sts remain",
    }
    for name, form in lasts.items():
        yield Style(name, to_the_last(form), run=k, names=mc)


def _styles_of_many_rows() -> Iterator[Style]:
    forms = {
        "Rows 3–6:": "Rows {first}–{last}: ",
        "Rows 3-6:": "Rows {first}-{last}: ",
        "Rows 3 to 6:": "Rows {first} to {last}: ",
        "Row 3–6:": "Row {first}–{last}: ",
        "Rows 1, 2 and 3:": "Rows {all} and {last}: ",
        "Rows 1, 2 & 3:": "Rows {all} & {last}: ",
        "Next 4 rows:": "Next {more} rows: ",
    }
    for name, form in forms.items():
        yield Style(name, ranges(form), make=mirrored, numbered="Next" not in name)
    set_forms = {
        "Row 2 and all WS rows: as colours set": (
            "Row 2 and all WS rows: as colours set.",
            "",
            1,
        ),
        "Row 2 and every alternate row: purl as set": (
            "Row 2 and every foll alt row: purl in colours as set.",
            "",
            1,
        ),
        "Row 2 (and all WS rows): p": (
            "Row 2 (and all even-numbered rows): p all sts in the colours as they appear.",
            "",
            1,
        ),
        "All WS rows: at the end": ("All WS rows: work in colours as set.", "", 11),
        "each WS row: as set": ("", "Row {n} (WS): purl, working colours as set.", 1),
        "each WS row: as they appear": (
            "",
            "Row {n}: work each stitch in the colour as it appears.",
            1,
        ),
        "each WS row: same colours": ("", "Row {n} (WS): purl in the same colours.", 1),
    }
    for name, (first, each, at) in set_forms.items():
        yield Style(name, as_set(first, again=each, at=at), make=pairs)
    evens = {
        "Rows 3–6: work even": "Rows {first}–{last}: work even.",
        "Rows 3–6: as colours set": "Rows {first}–{last}: as colours set.",
        "Work 3 rows even": "Work {rows} rows even.",
        "Next 3 rows: as set": "Next {rows} rows: as set.",
    }
    for name, form in evens.items():
        yield Style(name, even(form), make=mirrored, numbered="Rows" in name)


def _styles_of_rows_again() -> Iterator[Style]:
    forms = {
        "Rep rows 1–4 twice more": "Rep rows 1–4 {more} times more.",
        "Repeat rows 1-4 once/twice": "Repeat rows 1-4 {words} more.",
        "Rep rows 1 to 4 until 16 rows": "Rep rows 1 to 4 until {rows} rows have been worked.",
        "Rep the last 4 rows": "Rep the last 4 rows {words} more.",
        "Rows 5–16: rep rows 1–4": "Rows {first}–{last}: rep rows 1–4 {words} more.",
        "Rows 5–16: as rows 1–4": "Rows {first}–{last}: as rows 1–4.",
    }
    for name, form in forms.items():
        yield Style(name, again(form), make=blocks)
    yield Style(
        "Rep rows 1–4 n times (more), then on",
        again("Rep rows 1–4 {more} times.", tail=True),
        make=blocks,
    )
    yield Style(
        "Rep rows 1–4 n times (in all), then on",
        again("Rep rows 1–4 {n} times.", tail=True),
        make=blocks,
    )
    yield Style("as row 1", like_others("as row {n}."), make=mirrored)
    yield Style("rep row 1", like_others("rep row {n}"), make=mirrored)
    yield Style(
        "as 1st row", like_others("work as {nth} row."), make=mirrored, title=TITLES["1st row:"]
    )


FAMILIES = {
    "titles, runs and what is between": _plain_styles,
    "names of yarns": _styles_of_names,
    "whole texts": _styles_of_texts,
    "repeats in a row": _styles_of_repeats,
    "to the end of a row": _styles_of_ends,
    "several rows at once": _styles_of_many_rows,
    "rows again": _styles_of_rows_again,
}
STYLES = {
    style.name: replace(style, family=family)
    for family, styles in FAMILIES.items()
    for style in styles()
}


# ---- mistaken twins

MARKED = {mark: re.compile(f"{mark}([^\ue000-\ue004]*){END}") for mark in (COUNT, YARN)}


def twins(style: Style, seed: int) -> Iterator[tuple[str, str]]:
    """Texts with one slip each: what it is, and the text."""
    text = style.text(seed).text
    rng = random.Random(f"{style.name} {seed}")
    counts = list(MARKED[COUNT].finditer(text))
    yarns = list(MARKED[YARN].finditer(text))
    if counts:
        found = rng.choice(counts)
        number = int(found[1])
        wrong = number + 1 if number == 1 or rng.random() < 0.5 else number - 1
        yield "wrong count", _put(text, found, str(wrong))
    if yarns:
        yield "unknown yarn", _put(text, rng.choice(yarns), "Q" if len(yarns[0][1]) < 4 else "teal")
        yield "no yarn", _put(text, rng.choice(yarns), "")
    if counts:
        yield "no count", _put(text, rng.choice(counts), "")
    spans = list(_spans(text, RUN))
    if spans:
        start, end = rng.choice(spans)
        yield "a word of the craft", plain(text[:start] + rng.choice(CRAFT) + text[end:])
        start, end = rng.choice(spans)
        yield "craft beside", plain(f"{text[:end]} {rng.choice(CRAFT)} {text[end:]}")
    spans = list(_spans(text, LINE))
    if style.numbered and len(spans) > 2:
        # The last row cannot be missed.
        start, end = rng.choice(spans[1:-1])
        yield "a missing row", plain(text[:start] + text[end:])


def _put(text: str, found: re.Match[str], new: str) -> str:
    return plain(text[: found.start()] + new + text[found.end() :])


def _spans(text: str, mark: str) -> Iterator[tuple[int, int]]:
    """Where each marked stretch begins and ends, with those that it holds."""
    for found in re.finditer(mark, text):
        depth = 0
        for place in range(found.start(), len(text)):
            sign = text[place]
            depth += (sign in (COUNT, YARN, RUN, LINE)) - (sign == END)
            if depth == 0:
                yield found.start(), place + 1
                break
