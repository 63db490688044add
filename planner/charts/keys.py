"""What tells the yarns of a chart apart on a sheet: letters, fills, or both together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NoReturn

import numpy as np

from planner.charts.pages import Grid, Line, Page
from planner.charts.questions import Remarks, listed
from planner.charts.whereabouts import blanks_are
from planner.colour import apart
from planner.errors import PlanError
from planner.guards import MOST_FILLS, MOST_YARNS
from planner.piece import NO_STITCH
from planner.units import counted

FEWEST_COUNTS = 2  # numbers that differ
MOST_SLIPS = 2  # times that a slip of the hand is made
TIMES_A_SLIP = 5
SAME = 3  # CIEDE2000: fills nearer than this are one yarn
WHICH_WAY = "Letters and fills do not go together. Which of them are the yarns?"
WHICH_BLANKS = "Are blank cells stitches of the ground, or no stitches?"


@dataclass(frozen=True, eq=False)
class Keys:
    """What tells the yarns of a chart apart.

    `grid` has a text or a fill in each cell, "" for a blank and "." for no stitch; `labels` the
    text that goes with each key; `way` says in words which of them they are; `odd` are the cells of
    which letter and fill say different things, and signs that look like slips of the hand.
    """

    grid: Grid
    labels: Mapping[str, str]
    way: str
    odd: Grid

    def label(self, key: str) -> str:
        """The text that goes with a key, "" for none."""
        return self.labels.get(key, "")


def find_keys(part: Page, by: str | None, remarks: Remarks) -> Keys:
    """What tells the yarns apart, cell by cell, by letters, by fills, or by both together."""
    text, fill = part.text, part.fill
    is_stop = text == NO_STITCH
    filled = fill != ""
    if by is None and _are_counts(text, fill):
        remarks.note("The numbers in its cells count stitches; the fills were taken.")
        text = np.full_like(text, "")
        is_stop = text == NO_STITCH
    lettered = (text != "") & ~is_stop
    odd = np.zeros(text.shape, bool)
    _check_way(by, lettered, filled, remarks.name)

    # Many charts say it twice: each fill has a letter of its own.
    labels = _together(text, fill, lettered)
    is_full = _is_full(lettered, filled & ~is_stop)
    go_together = labels is not None and lettered.any()
    wants_fills = by is None and not go_together
    if by == "fills" or wants_fills:
        # A shade hardly off, by hand or by a copy, is no yarn of its own.
        fill = _without_near_shades(fill, remarks)
        labels = _together(text, fill, lettered)
        if by is None and labels is None and is_full and _are_guides(fill):
            by = "letters"
            remarks.note("Fills that shade whole rows or columns were taken as no yarns.")
        elif by is None and labels is None:
            # Numbers that do not go with fills count stitches.
            are_counts = filled.any() and _are_numbers(text[lettered])
            by = "letters" if is_full and not are_counts else "fills"
            remarks.ask("by", WHICH_WAY, by)
            odd = _at_odds(text, fill, by) & lettered & filled
            remarks.note(f"Letters and fills do not go together; the {by} were taken.")

    if by == "letters":
        # A cell without a letter is still told from others by its fill.
        grid = np.where(text == "", fill, text)
        signs = {sign: sign for sign in text[lettered]}
        odd = odd | _slips(text, remarks)
        return Keys(grid.astype(object), signs, by, odd)
    # By fills, and where a cell has none by its letter, if each letter has one meaning.
    grid = fill
    if labels is not None:
        grid = np.where(filled, fill, text)
    grid = np.where(is_stop, NO_STITCH, grid)
    if by is None:
        ways = []
        if is_full:
            ways.append("letters")
        if filled.any():
            ways.append("fills")
        by = " and ".join(ways)
    if labels and not filled.any():
        odd = odd | _slips(text, remarks)
    return Keys(grid.astype(object), labels or {}, by, odd)


def _are_counts(text: Grid, fill: Grid) -> bool:
    """Whether numbers in filled cells are how long each run of a fill is, or count its stitches."""
    lettered = text != ""
    if not lettered.any() or (fill[lettered] == "").any():
        return False
    if not _are_numbers(text[lettered]) or len(set(text[lettered].tolist())) < FEWEST_COUNTS:
        return False
    numbers = np.where(lettered, text, "0").astype(int)
    width = text.shape[1]
    from_left = np.arange(1, width + 1)
    for count in (_lengths_of_runs(fill), from_left, from_left[::-1]):
        if (numbers == count)[lettered].all():
            return True
    return False


def _are_guides(fill: Grid) -> bool:
    """Whether fills shade whole rows or whole columns, to count by."""
    across = (fill == fill[:, :1]).all()
    down = (fill == fill[:1]).all()
    return bool(across or down)


def _lengths_of_runs(fill: Grid) -> Grid:
    """How long the run of one fill is, that each cell is in."""
    lengths = np.zeros(fill.shape, int)
    for row, cells in enumerate(fill):
        changes = np.flatnonzero(cells[1:] != cells[:-1]) + 1
        ends = np.concatenate([[0], changes, [len(cells)]])
        lengths[row] = np.repeat(np.diff(ends), np.diff(ends))
    return lengths


def _at_odds(text: Grid, fill: Grid, by: str) -> Grid:
    """The cells whose letter has another fill than it mostly has; or whose fill another letter."""
    taken, beside = (text, fill) if by == "letters" else (fill, text)
    pairs = Counter(zip(taken.ravel().tolist(), beside.ravel().tolist(), strict=True))
    usual: dict[str, str] = {}
    for (key, partner), _ in pairs.most_common():
        usual.setdefault(key, partner)
    return looked_up(usual, taken) != beside


def _slips(text: Grid, remarks: Remarks) -> Grid:
    """The cells with a sign that hardly occurs, where the same letter large or small is common."""
    counts = Counter(text.ravel().tolist())
    by_letter: dict[str, list[str]] = {}
    for sign in counts:
        by_letter.setdefault(sign.lower(), []).append(sign)
    slips = []
    for signs in by_letter.values():
        most = max(counts[sign] for sign in signs)
        rare = [sign for sign in signs if counts[sign] <= MOST_SLIPS < most / TIMES_A_SLIP]
        slips += rare
    if slips:
        remarks.note(f"Large or small by a slip of the hand? {listed(sorted(slips))}.")
    return np.isin(text, slips)


def _check_way(
    by: str | None,
    lettered: Grid,
    filled: Grid,
    name: str,
) -> None:
    """Refuse to read by letters or by fills where there are none."""
    if by == "letters" and not lettered.any():
        raise PlanError(f"The chart in {name} has no letters. Read it by its fills.")
    if by == "fills" and not filled.any():
        raise PlanError(f"The chart in {name} has no fills. Read it by its letters.")


def _is_full(lettered: Grid, filled: Grid) -> bool:
    """Whether at least half of the cells that hold something have a letter."""
    held = lettered | filled
    twice = 2 * lettered.sum()
    return bool(twice >= held.sum())


def _are_numbers(signs: Line) -> bool:
    """Whether all signs are numbers."""
    return all(sign.isdigit() for sign in signs)


def _together(
    text: Grid,
    fill: Grid,
    lettered: Grid,
) -> dict[str, str] | None:
    """The text that goes with each fill, or stands without one; None if they do not go together.

    They do if each text has one fill and each fill one text.
    """
    cells = zip(text[lettered], fill[lettered], strict=True)
    pairs = set(cells)
    signs = set()
    labels = {}
    for sign, shade in pairs:
        signs.add(sign)
        labels[shade or sign] = sign
    if not len(signs) == len(labels) == len(pairs):
        return None
    # Among fills, signs on some of the unfilled cells mean something else than a yarn.
    unfilled = fill == ""
    signed = unfilled & lettered
    bare = unfilled & (text == "")
    some_are_signed = signed.any() and bare.any()
    if some_are_signed and not unfilled.all():
        return None
    return labels


def _without_near_shades(fill: Grid, remarks: Remarks) -> Grid:
    """The fills, each that hardly differs from a commoner one taken as that."""
    shades = _shades(fill, remarks.name)
    alike = []
    for shade, known in shades.items():
        if shade != known:
            alike.append(f"{shade} ({known})")
    if alike:
        remarks.note(
            f"Fills that hardly differ from another were taken as that one: {listed(alike)}."
        )
    return looked_up(shades, fill)


def _shades(fill: Grid, name: str) -> dict[str, str]:
    """Each fill and the commoner one it hardly differs from, or itself."""
    counts = Counter(fill.ravel().tolist())
    # Near ones are as slow to tell apart as others.
    number = len(counts) - ("" in counts)
    if number > MOST_FILLS:
        refuse_crowd(number, "fills", name)
    shades = dict.fromkeys(counts, "")
    distinct: list[str] = []
    # Commonest first, so that a slip of the hand joins what was meant, and not the other way.
    for shade, _ in counts.most_common():
        if not shade:
            continue
        near = [(apart(shade, known), known) for known in distinct]
        distance, nearest = min(near, default=(SAME, ""))
        if distance < SAME:
            shades[shade] = nearest
            continue
        shades[shade] = shade
        distinct.append(shade)
        if len(distinct) > MOST_YARNS:
            refuse_crowd(number, "fills", name)
    return shades


def settle_blanks(
    keys: Keys,
    part: Page,
    given: str | None,
    remarks: Remarks,
) -> Keys:
    """The keys with blank cells as they were asked for, or else as they are likely to be meant."""
    blank = keys.grid == ""
    if not blank.any():
        return keys
    # The knitter's word goes before what the sheet suggests.
    taken = given or blanks_are(keys.grid, part.ruled, way=keys.way)
    what = "stitches of the ground" if taken == "ground" else "no stitches"
    number = counted(int(blank.sum()), "blank cell")
    # One example is enough to look at.
    row, column = np.argwhere(blank)[0]
    first = part.cell(row, column)
    remarks.note(f"Taken as {what}: {number}, the first {first}.")
    if given is None:
        remarks.ask("blanks", WHICH_BLANKS, taken)
    if taken == "ground":
        return keys
    grid = np.where(blank, NO_STITCH, keys.grid)
    return replace(keys, grid=grid)


def looked_up(table: Mapping[str, str], grid: Grid) -> Grid:
    """The grid with each text replaced by what the table has for it."""
    # Given its type, it works on a grid without cells, too.
    look_up = np.vectorize(table.get, otypes=[object])
    return look_up(grid)


def refuse_crowd(number: int, what: str, name: str) -> NoReturn:
    """Refuse a chart of more yarns than anybody knits."""
    raise PlanError(
        f"{name} has {number:,} different {what}, more yarns than anybody knits (here at most "
        f"{MOST_YARNS}). If it is a picture in cells, load it as a picture, which "
        "brings the colours down to your yarns; if the chart is only a part, name its area."
    )
