"""A spreadsheet read as a chart: where it stands, and what its letters and fills mean.

What was chosen is said in notes. What the sheet does not tell is taken one way, said, and put as a
question.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from openpyxl.utils import get_column_letter

from planner.charts.coloured import with_coloured_signs, with_inks
from planner.charts.keys import Keys, find_keys, looked_up, settle_blanks
from planner.charts.legends import read_legend
from planner.charts.lettering import letters_for
from planner.charts.naming import names_of
from planner.charts.outlines import left_out, settle_left_out
from planner.charts.pages import Line, Page, cell_name, read_pages
from planner.charts.pasted import pasted_pages
from planner.charts.plausible import check_is_chart
from planner.charts.questions import Answers, Question, Remarks, listed
from planner.charts.rulers import Rulers
from planner.charts.whereabouts import Found, Place, find_chart
from planner.errors import PlanError
from planner.guards import MOST_IN_ALL, MOST_ROWS, MOST_STITCHES
from planner.piece import NO_STITCH, Chart
from planner.units import counted

MOST_CELLS_LISTED = 6
# A chart with this part of another one's cells is a rival to it; less is a swatch or notes.
RIVAL = 1 / 4
PASTED = "The pasted cells"
WHICH_CHART = "There may be more than one chart on the sheet. Which one?"
WHICH_EDGES = "Are the blank cells around and in it stitches of the ground, or no stitches?"
WHICH_RIDGES = "Rows are numbered by twos. Is each line two rows, as of a garter ridge, or one?"
WHAT_OF_HIDDEN = "Hidden rows or columns hold stitches. Are they left out or kept?"
WHICH_SHEET = "More than one sheet may hold a chart. Which one?"
WHICH_ROW_1 = "No numbers say where row 1 is. Is it at the bottom or at the top?"


@dataclass(frozen=True)
class SheetChart:
    """The chart found on a sheet.

    `colours` (#rrggbb) of the letters whose colour the sheet shows; `area` its cells ("C4:AF33");
    `sheets` all sheets of the file, `others` the cells of what may be other charts on this one;
    `notes` what was chosen, in words; `asks` what is in doubt; `doubtful` (rows × stitches, row 1
    first) the cells that may be wrong.
    """

    chart: Chart
    colours: Mapping[str, str]
    notes: tuple[str, ...]
    asks: tuple[Question, ...]
    sheet: str
    area: str
    sheets: tuple[str, ...]
    others: tuple[str, ...]
    doubtful: np.ndarray
    # The names of the letters, as far as the sheets tell them, and the letters it does not have.
    names: Mapping[str, str]
    given: frozenset[str]


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
    return _read(pages, Remarks(name, notes), settled, sheet, area, yarns or {})


def read_pasted(
    text: str,
    *,
    sheet: str | None = None,
    area: str | None = None,
    yarns: Mapping[str, str] | None = None,
    **answers: str | None,
) -> SheetChart:
    """The chart in cells that were copied in a spreadsheet and pasted.

    `text` has tabs between its cells, or a web page's table with their colours (text/html). All
    else is as in `read_sheet`; A1 is the first of the cells.
    """
    settled = Answers(**answers)
    pages = pasted_pages(text, PASTED)
    return _read(pages, Remarks(PASTED, []), settled, sheet, area, yarns or {})


def _read(
    pages: list[Page],
    remarks: Remarks,
    settled: Answers,
    sheet: str | None,
    area: str | None,
    yarns: Mapping[str, str],
) -> SheetChart:
    name = remarks.name
    # Where the chart stands.
    own = None if area else _said_by_itself(pages, sheet)
    is_told = area is not None or own is not None
    given = settled.row_1
    if own is not None:
        area, sheet = own.own, own.title
        settled = _as_we_write(settled)
    page, found = _choose(pages, sheet, area, settled, remarks)
    part = page.cut(*found.place)
    _check_part(page, part, found, remarks, is_told=is_told)

    # What its cells mean.
    part, settled = _widened(page, part, found, settled, remarks)
    if own is None:
        part, settled = _without_no_stitches(page, part, settled, remarks)
    keys = find_keys(part, settled.by, remarks)
    keys = settle_blanks(keys, part, settled.blanks, remarks)
    _check_painted(part if is_told else page, part, keys, remarks)
    letters, colours, notes = letters_for(keys, part.fill, yarns, name)
    remarks.notes += notes

    # Which end is up, and how many rows each line is.
    at_top, because = _row_1(found, settled.row_1, remarks)
    if own is not None and given is None:
        because = "the workbook says"
    times = _rows_each(found.rulers, settled.ridges, remarks)
    _ask_hidden(page, part, settled, pages, remarks)
    doubtful = keys.odd if at_top else np.flipud(keys.odd)
    return SheetChart(
        chart=_chart(keys, letters, part, at_top=at_top, times=times, name=name),
        colours=colours,
        notes=(
            _about_place(part, keys),
            *_about_surroundings(page, part, found, settled),
            *remarks.notes,
            _about_row_1(at_top, because),
            *_about_doubtful(keys, part),
        ),
        asks=tuple(remarks.asks),
        sheet=page.title,
        area=":".join(_corners(part)),
        sheets=tuple(each.title for each in pages),
        others=tuple(_named(page, place) for place in found.others),
        doubtful=np.repeat(doubtful, times, axis=0),
        names=names_of(keys, letters, pages, page, part),
        given=frozenset(
            letter for key, letter in letters.items() if letter not in (NO_STITCH, keys.label(key))
        ),
    )


def _check_part(
    page: Page,
    part: Page,
    found: Found,
    remarks: Remarks,
    *,
    is_told: bool,
) -> None:
    """Refuse what cannot be read or is no chart, and ask which of several is meant."""
    _check_size(part, remarks.name)
    _check_troubles(part, remarks.name)
    if not is_told:
        check_is_chart(page, part, found, remarks.name)
        _ask_which(page, found, remarks)


def _about_surroundings(page: Page, part: Page, found: Found, settled: Answers) -> list[str]:
    """What became of the cells beside and between those of the chart."""
    return [
        *_about_rulers(page, found),
        *_about_hidden(part, settled),
        *_about_merged_and_others(page, part, found),
    ]


def _named(page: Page, place: Place) -> str:
    """The name of an area of a page: "C4:AF33"."""
    return ":".join(_corners(page.cut(*place)))


def _ask_which(page: Page, found: Found, remarks: Remarks) -> None:
    """Ask which chart is meant, if there are others on the sheet."""
    if found.others:
        places = [found.place, *found.others]
        areas = [_named(page, place) for place in places]
        remarks.ask("area", WHICH_CHART, areas[0], choices=areas)


def _widened(
    page: Page,
    part: Page,
    found: Found,
    settled: Answers,
    remarks: Remarks,
) -> tuple[Page, Answers]:
    """The chart with the blank cells around it that were marked with it, if they are its ground."""
    if found.whole is None:
        return part, settled
    # Whoever marks more than a chart without a gap is likely to have marked too much.
    is_full = ((part.text != "") | (part.fill != "")).all()
    taken = settled.blanks or ("no stitch" if is_full else "ground")
    if settled.blanks is None:
        remarks.ask("blanks", WHICH_EDGES, taken)
    if taken == "ground":
        part = page.cut(*found.whole)
    else:
        remarks.note("The blank cells around the chart were left out.")
    return part, replace(settled, blanks=taken)


def _without_no_stitches(
    page: Page,
    part: Page,
    settled: Answers,
    remarks: Remarks,
) -> tuple[Page, Answers]:
    """The chart with what its key and its outline say are no stitches, and what that settles."""
    part = with_inks(part, remarks)
    legend = read_legend(page, part, remarks)
    part = left_out(part, legend.out)
    if legend.blanks:
        return part, replace(settled, blanks=settled.blanks or legend.blanks)
    return settle_left_out(part, settled, remarks, yarns=legend.yarns)


def _check_painted(where: Page, part: Page, keys: Keys, remarks: Remarks) -> None:
    """Refuse blank cells that a formula paints, of which nobody knows here how they look."""
    bare = where.painted & (where.text == "") & (where.fill == "")
    if bare.any():
        row, column = np.argwhere(bare)[0]
        raise PlanError(
            f"{remarks.name}: {counted(int(bare.sum()), 'blank cell')}, the first "
            f"{where.cell(row, column)}, may be painted by a formula (conditional formatting), "
            "which is not read here. Fill the cells, or write letters into them."
        )
    if part.has_rules:
        remarks.note(
            f"Rules paint cells of this sheet (conditional formatting). They were not looked at; "
            f"the {keys.way} of the cells count."
        )


# Which page, and which part of it


def _said_by_itself(pages: list[Page], sheet: str | None) -> Page | None:
    """The page whose workbook says where its chart is, as those that are written here do."""
    for page in pages:
        if page.own and sheet in (None, page.title):
            return page
    return None


def _as_we_write(settled: Answers) -> Answers:
    """What nobody has settled otherwise, as it is in a chart that was written here."""
    return replace(
        settled,
        by=settled.by or "letters",
        row_1=settled.row_1 or "bottom",
    )


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
        # What is out of sight is seldom meant to be knitted.
        if settled.hidden != "kept":
            page = page.without_hidden()
        page = with_coloured_signs(page)
        found = find_chart(page, area)
        if found:
            charts.append((page, found))
    if not charts:
        where = f"sheet '{sheet}' of {name}" if sheet else name
        cells = f", cells {area}" if area else ""
        raise PlanError(
            f"There is no chart in {where}{cells}. A chart has a letter or a fill in each cell."
            + "".join(f" {note}" for note in remarks.notes)
        )

    # Of rivals the one on the first sheet is taken, and the knitter asked.
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
    if height <= MOST_ROWS and width <= MOST_STITCHES and height * width <= MOST_IN_ALL:
        return
    size = _size(part)
    first, last = _corners(part)
    raise PlanError(
        f"{name} holds {size} in cells {first} to {last}; "
        f"a chart here has at most {MOST_STITCHES:,} × {MOST_ROWS:,}, and {MOST_IN_ALL:,} in all. "
        "Name a smaller area."
    )


def _check_troubles(part: Page, name: str) -> None:
    """Refuse a chart with a cell that cannot be read."""
    # Elsewhere on the page it does no harm: sums of yarn and costs often stand beside a chart.
    for (row, column), trouble in part.troubles.items():
        if row in part.rows and column in part.columns:
            cell = cell_name(row, column)
            raise PlanError(f"{name}: cell {cell} {trouble}.")


# Which end is up


def _row_1(
    found: Found,
    given: str | None,
    remarks: Remarks,
) -> tuple[bool, str]:
    """Whether row 1 is at the top of the sheet, and who says so."""
    if given:
        return given == "top", "you say"
    # Rulers of a chart count the same way, so one of them speaks for all.
    rulers = found.rulers
    # A spreadsheet's own numbers come with its letters, and count down whatever stands there.
    are_own = found.is_headed and bool(rulers.sides) and rulers.sides[0].grows
    if rulers.sides and not are_own:
        return rulers.sides[0].grows, "the numbers say"
    remarks.ask("row_1", WHICH_ROW_1, "bottom")
    return False, "is usual"


def _rows_each(rulers: Rulers, given: str | None, remarks: Remarks) -> int:
    """How many rows of knitting each line of the chart is: two, where its numbers go by twos."""
    by_twos = [ruler for ruler in rulers.sides if ruler.each == 2 and ruler.every == 1]
    if not by_twos or len(by_twos) < len(rulers.sides):
        return 1
    if given is None:
        remarks.ask("ridges", WHICH_RIDGES, "two rows each")
    if given == "one row each":
        return 1
    remarks.note("Its rows are numbered by twos, so each line was taken as two rows.")
    return 2


def _ask_hidden(
    page: Page,
    part: Page,
    settled: Answers,
    pages: list[Page],
    remarks: Remarks,
) -> None:
    """Ask about hidden rows and columns that hold stitches of the chart."""
    if settled.hidden is not None:
        return
    (whole,) = [each for each in pages if each.title == page.title][:1]
    hidden_rows, hidden_columns = part.hidden
    rows = [row for row in hidden_rows if part.rows[0] < row < part.rows[-1]]
    columns = [place for place in hidden_columns if part.columns[0] < place < part.columns[-1]]
    held = (whole.text != "") | (whole.fill != "")
    if held[np.ix_(rows, part.columns)].any() or held[np.ix_(part.rows, columns)].any():
        remarks.ask("hidden", WHAT_OF_HIDDEN, "left out")


def _chart(
    keys: Keys,
    letters: Mapping[str, str],
    part: Page,
    *,
    at_top: bool,
    times: int,
    name: str,
) -> Chart:
    """The chart of a part of a page; `at_top` says whether its row 1 is at the top, `times` how
    many rows each line is."""
    cells = looked_up(letters, keys.grid)
    lines = part.rows + 1
    # A chart is given top row first, as a sheet with row 1 at its bottom has it.
    if at_top:
        cells = np.flipud(cells)
        lines = np.flip(lines)
    rows = np.repeat(cells, times, axis=0).tolist()
    return Chart.from_rows(rows, source=name, lines=np.repeat(lines, times).tolist())


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


def _about_rulers(page: Page, found: Found) -> list[str]:
    """The rows and columns that were left out because they count."""
    # There may be one at each side, and several in one line, each over a stretch of it.
    rulers = found.rulers
    at_sides = {ruler.line for ruler in rulers.sides}
    at_ends = {ruler.line for ruler in rulers.ends}
    lines = []
    for line in sorted(at_sides):
        number = int(page.columns[line]) + 1
        lines.append(f"column {get_column_letter(number)}")
    for line in sorted(at_ends):
        number = int(page.rows[line]) + 1
        lines.append(f"row {number}")
    # The note names them, so that a row of counts taken for a ruler is noticed.
    if not lines:
        return _about_labels(page, found)
    what = "hold numbers and were" if len(lines) > 1 else "holds numbers and was"
    text = f"{' and '.join(lines)} {what} left out."
    return [text[0].upper() + text[1:], *_about_labels(page, found)]


def _about_labels(page: Page, found: Found) -> list[str]:
    """The columns that were left out because they say which side is worked."""
    notes = []
    for line in np.flatnonzero(found.labels.any(axis=0)):
        number = int(page.columns[line]) + 1
        notes.append(f"Column {get_column_letter(number)} says which side is worked: left out.")
    if found.is_headed:
        notes.append("A row of the spreadsheet's own letters A, B, C … was left out.")
    return notes


def _about_hidden(part: Page, settled: Answers) -> list[str]:
    """What became of hidden rows and columns between the first and the last of the chart."""
    # Those beyond its edges were none of it in any case.
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


def _about_doubtful(keys: Keys, part: Page) -> list[str]:
    if not keys.odd.any():
        return []
    cells = [part.cell(row, column) for row, column in np.argwhere(keys.odd)]
    return [f"Look at these once more: {listed(cells, most=MOST_CELLS_LISTED)}."]


def _about_merged_and_others(page: Page, part: Page, found: Found) -> list[str]:
    notes = []
    if found.others:
        areas = listed([_named(page, place) for place in found.others])
        number = counted(len(found.others), "more chart")
        notes.append(f"There may be {number} on this sheet: {areas}.")
    if not part.first.all():
        notes.append("Merged cells count as the stitches they span.")
    if found.elsewhere:
        cells = listed(found.elsewhere, most=MOST_CELLS_LISTED)
        what = "titles, a key or notes"
        notes.append(f"Other cells hold no stitches of the chart, but {what}: {cells}.")
    return notes
