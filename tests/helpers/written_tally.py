"""How the charts of a style of written rows are read, and its mistaken twins."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.charts import RowsChart, read_written_rows
from planner.errors import PlanError
from planner.piece import NO_STITCH
from tests.helpers.written_styles import Style, Text, plain, twins


@dataclass
class Tally:
    """Counts of one style; `wrong` and `silent` hold what was read otherwise, with its text."""

    name: str
    family: str
    charts: int = 0
    right: int = 0
    asked: int = 0
    twins: int = 0
    twins_refused: int = 0
    twins_asked: int = 0
    twins_same: int = 0
    wrong: list[str] = field(default_factory=list)
    silent: list[str] = field(default_factory=list)

    @property
    def is_read(self) -> bool:
        return self.right == self.charts


def tally_of(style: Style, seeds: Iterable[int]) -> Tally:
    tally = Tally(style.name, style.family)
    for seed in seeds:
        meant = style.text(seed)
        asked = _tally_chart(tally, style, meant)
        for what, text in twins(style, seed):
            _tally_twin(tally, style, meant, what, text, asked)
    return tally


def _tally_chart(tally: Tally, style: Style, meant: Text) -> set[str]:
    """Count a sound text; returns what is asked of it."""
    tally.charts += 1
    text = plain(meant.text)
    try:
        read = read_written_rows(text, style.how)
    except PlanError as error:
        tally.wrong.append(f"{error}\n{text}")
        return set()
    if is_meant(read, meant):
        tally.right += 1
    else:
        tally.wrong.append(f"read otherwise\n{text}")
    tally.asked += bool(read.asks)
    return {ask.setting for ask in read.asks}


def _tally_twin(
    tally: Tally, style: Style, meant: Text, what: str, text: str, asked: set[str]
) -> None:
    """Count a twin; what is asked of the sound text too is no sign of its slip."""
    tally.twins += 1
    try:
        read = read_written_rows(text, style.how)
    except PlanError:
        tally.twins_refused += 1
        return
    if is_meant(read, meant):
        tally.twins_same += 1
    elif {ask.setting for ask in read.asks} - asked:
        tally.twins_asked += 1
    else:
        tally.silent.append(f"silent, {what}\n{text}\n{read.notes}")


def is_meant(read: RowsChart, meant: Text) -> bool:
    """Whether a chart is the one that was written, yarn by yarn as they are called."""
    letter_of = {}
    for letter, name in read.yarns.items():
        letter_of[letter] = letter_of[name] = letter
    names = {letter: letter_of.get(name) for letter, name in meant.names.items()}
    names[NO_STITCH] = NO_STITCH
    rows = [[names[cell] for cell in row] for row in reversed(meant.piece.rows)]
    return read.chart.to_rows() == rows
