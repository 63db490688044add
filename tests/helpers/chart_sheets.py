"""Sheets of charts in many styles, each with what is meant cell by cell.

Random charts are laid out as people lay them out. What a style leaves open only a knitter knows; of
what is no chart nothing is meant.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests.helpers.sheet_writers import (
    Drawing,
    Look,
    as_html,
    as_text,
    by_odfpy,
    by_openpyxl,
    by_xlsxwriter,
    by_xlwt,
)

COLOURS = ["#b5452c", "#243b63", "#f1c232", "#3f6b3a", "#8e63a8"]
GREY = "#bfbfbf"
NAMES = ["Moss", "Rust", "Sea", "Oat", "Plum"]
LETTERS = "ABCDE"
WRITERS = {"xlsxwriter": by_xlsxwriter, "openpyxl": by_openpyxl, "odfpy": by_odfpy}


@dataclass(frozen=True, eq=False)
class Drawn:
    """A sheet: the file or what is pasted, the cells meant (top row first, −1 no stitch), the
    letters of the yarns where they stand on the sheet, and what it leaves open.

    No cells are meant by what is no chart.
    """

    data: bytes | str
    name: str
    cells: np.ndarray | None
    letters: str = ""
    open: frozenset[str] = frozenset()

    @property
    def is_pasted(self) -> bool:
        """Whether it comes from the clipboard."""
        return isinstance(self.data, str)


# ---- charts


def patches(rng, yarns=None):
    """Patches of yarns, as intarsia has them; each row and each yarn is there."""
    height, width = rng.integers(7, 18), rng.integers(8, 22)
    yarns = yarns or int(rng.integers(2, 6))
    cells = np.zeros((height, width), int)
    while len(np.unique(cells)) < yarns:
        cells[:] = 0
        for _ in range(yarns * 3):
            top, left = rng.integers(0, height - 2), rng.integers(0, width - 2)
            down, right = rng.integers(2, height // 2 + 2), rng.integers(2, width // 2 + 2)
            cells[top : top + down, left : left + right] = rng.integers(yarns)
    return cells


def shaped(rng):
    """A piece with steps at its upper corners."""
    cells = patches(rng, int(rng.integers(2, 5)))
    for row in range(3):
        step = 3 - row
        cells[row, :step] = cells[row, -step:] = -1
    return cells


def necked(rng):
    """A piece with a neck."""
    cells = patches(rng, int(rng.integers(2, 5)))
    middle = cells.shape[1] // 2
    cells[0, middle - 3 : middle + 2] = cells[1, middle - 2 : middle + 1] = -1
    return cells


def motif(rng):
    """A motif of one or two yarns on a ground (0) that is most of the chart."""
    cells = np.zeros((int(rng.integers(9, 15)), int(rng.integers(10, 18))), int)
    height, width = cells.shape
    cells[2 : height - 2, 3 : width - 3] = 1
    cells[3 : height // 2, 4 : width // 2] = 2
    cells[2, 3:5] = cells[3, 3] = cells[2, width - 4] = 0
    return cells


# ---- laying out


def lettered(
    cells, *, top=0, left=0, signs=LETTERS, looks=None, out="", drawing=None, border=False
):
    """A drawing with a sign in each cell; no stitch is `out`, a text or a look."""
    drawing = drawing or Drawing()
    for (row, column), yarn in np.ndenumerate(cells):
        look = looks[yarn] if looks and yarn >= 0 else Look(border=border and yarn >= 0)
        sign = signs[yarn]
        if yarn < 0:
            sign, look = (out, look) if isinstance(out, str) else ("", out)
        if sign != "" or look != Look():
            drawing.put(top + row, left + column, sign, look)
    return drawing


def filled(cells, **more):
    """A drawing with a fill in each cell."""
    looks = [Look(fill=colour) for colour in COLOURS]
    return lettered(cells, signs=[""] * 5, looks=looks, **more)


def number_rows(drawing, cells, *, top=0, at=None, at_top=False, label="{}", step=1, every=1):
    """Numbers of the rows in a column, right of the chart unless it is told where."""
    height = len(cells)
    for row in range(height):
        number = row + 1 if at_top else height - row
        if number % every:
            continue
        number = (number - 1) * step + 1
        side = "RS" if number % 2 else "WS"
        text = label.format(number, side=side, arrow="←" if number % 2 else "→", next=number + 1)
        place = at
        if isinstance(at, tuple):
            place = at[0] if number % 2 else at[1]
        drawing.put(top + row, place, int(text) if text.isdigit() else text)


def number_stitches(drawing, cells, *, row, left=0):
    """Numbers of the stitches in a row, from the right."""
    width = cells.shape[1]
    for column in range(width):
        drawing.put(row, left + column, width - column)


def written(rng, *drawings, how=None):
    """A workbook by one of the three libraries."""
    how = how or list(WRITERS)[int(rng.integers(3))]
    return WRITERS[how](*drawings), "chart.ods" if how == "odfpy" else "chart.xlsx"


def drawn(rng, drawing, cells, *, letters="", open=(), how=None):
    data, name = written(rng, drawing, how=how)
    return Drawn(data, name, cells, letters, frozenset(open))


# ---- letters


def letters_alone(rng):
    cells = patches(rng)
    top, left = rng.integers(0, 4, 2)
    return drawn(rng, lettered(cells, top=top, left=left), cells, letters=LETTERS, open={"row_1"})


def letters_numbered(rng, **how):
    cells = patches(rng)
    left = 1 if how.get("at") in (0, (0, -1)) else int(rng.integers(0, 3))
    drawing = lettered(cells, left=left)
    beyond = left + cells.shape[1]
    how = {"at": beyond} | how
    if how["at"] == (0, -1):
        how["at"] = (beyond, 0)
    number_rows(drawing, cells, **how)
    if how.get("every") or rng.integers(2):
        number_stitches(drawing, cells, row=len(cells), left=left)
    meant = cells[::-1] if how.get("at_top") else cells
    # One number alone says nothing.
    says_nothing = len(cells) < 2 * how.get("every", 1)
    return drawn(rng, drawing, meant, letters=LETTERS, open={"row_1"} if says_nothing else ())


def both_sides(rng):
    cells = patches(rng)
    drawing = lettered(cells, top=1, left=1)
    number_rows(drawing, cells, top=1, at=0)
    number_rows(drawing, cells, top=1, at=cells.shape[1] + 1)
    number_stitches(drawing, cells, row=0, left=1)
    number_stitches(drawing, cells, row=len(cells) + 1, left=1)
    return drawn(rng, drawing, cells, letters=LETTERS)


def sides_alone(rng, *, arrows=False):
    """A column of RS and WS, without a number."""
    cells = patches(rng)
    drawing = lettered(cells, left=1)
    for row in range(len(cells)):
        is_right = (len(cells) - row) % 2
        words = ("RS ←", "WS →") if arrows else ("RS", "WS")
        drawing.put(row, 0, words[0] if is_right else words[1])
    return drawn(rng, drawing, cells, letters=LETTERS, open={"row_1"})


def sides_and_numbers(rng):
    cells = patches(rng)
    drawing = lettered(cells, left=2)
    number_rows(drawing, cells, at=1)
    for row in range(len(cells)):
        drawing.put(row, 0, "RS" if (len(cells) - row) % 2 else "WS")
    return drawn(rng, drawing, cells, letters=LETTERS)


def ridges(rng, label="{}"):
    """Each line stands for the two rows of a garter ridge."""
    cells = patches(rng)
    drawing = lettered(cells)
    number_rows(drawing, cells, at=cells.shape[1], step=2, label=label)
    return drawn(rng, drawing, np.repeat(cells, 2, axis=0), letters=LETTERS, open={"ridges"})


def spreadsheet_headings(rng):
    """Column letters and row numbers copied along with the cells."""
    cells = patches(rng)
    drawing = lettered(cells, top=1, left=1)
    for column in range(cells.shape[1]):
        drawing.put(0, column + 1, chr(65 + column))
    for row in range(len(cells)):
        drawing.put(row + 1, 0, row + 1)
    return drawn(rng, drawing, cells, letters=LETTERS, open={"row_1"})


def signs_of(signs, *, letters=""):
    def draw(rng):
        cells = patches(rng, int(rng.integers(2, len(signs) + 1)))
        drawing = lettered(cells, signs=signs)
        number_rows(drawing, cells, at=cells.shape[1])
        return drawn(rng, drawing, cells, letters=letters)

    return draw


def numbers_as_yarns(rng):
    cells = patches(rng)
    drawing = lettered(cells, signs=[1, 2, 3, 4, 5])
    number_rows(drawing, cells, at=cells.shape[1] + 1)
    return drawn(rng, drawing, cells)


def dots(rng):
    cells = shaped(rng)
    drawing = lettered(cells, out=".")
    number_rows(drawing, cells, at=cells.shape[1])
    return drawn(rng, drawing, cells, letters=LETTERS)


def blank_shape(rng, *, cells=shaped, border=False):
    cells = cells(rng)
    drawing = lettered(cells, border=border)
    number_rows(drawing, cells, at=cells.shape[1])
    return drawn(rng, drawing, cells, letters=LETTERS, open={"blanks"})


def ruled_with_blank_edges(rng):
    """A framed grid, of which the first rows and a column at each side are blank ground."""
    cells = np.pad(patches(rng), ((2, 1), (1, 1)), constant_values=0)
    drawing = lettered(cells, signs=["", *"BCDE"], looks=[Look(border=True)] * 5)
    return drawn(rng, drawing, cells, open={"row_1", "blanks"})


def blank_edges_numbered(rng):
    cells = np.pad(patches(rng), ((2, 1), (1, 1)), constant_values=0)
    drawing = lettered(cells, top=1, signs=["", *"BCDE"])
    number_rows(drawing, cells, top=1, at=cells.shape[1])
    number_stitches(drawing, cells, row=0)
    return drawn(rng, drawing, cells, open={"blanks"})


# ---- keys


def key_of_letters(rng, words="no stitch", *, apart=True, beside=True):
    cells = shaped(rng)
    drawing = lettered(cells, out="X")
    number_rows(drawing, cells, at=cells.shape[1])
    top, left = (0, cells.shape[1] + 3) if beside else (len(cells) + 2, 0)
    for line, sign in enumerate([*LETTERS[: cells.max() + 1], "X"]):
        name = words if sign == "X" else NAMES[line]
        if apart:
            drawing.put(top + line, left, sign)
            drawing.put(top + line, left + 1, name)
        else:
            drawing.put(top + line, left, f"{sign} = {name}")
    return drawn(rng, drawing, cells, letters=LETTERS)


def key_of_fills(rng, *, words="no stitch", named=False):
    cells = shaped(rng)
    drawing = filled(cells, out=Look(fill=GREY))
    number_rows(drawing, cells, at=cells.shape[1])
    left = cells.shape[1] + 3
    if named:
        drawing.put(1, left, f"Grey = {words}")
        return drawn(rng, drawing, cells)
    for line, colour in enumerate([*COLOURS[: cells.max() + 1], GREY]):
        drawing.put(line, left, "", Look(fill=colour))
        drawing.put(line, left + 1, words if colour == GREY else NAMES[line])
    return drawn(rng, drawing, cells)


def key_of_hatch(rng):
    cells = shaped(rng)
    drawing = filled(cells, out=Look(pattern="darkUp"))
    number_rows(drawing, cells, at=cells.shape[1])
    drawing.put(1, cells.shape[1] + 3, "", Look(pattern="darkUp"))
    drawing.put(1, cells.shape[1] + 4, "no stitch")
    return drawn(rng, drawing, cells, how=_hatching(rng))


def key_that_touches(rng):
    """Letters and short names right below the chart."""
    cells = patches(rng)
    drawing = lettered(cells)
    number_rows(drawing, cells, at=cells.shape[1])
    for line in range(cells.max() + 1):
        drawing.put(len(cells) + line, 0, LETTERS[line])
        drawing.put(len(cells) + line, 1, NAMES[line])
    return drawn(rng, drawing, cells, letters=LETTERS)


def title_key_and_sums(rng):
    cells = patches(rng)
    drawing = lettered(cells, top=3, left=1, looks=[Look(fill=colour) for colour in COLOURS])
    drawing.put(0, 0, "Cushion, front")
    drawing.put(1, 0, "22 stitches and 30 rows to 10 cm")
    number_rows(drawing, cells, top=3, at=0)
    left = cells.shape[1] + 3
    drawing.put(3, left, "Key")
    for line in range(cells.max() + 1):
        drawing.put(4 + line, left, LETTERS[line], Look(fill=COLOURS[line]))
        drawing.put(4 + line, left + 1, NAMES[line])
        drawing.put(4 + line, left + 2, int((cells == line).sum()))
    return drawn(rng, drawing, cells, letters=LETTERS)


def key_in_a_cell(rng):
    cells = shaped(rng)
    drawing = lettered(cells, out="X")
    number_rows(drawing, cells, at=cells.shape[1])
    drawing.put(len(cells) + 2, 0, "Key: A = Moss; B = Rust; X = no stitch")
    return drawn(rng, drawing, cells, letters=LETTERS)


def key_of_a_grey_yarn(rng):
    cells = np.where((chart := shaped(rng)) < 0, 4, chart)
    colours = [*COLOURS[:4], GREY]
    looks = [Look(fill=colour) for colour in colours]
    drawing = lettered(cells, signs=[""] * 5, looks=looks)
    number_rows(drawing, cells, at=cells.shape[1])
    left = cells.shape[1] + 3
    for line, yarn in enumerate(np.unique(cells)):
        drawing.put(line, left, "", looks[yarn])
        drawing.put(line, left + 1, NAMES[yarn])
    return drawn(rng, drawing, cells)


def key_of_blanks(rng):
    """A neck's shape of blank cells that the key says are a yarn."""
    cells = necked(rng)
    drawing = lettered(cells)
    number_rows(drawing, cells, at=cells.shape[1])
    drawing.put(1, cells.shape[1] + 3, "blank = MC")
    return drawn(rng, drawing, np.where(cells < 0, 4, cells))


def signs_for_no_stitch(sign):
    def draw(rng):
        cells = shaped(rng)
        drawing = lettered(cells, out=sign)
        number_rows(drawing, cells, at=cells.shape[1])
        return drawn(rng, drawing, cells, letters=LETTERS, open={"blanks"})

    return draw


# ---- fills


def _hatching(rng):
    return ["xlsxwriter", "openpyxl"][int(rng.integers(2))]


def fills_alone(rng):
    cells = patches(rng)
    return drawn(rng, filled(cells, top=1, left=2), cells, open={"row_1"})


def fills_numbered(rng):
    cells = patches(rng)
    drawing = filled(cells, left=1)
    number_rows(drawing, cells, at=0)
    number_stitches(drawing, cells, row=len(cells), left=1)
    return drawn(rng, drawing, cells)


def motif_on_blanks(rng):
    cells = motif(rng)
    drawing = lettered(
        cells, signs=[""] * 3, looks=[Look(), *(Look(fill=colour) for colour in COLOURS[:2])]
    )
    number_rows(drawing, cells, at=cells.shape[1])
    number_stitches(drawing, cells, row=len(cells))
    return drawn(rng, drawing, cells, open={"blanks"})


def out_by(look, *, cells=shaped, hatched=False):
    def draw(rng):
        chart = cells(rng)
        drawing = filled(chart, out=look)
        number_rows(drawing, chart, at=chart.shape[1])
        how = _hatching(rng) if hatched else None
        return drawn(rng, drawing, chart, open={"blanks"}, how=how)

    return draw


def fills_with_letters(rng):
    cells = patches(rng)
    drawing = lettered(cells, looks=[Look(fill=colour) for colour in COLOURS])
    number_rows(drawing, cells, at=cells.shape[1])
    return drawn(rng, drawing, cells, letters=LETTERS)


def fills_at_odds(rng):
    """A few letters stand on another yarn's fill."""
    cells = patches(rng)
    drawing = lettered(cells, looks=[Look(fill=colour) for colour in COLOURS])
    number_rows(drawing, cells, at=cells.shape[1])
    for _ in range(3):
        row, column = (int(rng.integers(size)) for size in cells.shape)
        yarn = cells[row, column]
        look = Look(fill=COLOURS[(yarn + 1) % (cells.max() + 1)])
        drawing.put(row, column, LETTERS[yarn], look)
    return drawn(rng, drawing, cells, letters=LETTERS, open={"by"})


def near_shades(rng):
    cells = patches(rng, 3)
    drawing = filled(cells)
    number_rows(drawing, cells, at=cells.shape[1])
    row, column = np.argwhere(cells == 0)[0]
    drawing.put(row, column, "", Look(fill="#b6462c"))
    return drawn(rng, drawing, cells)


def _runs(line):
    ends = [0, *(np.flatnonzero(np.diff(line)) + 1).tolist(), len(line)]
    return list(pairwise(ends))


def counts_in_runs(rng, *, merged=False):
    """The number of stitches of each run, in its first cell or in all of them as one."""
    cells = patches(rng)
    drawing = filled(cells)
    for row, line in enumerate(cells):
        for start, stop in _runs(line):
            drawing.put(row, start, stop - start, Look(fill=COLOURS[line[start]]))
            if merged and stop - start > 1:
                drawing.merged.append((row, start, row, stop - 1))
    number_rows(drawing, cells, at=cells.shape[1] + 1)
    return drawn(rng, drawing, cells)


def counted_cells(rng):
    """Each filled cell holds its stitch's number."""
    cells = patches(rng)
    looks = [Look(fill=colour) for colour in COLOURS]
    drawing = Drawing()
    for (row, column), yarn in np.ndenumerate(cells):
        drawing.put(row, column, cells.shape[1] - column, looks[yarn])
    number_rows(drawing, cells, at=cells.shape[1])
    return drawn(rng, drawing, cells)


def merged_letters(rng):
    cells = patches(rng)
    drawing = lettered(cells)
    for row, line in enumerate(cells):
        for start, stop in _runs(line):
            if stop - start > 1:
                drawing.merged.append((row, start, row, stop - 1))
    number_rows(drawing, cells, at=cells.shape[1])
    return drawn(rng, drawing, cells, letters=LETTERS)


def inks(sign):
    """One sign all over; the yarns are the colours of the letters."""

    def draw(rng):
        cells = patches(rng)
        looks = [Look(ink=colour) for colour in COLOURS]
        drawing = lettered(cells, signs=[sign] * 5, looks=looks)
        number_rows(drawing, cells, at=cells.shape[1])
        return drawn(rng, drawing, cells)

    return draw


def painted_by_rules(rng):
    """Letters, and rules that paint their cells."""
    cells = patches(rng)
    drawing = lettered(cells)
    number_rows(drawing, cells, at=cells.shape[1])
    height, width = cells.shape
    for yarn in range(cells.max() + 1):
        rule = (0, 0), (height - 1, width - 1), "=", LETTERS[yarn], COLOURS[yarn]
        drawing.rules.append(rule)
    return drawn(rng, drawing, cells, letters=LETTERS)


def painted_blanks(rng):
    """Blank cells, which only rules paint: nothing to read."""
    cells = patches(rng, 2)
    height, width = cells.shape
    drawing = lettered(cells, signs=["", "A"])
    number_rows(drawing, cells, at=width)
    rule = (0, 0), (height - 1, width - 1), "", "MOD(ROW()+COLUMN(),2)=1", COLOURS[1]
    drawing.rules.append(rule)
    return drawn(rng, drawing, None, how=_hatching(rng))


def hidden_rows(rng):
    cells = patches(rng)
    drawing = lettered(cells)
    height, width = cells.shape
    number_rows(drawing, cells, at=width)
    drawing.hidden_rows += [height // 2, height // 2 + 1]
    meant = np.delete(cells, drawing.hidden_rows, axis=0)
    return drawn(rng, drawing, meant, letters=LETTERS, open={"hidden"})


def headings_in_grey(rng):
    """Numbers on grey cells all round, as a heading."""
    cells = patches(rng)
    height, width = cells.shape
    drawing = filled(cells, top=1, left=1)
    number_rows(drawing, cells, top=1, at=0)
    number_rows(drawing, cells, top=1, at=width + 1)
    number_stitches(drawing, cells, row=0, left=1)
    number_stitches(drawing, cells, row=height + 1, left=1)
    for row in range(height + 2):
        for column in range(width + 2):
            if row in (0, height + 1) or column in (0, width + 1):
                text, _ = drawing.cells.get((row, column), ("", None))
                drawing.put(row, column, text, Look(fill=GREY, border=True))
    return drawn(rng, drawing, cells)


def guides(rng):
    """Letters; every fifth column is shaded, to count by."""
    cells = patches(rng)
    drawing = lettered(cells)
    for (row, column), yarn in np.ndenumerate(cells):
        if column % 5 == 4:
            drawing.put(row, column, LETTERS[yarn], Look(fill="#dddddd"))
    number_rows(drawing, cells, at=cells.shape[1])
    return drawn(rng, drawing, cells, letters=LETTERS)


def totals(rng):
    """Numbers of stitches beside and below."""
    cells = patches(rng)
    height, width = cells.shape
    drawing = lettered(cells, left=1)
    number_rows(drawing, cells, at=0)
    for row in range(height):
        drawing.put(row, width + 2, width)
    drawing.put(height + 1, 0, "Total")
    drawing.put(height + 1, 1, int(cells.size))
    return drawn(rng, drawing, cells, letters=LETTERS)


def emphasised(rng):
    """Letters, some of them in red."""
    cells = patches(rng)
    drawing = lettered(cells)
    for _ in range(5):
        row, column = (int(rng.integers(size)) for size in cells.shape)
        drawing.put(row, column, LETTERS[cells[row, column]], Look(ink="#ff0000"))
    number_rows(drawing, cells, at=cells.shape[1])
    return drawn(rng, drawing, cells, letters=LETTERS)


def slip_of_the_hand(rng):
    """One letter is small by mistake."""
    cells = patches(rng)
    drawing = lettered(cells)
    row, column = np.argwhere(cells == 0)[0]
    drawing.put(int(row), int(column), "a")
    number_rows(drawing, cells, at=cells.shape[1])
    return drawn(rng, drawing, cells, letters=LETTERS, open={"marks"})


def old_workbook(rng):
    """Letters in the old form, by xlwt."""
    cells = patches(rng)
    drawing = lettered(cells)
    number_rows(drawing, cells, at=cells.shape[1])
    return Drawn(by_xlwt(drawing), "chart.xls", cells, LETTERS)


# ---- several charts


def two_charts(rng, *, numbered=False, fills=False):
    """The larger is meant, as long as nobody says anything else."""
    first, second = patches(rng, 3), patches(rng, 3)
    draw = filled if fills else lettered
    drawing = draw(first)
    left = first.shape[1] + 4
    draw(second, left=left, drawing=drawing)
    open_ = {"area", "row_1"}
    if numbered:
        number_rows(drawing, first, at=first.shape[1])
        number_rows(drawing, second, at=left + second.shape[1])
        open_ = {"area"}
    meant = first if first.size >= second.size else second
    return drawn(rng, drawing, meant, letters="" if fills else LETTERS, open=open_)


def one_above_another(rng):
    first, second = patches(rng, 3), patches(rng, 3)
    drawing = lettered(first, top=1)
    drawing.put(0, 0, "Front")
    top = len(first) + 4
    drawing.put(top - 1, 0, "Back")
    lettered(second, top=top, drawing=drawing)
    meant = first if first.size >= second.size else second
    return drawn(rng, drawing, meant, letters=LETTERS, open={"area", "row_1"})


def two_sheets(rng):
    first, second = patches(rng, 3), patches(rng, 3)
    drawings = [lettered(first), lettered(second)]
    drawings[0].title, drawings[1].title = "Front", "Back"
    data, name = written(rng, *drawings)
    return Drawn(data, name, first, LETTERS, frozenset({"sheet", "row_1"}))


# ---- text and pasted cells


def text(between, *, numbered=True, cells=patches, name="chart.csv"):
    def draw(rng):
        chart = cells(rng)
        drawing = lettered(chart, out=".")
        if numbered:
            number_rows(drawing, chart, at=chart.shape[1])
        data = as_text(drawing, between).encode()
        open_ = frozenset() if numbered else frozenset({"row_1"})
        return Drawn(data, name, chart, LETTERS, open_)

    return draw


def squares_in_lines(rng):
    """Rows of coloured squares, as they are sent in messages."""
    cells = patches(rng)
    lines = ["".join("🟥🟦⬜🟨🟩"[yarn] for yarn in row) for row in cells]
    return Drawn("\n".join(lines).encode(), "chart.txt", cells, "", frozenset({"row_1"}))


def pasted_text(rng):
    cells = patches(rng)
    drawing = lettered(cells)
    number_rows(drawing, cells, at=cells.shape[1])
    return Drawn(as_text(drawing, "\t").replace("\n", "\r\n"), "", cells, LETTERS)


def pasted_with_edges(cells, signs):
    """Marked cells, of which the outermost are blank."""

    def draw(rng):
        chart = cells(rng)
        whole = np.pad(chart, 1, constant_values=-1)
        drawing = lettered(whole, signs=[*signs, ""])
        drawing.put(len(whole) - 1, whole.shape[1] - 1, "")
        meant = chart if signs[0] else np.maximum(whole, 0)
        open_ = frozenset({"row_1", "blanks"})
        return Drawn(as_text(drawing, "\t"), "", meant, LETTERS if signs[0] else "", open_)

    return draw


def pasted_table(how):
    def draw(rng):
        cells = patches(rng)
        drawing = filled(cells)
        number_rows(drawing, cells, at=cells.shape[1])
        return Drawn(as_html(drawing, how), "", cells)

    return draw


def pasted_merged(rng):
    cells = patches(rng)
    drawing = filled(cells)
    for row, line in enumerate(cells):
        for start, stop in _runs(line):
            if stop - start > 1:
                drawing.merged.append((row, start, row, stop - 1))
    number_rows(drawing, cells, at=cells.shape[1])
    return Drawn(as_html(drawing, "inline"), "", cells)


# ---- what is no chart


def no_chart(lines):
    """Text, or a table, in which nobody sees a chart; as a file or as a workbook."""

    def draw(rng):
        rows = lines(rng)
        drawing = Drawing()
        for row, cells in enumerate(rows):
            for column, cell in enumerate(cells):
                drawing.put(row, column, cell)
        if rng.integers(2):
            return Drawn(as_text(drawing).encode(), "list.csv", None)
        return drawn(rng, drawing, None)

    return draw


def _run_lengths(rng):
    rows = []
    for _ in range(int(rng.integers(3, 12))):
        rows.append([f"{rng.integers(1, 12)}{LETTERS[yarn]}" for yarn in range(rng.integers(2, 5))])
    return rows


def _yarn_list(rng):
    return [
        ["Yarn", "Colour", "Balls"],
        *([LETTERS[place], NAMES[place], int(rng.integers(1, 6))] for place in range(5)),
    ]


def _shop(rng):
    rows = [["Item", "Shade", "In", "Price", "Size"]]
    for number in range(int(rng.integers(8, 30))):
        rows.append(
            [
                f"Article {number + 100}",
                NAMES[int(rng.integers(5))],
                "yes" if rng.integers(3) else "no",
                int(rng.integers(3, 20)),
                "SML"[int(rng.integers(3))],
            ]
        )
    return rows


def shaded_shop(rng):
    """A shop's table, every second line of it shaded."""
    drawing = Drawing()
    for row, cells in enumerate(_shop(rng)):
        for column, cell in enumerate(cells):
            drawing.put(row, column, cell, Look(fill="#dddddd" if row % 2 else "#ffffff"))
    return drawn(rng, drawing, None)


def prose(rng):
    lines = [
        "Cast on 120 stitches in moss.",
        "Work 4 rows in garter stitch.",
        "Change to larger needles and begin the chart.",
        "Repeat these rows until the piece measures 40 cm.",
        "Cast off.",
    ]
    return Drawn("\n".join(lines[: rng.integers(3, 6)]).encode(), "notes.txt", None)


def some_drawing(rng):
    lines = [f'  <path d="M{number} 0h8" fill="#333"/>' for number in range(rng.integers(3, 60))]
    head = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24">'
    return Drawn("\n".join([head, *lines, "</svg>"]).encode(), "leaf.svg", None)


def settings(rng):
    lines = [f'  "step_{number}": {number},' for number in range(rng.integers(3, 30))]
    return Drawn("\n".join(["{", *lines, "}"]).encode(), "notes.txt", None)


def _instructions(rng):
    rows = []
    for number in range(int(rng.integers(4, 12))):
        rows.append([f"Row {number + 1}", f"K{rng.integers(2, 20)} A", f"p{rng.integers(2, 20)} B"])
    return rows


def _sizes(rng):
    rows = [["Size", "S", "M", "L", "XL"]]
    for name in ("Bust", "Length", "Sleeve", "Cast on", "Rows"):
        rows.append([name, *(int(each) for each in np.sort(rng.integers(30, 200, 4)))])
    return rows


def with_errors(rng):
    cells = patches(rng)
    drawing = lettered(cells)
    number_rows(drawing, cells, at=cells.shape[1])
    for _ in range(int(rng.integers(1, 6))):
        drawing.put(int(rng.integers(len(cells))), int(rng.integers(cells.shape[1])), "#REF!")
    return Drawn(as_text(drawing).encode(), "chart.csv", None)


def errors_at_the_rim(rng):
    cells = patches(rng)
    drawing = lettered(cells)
    number_rows(drawing, cells, at=cells.shape[1])
    for row in range(len(cells)):
        drawing.put(row, 0, "#REF!")
    return Drawn(as_text(drawing).encode(), "chart.csv", None)


STYLES = {
    "letters alone": letters_alone,
    "letters, rows numbered": letters_numbered,
    "letters, numbers at the left": lambda rng: letters_numbered(rng, at=0),
    "letters, numbers all round": both_sides,
    "letters, alternating sides": lambda rng: letters_numbered(rng, at=(0, -1)),
    "letters, every fifth row": lambda rng: letters_numbered(rng, every=5),
    "letters, row 1 at the top": lambda rng: letters_numbered(rng, at_top=True),
    "Row 1": lambda rng: letters_numbered(rng, at=0, label="Row {}"),
    "Row 1 (RS) ←": lambda rng: letters_numbered(rng, at=0, label="Row {} ({side}) {arrow}"),
    "1 RS": lambda rng: letters_numbered(rng, label="{} {side}"),
    "← 1": lambda rng: letters_numbered(rng, label="{arrow} {}"),
    "RS alone": sides_alone,
    "WS → alone": lambda rng: sides_alone(rng, arrows=True),
    "RS beside numbers": sides_and_numbers,
    "ridges by twos": ridges,
    "ridges 1-2": lambda rng: ridges(rng, "{}-{next}"),
    "spreadsheet's headings": spreadsheet_headings,
    "words": signs_of(["red", "blue", "cream", "green"]),
    "MC and CC1": signs_of(["MC", "CC1", "CC2", "CC3"]),
    "WS, St and RS as yarns": signs_of(["WS", "St", "RS"]),
    "small letters": signs_of("abcde", letters="abcde"),
    "x and dashes": signs_of(["x", "-", "●", "/"]),
    "coloured squares": signs_of(["🟥", "🟦", "⬜️", "🟨", "🟩"]),
    "squares in lines": squares_in_lines,
    "■ by its colour": inks("■"),
    "X by its colour": inks("X"),
    "numbers as yarns": numbers_as_yarns,
    "dots for no stitch": dots,
    "blanks at the corners": blank_shape,
    "blanks beside a frame": lambda rng: blank_shape(rng, border=True),
    "blank neck": lambda rng: blank_shape(rng, cells=necked),
    "framed, blank edges": ruled_with_blank_edges,
    "numbered, blank edges": blank_edges_numbered,
    "key: X, no stitch": key_of_letters,
    "key: X = no st": lambda rng: key_of_letters(rng, "no st", apart=False),
    "key below": lambda rng: key_of_letters(rng, "No stitch.", beside=False),
    "key in a cell": key_in_a_cell,
    "key: grey is a yarn": key_of_a_grey_yarn,
    "key: blank is a yarn": key_of_blanks,
    "X at the corners, no key": signs_for_no_stitch("X"),
    "ns at the corners": signs_for_no_stitch("ns"),
    "no stitch in words": signs_for_no_stitch("no stitch"),
    "key touches": key_that_touches,
    "key of fills": key_of_fills,
    "key: grey = no stitch": lambda rng: key_of_fills(rng, named=True),
    "key of a hatch": key_of_hatch,
    "title, key and sums": title_key_and_sums,
    "fills alone": fills_alone,
    "fills numbered": fills_numbered,
    "motif on blanks": motif_on_blanks,
    "grey corners": out_by(Look(fill=GREY)),
    "grey neck": out_by(Look(fill=GREY), cells=necked),
    "blank corners of fills": out_by(""),
    "blank neck of fills": out_by("", cells=necked),
    "hatched corners": out_by(Look(pattern="darkUp"), hatched=True),
    "dotted neck": out_by(Look(pattern="gray125"), cells=necked, hatched=True),
    "fills and letters": fills_with_letters,
    "fills and letters at odds": fills_at_odds,
    "near shades": near_shades,
    "counts in runs": counts_in_runs,
    "merged counts": lambda rng: counts_in_runs(rng, merged=True),
    "numbers in filled cells": counted_cells,
    "merged letters": merged_letters,
    "headings in grey": headings_in_grey,
    "guides": guides,
    "totals": totals,
    "red for emphasis": emphasised,
    "a slip of the hand": slip_of_the_hand,
    "old workbook": old_workbook,
    "painted by rules": painted_by_rules,
    "blanks painted by rules": painted_blanks,
    "hidden rows": hidden_rows,
    "two charts": two_charts,
    "two charts, numbered": lambda rng: two_charts(rng, numbered=True),
    "two charts of fills": lambda rng: two_charts(rng, fills=True),
    "one above another": one_above_another,
    "two sheets": two_sheets,
    "commas": text(","),
    "semicolons": text(";", cells=shaped),
    "tabs": text("\t", name="chart.tsv"),
    "spaces": text(" ", numbered=False),
    "nothing between": text("", numbered=False, cells=shaped, name="chart.txt"),
    "pasted text": pasted_text,
    "pasted, blank edges": pasted_with_edges(patches, LETTERS),
    "pasted, blank ground": pasted_with_edges(motif, ["", "B", "C"]),
    "pasted, inline colours": pasted_table("inline"),
    "pasted, classes": pasted_table("classes"),
    "pasted, bgcolor": pasted_table("bgcolor"),
    "pasted, merged": pasted_merged,
    "no chart: 10A,3B": no_chart(_run_lengths),
    "no chart: yarns": no_chart(_yarn_list),
    "no chart: a shop": no_chart(_shop),
    "no chart: a shaded shop": shaded_shop,
    "no chart: prose": prose,
    "no chart: a drawing": some_drawing,
    "no chart: settings": settings,
    "no chart: rows in words": no_chart(_instructions),
    "no chart: sizes": no_chart(_sizes),
    "#REF! in it": with_errors,
    "#REF! at its rim": errors_at_the_rim,
}
