"""Sheets drawn cell by cell, and written by three libraries, as text, and as cells are copied."""

from __future__ import annotations

import html
import io
from dataclasses import dataclass, field

import openpyxl
import xlsxwriter
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from odf.style import Map, Style, TableCellProperties, TextProperties
from odf.table import CoveredTableCell, Table, TableCell, TableColumn, TableRow
from odf.text import P
from openpyxl.formatting.rule import CellIsRule, FormulaRule
from openpyxl.styles import Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter

PATTERNS = {"darkUp": 14, "gray125": 17, "lightGrid": 10}  # as XlsxWriter numbers them


@dataclass(frozen=True)
class Look:
    """How a cell looks: its fill, the colour of its letters, its hatch and whether it is framed."""

    fill: str = ""
    ink: str = ""
    pattern: str = ""
    border: bool = False


PLAIN = Look()


@dataclass(eq=False)
class Drawing:
    """A sheet: cells by (row, column) from 0, and what lies over them.

    `rules` are (first cell, last cell, "=" or "", text or formula, colour).
    """

    title: str = "Chart"
    cells: dict[tuple[int, int], tuple[str | int, Look]] = field(default_factory=dict)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[int] = field(default_factory=list)
    rules: list[tuple] = field(default_factory=list)

    def put(self, row, column, text="", look=PLAIN):
        """Write a cell."""
        self.cells[row, column] = text, look

    @property
    def shape(self):
        """How many rows and columns it reaches over."""
        return max(r for r, _ in self.cells) + 1, max(c for _, c in self.cells) + 1

    def rows(self):
        """Its texts, row by row."""
        height, width = self.shape
        return [
            [str(self.cells.get((r, c), ("",))[0]) for c in range(width)] for r in range(height)
        ]


def by_xlsxwriter(*drawings: Drawing) -> bytes:
    """A workbook by XlsxWriter."""
    file = io.BytesIO()
    book = xlsxwriter.Workbook(file, {"in_memory": True})
    formats = {}

    def format_of(look):
        if look not in formats:
            asked = {}
            if look.fill:
                asked |= {"bg_color": look.fill, "pattern": 1}
            if look.pattern:
                asked |= {"pattern": PATTERNS[look.pattern], "fg_color": "#555555"}
            if look.ink:
                asked["font_color"] = look.ink
            if look.border:
                asked["border"] = 1
            formats[look] = book.add_format(asked)
        return formats[look]

    for drawing in drawings:
        sheet = book.add_worksheet(drawing.title)
        corners = {(top, left): (down, right) for top, left, down, right in drawing.merged}
        for (row, column), (text, look) in drawing.cells.items():
            if (row, column) in corners:
                sheet.merge_range(row, column, *corners[row, column], text, format_of(look))
            elif text == "":
                sheet.write_blank(row, column, None, format_of(look))
            elif isinstance(text, str):
                sheet.write_string(row, column, text, format_of(look))
            else:
                sheet.write(row, column, text, format_of(look))
        for row in drawing.hidden_rows:
            sheet.set_row(row, None, None, {"hidden": True})
        for column in drawing.hidden_columns:
            sheet.set_column(column, column, None, None, {"hidden": True})
        for first, last, kind, told, colour in drawing.rules:
            paint = book.add_format({"bg_color": colour})
            rule = {"type": "formula", "criteria": f"={told}", "format": paint}
            if kind == "=":
                rule = {"type": "cell", "criteria": "==", "value": f'"{told}"', "format": paint}
            sheet.conditional_format(*first, *last, rule)
    book.close()
    return file.getvalue()


def by_openpyxl(*drawings: Drawing) -> bytes:
    """A workbook by openpyxl."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    thin = Side("thin")
    for drawing in drawings:
        sheet = book.create_sheet(drawing.title)
        for (row, column), (text, look) in drawing.cells.items():
            cell = sheet.cell(row + 1, column + 1, text if text != "" else None)
            if look.pattern:
                cell.fill = PatternFill(look.pattern, fgColor="FF555555")
            elif look.fill:
                cell.fill = PatternFill("solid", fgColor=f"FF{look.fill[1:]}")
            if look.ink:
                cell.font = Font(color=f"FF{look.ink[1:]}")
            if look.border:
                cell.border = Border(thin, thin, thin, thin)
        for top, left, bottom, right in drawing.merged:
            sheet.merge_cells(None, top + 1, left + 1, bottom + 1, right + 1)
        for row in drawing.hidden_rows:
            sheet.row_dimensions[row + 1].hidden = True
        for column in drawing.hidden_columns:
            sheet.column_dimensions[get_column_letter(column + 1)].hidden = True
        for first, last, kind, told, colour in drawing.rules:
            area = f"{_name(*first)}:{_name(*last)}"
            paint = PatternFill(bgColor=f"FF{colour[1:]}", fill_type="solid")
            rule = FormulaRule(formula=[told], fill=paint)
            if kind == "=":
                rule = CellIsRule(operator="equal", formula=[f'"{told}"'], fill=paint)
            sheet.conditional_formatting.add(area, rule)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def _name(row, column):
    return f"{get_column_letter(column + 1)}{row + 1}"


def by_odfpy(*drawings: Drawing) -> bytes:
    """An OpenDocument spreadsheet by odfpy. It knows no hatched fills."""
    book = OpenDocumentSpreadsheet()
    styles = {}

    def style_of(look, maps=()):
        if (look, maps) not in styles:
            style = Style(name=f"s{len(styles)}", family="table-cell")
            asked = {}
            if look.fill:
                asked["backgroundcolor"] = look.fill
            if look.border:
                asked["border"] = "0.5pt solid #000000"
            style.addElement(TableCellProperties(**asked))
            if look.ink:
                style.addElement(TextProperties(color=look.ink))
            for condition, colour in maps:
                painted = style_of(Look(fill=colour))
                style.addElement(
                    Map(condition=condition, applystylename=painted.getAttribute("name"))
                )
            book.automaticstyles.addElement(style)
            styles[look, maps] = style
        return styles[look, maps]

    for drawing in drawings:
        table = Table(name=drawing.title)
        height, width = drawing.shape
        for column in range(width):
            out = {"visibility": "collapse"} if column in drawing.hidden_columns else {}
            table.addElement(TableColumn(**out))
        corners = {(top, left): (down, right) for top, left, down, right in drawing.merged}
        covered = set()
        for row in range(height):
            out = {"visibility": "collapse"} if row in drawing.hidden_rows else {}
            line = TableRow(**out)
            for column in range(width):
                text, look = drawing.cells.get((row, column), ("", PLAIN))
                if (row, column) in covered:
                    line.addElement(CoveredTableCell())
                    continue
                more = {}
                if (row, column) in corners:
                    down, right = corners[row, column]
                    more["numberrowsspanned"] = down - row + 1
                    more["numbercolumnsspanned"] = right - column + 1
                    covered |= {
                        (r, c) for r in range(row, down + 1) for c in range(column, right + 1)
                    }
                maps = tuple(
                    (f'cell-content()="{told}"' if kind == "=" else f"is-true-formula({told})", col)
                    for first, last, kind, told, col in drawing.rules
                    if first[0] <= row <= last[0] and first[1] <= column <= last[1]
                )
                if look != PLAIN or maps:
                    more["stylename"] = style_of(look, maps)
                if isinstance(text, int):
                    more |= {"valuetype": "float", "value": text}
                elif text:
                    more["valuetype"] = "string"
                cell = TableCell(**more)
                if text != "":
                    cell.addElement(P(text=str(text)))
                line.addElement(cell)
            table.addElement(line)
        book.spreadsheet.addElement(table)
    file = io.BytesIO()
    book.write(file)
    return file.getvalue()


def by_xlwt(drawing: Drawing) -> bytes:
    """An old workbook by xlwt: texts and nothing else."""
    book = xlwt.Workbook()
    sheet = book.add_sheet(drawing.title)
    for (row, column), (text, _) in drawing.cells.items():
        sheet.write(row, column, text)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def as_text(drawing: Drawing, between: str = ",") -> str:
    """Its texts with a sign between the cells."""
    lines = []
    for row in drawing.rows():
        cells = [f'"{text}"' if between in text and between.strip() else text for text in row]
        lines.append(between.join(cells))
    return "\n".join(lines) + "\n"


def as_html(drawing: Drawing, how: str) -> str:
    """A table as cells are copied: colours "inline", by "classes", or as "bgcolor"."""
    height, width = drawing.shape
    corners = {(top, left): (down, right) for top, left, down, right in drawing.merged}
    covered = set()
    classes: dict[str, str] = {}
    body = ""
    for row in range(height):
        body += "<tr style='height:15pt'>"
        for column in range(width):
            if (row, column) in covered:
                continue
            text, look = drawing.cells.get((row, column), ("", PLAIN))
            more = ""
            if (row, column) in corners:
                down, right = corners[row, column]
                more += f' rowspan="{down - row + 1}" colspan="{right - column + 1}"'
                covered |= {(r, c) for r in range(row, down + 1) for c in range(column, right + 1)}
            if look.fill and how == "inline":
                red, green, blue = bytes.fromhex(look.fill[1:])
                more += f' style="padding:2px;background-color: rgb({red}, {green}, {blue});"'
            elif look.fill and how == "bgcolor":
                more += f' BGCOLOR="{look.fill.upper()}"'
            elif look.fill:
                name = classes.setdefault(look.fill, f"xl{65 + len(classes)}")
                more += f" class={name}"
            body += f"<td{more}>{html.escape(str(text)) or '&nbsp;'}</td>"
        body += "</tr>\n"
    rules = "".join(
        f".{name}\n\t{{padding-top:1px;background:{fill.upper()};\n\tmso-pattern:black none;}}\n"
        for fill, name in classes.items()
    )
    return (
        "<html><head><meta charset=utf-8><style>\n<!--table {border:none}\n"
        f"{rules}--></style></head><body><!--StartFragment--><table border=0>{body}</table>"
        "<!--EndFragment--></body></html>"
    )
