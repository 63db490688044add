"""A spreadsheet read as a chart: where it stands, and what its letters and fills mean.

What was chosen is said in notes. What the sheet does not tell is taken one way, said, and put as a
question.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from openpyxl.utils import get_column_letter

from planner.charts.lettering import MOST_YARNS, Keys, letters_for, listed, refuse_crowd
from planner.charts.pages import Grid, Line, Page, cell_name, read_pages
from planner.charts.rulers import Rulers
from planner.charts.whereabouts import Found, blanks_are, find_chart
from planner.colour import apart
from planner.errors import PlanError
from planner.piece import NO_STITCH, Chart
from planner.units import counted

MOST_ROWS = 2000
MOST_STITCHES = 1000
MOST_CELLS_LISTED = 6
SAME = 3  # CIEDE2000: fills nearer than this are one yarn
# A chart with this part of another one's cells is a rival to it; less is a swatch or notes.
RIVAL = 1 / 4
WHICH_SHEET = "More than one sheet may hold a chart. Which one?"
WHICH_WAY = "Letters and fills do not go together. Which of them are the yarns?"
WHICH_BLANKS = "Are blank cells stitches of the ground, or no stitches?"
WHICH_ROW_1 = "No numbers say where row 1 is. Is it at the bottom or at the top?"
CHOICES = {
    "by": ("letters", "fills"),
    "row_1": ("bottom", "top"),
    "blanks": ("ground", "no stitch"),
    "hidden": ("left out", "kept"),
}


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
class SheetChart:
    """The chart found on a sheet.

    `colours` (#rrggbb) of the letters whose colour the sheet shows; `area` its cells ("C4:AF33");
    `sheets` all sheets of the file; `notes` what was chosen, in words; `asks` what is in doubt.
    """

    chart: Chart
    colours: Mapping[str, str]
    notes: tuple[str, ...]
    asks: tuple[Question, ...]
    sheet: str
    area: str
    sheets: tuple[str, ...]


@dataclass(frozen=True)
class Answers:
    """What the knitter says of a sheet, by the settings of CHOICES; what is None is found out."""

    by: str | None = None
    row_1: str | None = None
    blanks: str | None = None
    hidden: str | None = None

    def __post_init__(self) -> None:
        for setting, choices in CHOICES.items():
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
        if choices is None:
            choices = CHOICES[setting]
        question = Question(setting, words, tuple(choices), taken)
        self.asks.append(question)


def read_sheet(
    data: bytes,
    name: str,
    *,
    sheet: str | None = None,
    area: str | None = None,
    yarns: Mapping[str, str] | None = None,
    **answers: str | None,
) -> SheetChart:
    """The chart in a workbook or a text file called `name`.

    What is None is found out: the `sheet`, its `area` ("C4:AF33") and the `answers`: whether
    stitches go `by` "letters" or "fills", where `row_1` is ("bottom", "top"), whether `blanks` are
    "ground" or "no stitch", whether `hidden` rows and columns are "left out" or "kept". `yarns`,
    colours by letter, give their letters to fills that look like them.

    Raises PlanError where there is no chart to be had.
    """
    settled = Answers(**answers)
    pages, notes = read_pages(data, name)
    remarks = Remarks(name, notes)

    # Where the chart stands.
    page, found = _choose(pages, sheet, area, settled, remarks)
    part = page.cut(*found.place)
    _check_size(part, name)
    _check_troubles(part, name)

    # What its cells mean.
    keys = _keys(part, settled.by, remarks)
    keys = _settle_blanks(keys, part, settled.blanks, remarks)
    letters, colours, notes = letters_for(keys, part.fill, yarns or {}, name)
    remarks.notes += notes

    # Which end is up.
    at_top, because = _row_1(found.rulers, settled.row_1, remarks)
    return SheetChart(
        chart=_chart(keys, letters, part, at_top=at_top, name=name),
        colours=colours,
        notes=(
            _about_place(part, keys),
            *_about_rulers(page, found.rulers),
            *_about_hidden(part, settled),
            *_about_merged_and_others(part, found),
            *remarks.notes,
            _about_row_1(at_top, because),
        ),
        asks=tuple(remarks.asks),
        sheet=page.title,
        area=":".join(_corners(part)),
        sheets=tuple(each.title for each in pages),
    )


# Which page, and which part of it


def _choose(
    pages: list[Page],
    sheet: str | None,
    area: str | None,
    settled: Answers,
    remarks: Remarks,
) -> tuple[Page, Found]:
    """The first page with a chart that is no swatch, or the one asked for; and where it is."""
    name = remarks.name
    charts = []
    for page in _wanted(pages, sheet, name):
        if settled.hidden != "kept":
            page = page.without_hidden()
        found = find_chart(page, area)
        if found:
            charts.append((page, found))
    if not charts:
        where = f"sheet '{sheet}' of {name}" if sheet else name
        cells = f", cells {area}" if area else ""
        raise PlanError(
            f"There is no chart in {where}{cells}. A chart has a letter or a fill in each cell."
        )

    most = max(found.cells for _, found in charts)
    rivals = []
    titles = []
    for page, found in charts:
        if found.cells >= RIVAL * most:
            rivals.append((page, found))
            titles.append(page.title)
    if len(rivals) > 1:
        remarks.ask("sheet", WHICH_SHEET, titles[0], choices=titles)
    return rivals[0]


def _wanted(
    pages: list[Page],
    sheet: str | None,
    name: str,
) -> list[Page]:
    """The sheet asked for, or else those in sight."""
    if sheet is None:
        # Of a workbook with all its sheets hidden, hidden ones are better than none.
        shown = [page for page in pages if page.shown]
        return shown or pages
    titled = [page for page in pages if page.title == sheet]
    if not titled:
        titles = ", ".join(page.title for page in pages)
        raise PlanError(f"{name} has no sheet '{sheet}'. Its sheets are: {titles}.")
    return titled


def _corners(part: Page) -> tuple[str, str]:
    """The names of the first and the last cell of a part of a page."""
    height, width = part.text.shape
    first = part.cell(0, 0)
    last = part.cell(height - 1, width - 1)
    return first, last


def _size(part: Page) -> str:
    height, width = part.text.shape
    stitches = counted(width, "stitch")
    rows = counted(height, "row")
    return f"{stitches} × {rows}"


def _check_size(part: Page, name: str) -> None:
    height, width = part.text.shape
    if height <= MOST_ROWS and width <= MOST_STITCHES:
        return
    size = _size(part)
    first, last = _corners(part)
    raise PlanError(
        f"{name} holds {size} in cells {first} to {last}; "
        f"a chart here has at most {MOST_STITCHES:,} × {MOST_ROWS:,}. Name a smaller area."
    )


def _check_troubles(part: Page, name: str) -> None:
    """Refuse a chart with a cell that cannot be read."""
    for (row, column), trouble in part.troubles.items():
        if row in part.rows and column in part.columns:
            cell = cell_name(row, column)
            raise PlanError(f"{name}: cell {cell} {trouble}.")


# What tells the yarns apart


def _keys(part: Page, by: str | None, remarks: Remarks) -> Keys:
    """What tells the yarns apart, cell by cell, by letters, by fills, or by both together."""
    text, fill = part.text, part.fill
    is_stop = text == NO_STITCH
    filled = fill != ""
    lettered = (text != "") & ~is_stop
    _check_way(by, lettered, filled, remarks.name)

    labels = _together(text, fill, lettered)
    is_full = _is_full(lettered, filled & ~is_stop)
    go_together = labels is not None and lettered.any()
    wants_fills = by is None and not go_together
    if by == "fills" or wants_fills:
        # A shade hardly off, by hand or by a copy, is no yarn of its own.
        fill = _without_near_shades(fill, remarks)
        labels = _together(text, fill, lettered)
        if by is None and labels is None:
            # Numbers that do not go with fills count stitches.
            are_counts = filled.any() and _are_numbers(text[lettered])
            by = "letters" if is_full and not are_counts else "fills"
            remarks.ask("by", WHICH_WAY, by)
            remarks.note(f"Letters and fills do not go together; the {by} were taken.")

    if by == "letters":
        # A cell without a letter is still told from others by its fill.
        grid = np.where(text == "", fill, text)
        signs = {sign: sign for sign in text[lettered]}
        return Keys(grid.astype(object), signs, by)
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
    return Keys(grid.astype(object), labels or {}, by)


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
    pairs = zip(text[lettered], fill[lettered], strict=True)
    pairs = set(pairs)
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
    return _looked_up(shades, fill)


def _looked_up(table: Mapping[str, str], grid: Grid) -> Grid:
    """The grid with each text replaced by what the table has for it."""
    look_up = np.vectorize(table.get, otypes=[object])
    return look_up(grid)


def _shades(fill: Grid, name: str) -> dict[str, str]:
    """Each fill and the commoner one it hardly differs from, or itself."""
    counts = Counter(fill.ravel().tolist())
    shades = dict.fromkeys(counts, "")
    distinct: list[str] = []
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
            number = len(counts) - ("" in counts)
            refuse_crowd(number, "fills", name)
    return shades


def _settle_blanks(
    keys: Keys,
    part: Page,
    given: str | None,
    remarks: Remarks,
) -> Keys:
    """The keys with blank cells as they were asked for, or else as they are likely to be meant."""
    blank = keys.grid == ""
    if not blank.any():
        return keys
    taken = given or blanks_are(keys.grid, part.ruled, way=keys.way)
    what = "stitches of the ground" if taken == "ground" else "no stitches"
    number = counted(int(blank.sum()), "blank cell")
    row, column = np.argwhere(blank)[0]
    first = part.cell(row, column)
    remarks.note(f"Taken as {what}: {number}, the first {first}.")
    if given is None:
        remarks.ask("blanks", WHICH_BLANKS, taken)
    if taken == "ground":
        return keys
    grid = np.where(blank, NO_STITCH, keys.grid)
    return replace(keys, grid=grid)


# Which end is up


def _row_1(
    rulers: Rulers,
    given: str | None,
    remarks: Remarks,
) -> tuple[bool, str]:
    """Whether row 1 is at the top of the sheet, and who says so."""
    if given:
        return given == "top", "you say"
    if rulers.sides:
        return rulers.sides[0].grows, "the numbers say"
    remarks.ask("row_1", WHICH_ROW_1, "bottom")
    return False, "is usual"


def _chart(
    keys: Keys,
    letters: Mapping[str, str],
    part: Page,
    *,
    at_top: bool,
    name: str,
) -> Chart:
    """The chart of a part of a page; `at_top` says whether its row 1 is at the top."""
    cells = _looked_up(letters, keys.grid)
    lines = part.rows + 1
    # A chart is given top row first, as a sheet with row 1 at its bottom has it.
    if at_top:
        cells = np.flipud(cells)
        lines = np.flip(lines)
    rows = cells.tolist()
    return Chart.from_rows(rows, source=name, lines=lines.tolist())


# What is said of it


def _about_place(part: Page, keys: Keys) -> str:
    sheet = f"sheet '{part.title}', " if part.title else ""
    first, last = _corners(part)
    size = _size(part)
    return f"Taken from {sheet}cells {first} to {last} ({size}), by their {keys.way}."


def _about_row_1(at_top: bool, because: str) -> str:
    if not at_top:
        return f"Row 1 is at the bottom, as {because}."
    turned = "the rows were turned over, each reads as it stands"
    return f"Row 1 is at the top, as {because}; {turned}."


def _about_rulers(page: Page, rulers: Rulers) -> list[str]:
    """The rows and columns that were left out because they count."""
    # There may be one at each side, and several in one line, each over a stretch of it.
    at_sides = {ruler.line for ruler in rulers.sides}
    at_ends = {ruler.line for ruler in rulers.ends}
    lines = []
    for line in sorted(at_sides):
        number = int(page.columns[line]) + 1
        lines.append(f"column {get_column_letter(number)}")
    for line in sorted(at_ends):
        number = int(page.rows[line]) + 1
        lines.append(f"row {number}")
    if not lines:
        return []
    what = "hold numbers and were" if len(lines) > 1 else "holds numbers and was"
    text = f"{' and '.join(lines)} {what} left out."
    return [text[0].upper() + text[1:]]


def _about_hidden(part: Page, settled: Answers) -> list[str]:
    """What became of hidden rows and columns between the first and the last of the chart."""
    hidden_rows, hidden_columns = part.hidden
    rows = _number_within(hidden_rows, part.rows)
    columns = _number_within(hidden_columns, part.columns)
    what = []
    if rows:
        what.append(counted(rows, "hidden row"))
    if columns:
        what.append(counted(columns, "hidden column"))
    if not what:
        return []
    verb = "was" if rows + columns == 1 else "were"
    became = settled.hidden or "left out"
    return [f"{' and '.join(what)} {verb} {became}."]


def _number_within(hidden: Line, shown: Line) -> int:
    """How many of the hidden lines lie between the first and the last shown."""
    is_after = hidden >= shown[0]
    is_before = hidden <= shown[-1]
    return int((is_after & is_before).sum())


def _about_merged_and_others(part: Page, found: Found) -> list[str]:
    notes = []
    if not part.first.all():
        notes.append("Merged cells count as the stitches they span.")
    if found.elsewhere:
        cells = listed(found.elsewhere, most=MOST_CELLS_LISTED)
        notes.append(f"Other cells hold titles, a key or notes and were left out: {cells}.")
    return notes
