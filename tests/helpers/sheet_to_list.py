"""The walk from a knitter's spreadsheet to what to wind, by clicks alone."""

from openpyxl import Workbook
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import get_column_letter

from tests.helpers.browsing import Hand

SEA, AMBER, BRICK, WHITE = "1F3A8F", "E8A33D", "B5402E", "FFFFFF"
STITCHES, ROWS = 40, 36


def colour_of(row: int, column: int) -> str:
    """A fish that swims to the left: its body, its tail and its eye; row 0 is at the top."""
    if ((column - 18) / 12) ** 2 + ((row - 18) / 8) ** 2 < 1:
        is_eye = abs(column - 11) <= 1 and abs(row - 16) <= 1
        return WHITE if is_eye else AMBER
    is_tail = 28 < column < 37 and abs(row - 18) <= column - 28
    return BRICK if is_tail else SEA


def knitters_sheet(path):
    """A workbook as knitters make it: a title, colours as fills, numbers at the edges, a key."""
    book = Workbook()
    sheet = book.active
    sheet.title = "Fish"
    sheet["B1"] = "Fish for a cushion"
    sheet["B1"].font = Font(bold=True, size=14)
    for row in range(ROWS):
        for column in range(STITCHES):
            cell = sheet.cell(row + 3, column + 2)
            cell.fill = PatternFill("solid", fgColor=colour_of(row, column))
        sheet.cell(row + 3, STITCHES + 2, ROWS - row)
    for column in range(STITCHES):
        sheet.column_dimensions[get_column_letter(column + 2)].width = 2.6
        sheet.cell(ROWS + 3, column + 2, STITCHES - column)
    key = {SEA: "Sea", AMBER: "Amber", BRICK: "Brick", WHITE: "White"}
    for line, (colour, name) in enumerate(key.items(), start=ROWS + 6):
        sheet.cell(line, 2).fill = PatternFill("solid", fgColor=colour)
        sheet.cell(line, 3, name)
    book.save(path)
    return path


def walk(lab, page, sheet):
    """From notebook 1, which opens first, to the winding list; the hand that clicked, the list."""
    hand = Hand(page)
    lab.open(page, "1-chart-and-gauge.ipynb")
    hand.press("A chart from a file")
    hand.choose_file("Choose a file", sheet)
    hand.press("Begin a new piece with it")
    page.locator(".jupyter-widgets", has_text="fish is a piece of its own").first.wait_for()
    hand.open_from_the_list("3-yarn-plan")
    winding = page.locator(".plan-table:visible", has_text="held as").first
    winding.wait_for(timeout=60_000)
    return hand, winding
