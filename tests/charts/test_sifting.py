"""Workbooks built to harm: what passes on to openpyxl is small, and the rest is refused in words.

Nothing is timed: what openpyxl is handed is weighed, and every count has its limit.
"""

import io
import zipfile

import pytest

from planner import PlanError
from planner.charts import pages, sifting
from planner.charts.sheets import read_sheet
from planner.charts.sifting import (
    COLUMNS_READ,
    MOST,
    MOST_LETTERS,
    MOST_OTHERS,
    MOST_PARTS,
    ROWS_READ,
    Tally,
    sifted,
)
from tests.helpers.workbooks import (
    SHEET_1,
    fills,
    lettered,
    replaced,
    rows_of,
    with_part,
    workbook,
    write_letters,
)

CHART = lettered(["AB", "BA"])
STYLES, STRINGS, THEME = "xl/styles.xml", "xl/sharedStrings.xml", "xl/theme/theme1.xml"
WORKBOOK = "xl/workbook.xml"
SPACES = b" " * 20_000_000
SMALL = 10_000  # bytes; what a chart of four cells comes to


def handed_over(data: bytes) -> int:
    """The bytes that openpyxl gets of a workbook."""
    lean, _ = sifted(data, "m.xlsx")
    return lean.getbuffer().nbytes


def parts_of(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {part: archive.read(part) for part in archive.namelist()}


def before(part: str, tag: bytes, xml: bytes) -> bytes:
    """The chart's workbook with something before a tag."""
    return replaced(CHART, part, tag, xml + tag)


def below(data: bytes, xml: bytes) -> bytes:
    """The workbook with something after the rows of its first sheet."""
    return replaced(data, SHEET_1, b"</sheetData>", xml + b"</sheetData>")


def merging(data: bytes, *areas: str) -> bytes:
    cells = "".join(f'<mergeCell ref="{area}"/>' for area in areas)
    xml = f"</sheetData><mergeCells>{cells}</mergeCells>"
    return replaced(data, SHEET_1, b"</sheetData>", xml.encode())


# What passes


def test_openpyxl_gets_what_the_reading_of_cells_needs(monkeypatch):
    """A chart with a picture of it, a comment, rules, links and properties: none of these pass."""

    def draw(book, sheet):
        write_letters(sheet, ["AB", "BA"], formats=fills(book, {"A": "#ff0000"}))
        sheet.write_comment("A1", "a comment")
        sheet.write_url("D9", "http://example.com", string="A")
        sheet.conditional_format("A1:B2", {"type": "blanks", "format": None})
        chart = book.add_chart({"type": "line"})
        chart.add_series({"values": "=Motif!$A$1:$A$2"})
        sheet.insert_chart("F1", chart)
        book.define_name("Sales", "=Motif!$A$1")

    handed = []

    def load(file, **settings):
        handed.append(parts_of(file.getvalue()))
        return openpyxl_load(file, **settings)

    openpyxl_load = pages.load_workbook
    monkeypatch.setattr(pages, "load_workbook", load)
    data = workbook(draw)
    assert rows_of(read_sheet(data, "m.xlsx", area="A1:B2")) == ["AB", "BA"]
    (parts,) = handed
    needed = {"[Content_Types].xml", WORKBOOK, STYLES, STRINGS, THEME, SHEET_1}
    assert {part for part in parts if not part.endswith(".rels")} == needed
    assert needed < {part for part in parts_of(data) if not part.endswith(".rels")}
    everything = b"".join(parts.values())
    for tag in (
        b"<hyperlink",
        b"<conditional",
        b"<definedName ",
        b"Sales",
        b"<sz",
        b"<drawing",
        b"<dxf",
    ):
        assert tag not in everything
    assert b"hyperlink" not in parts["xl/worksheets/_rels/sheet1.xml.rels"]


@pytest.mark.parametrize(("cells", "size"), [(0, True), (10, False)])
def test_of_very_many_formatted_rows_only_the_first_pass(cells, size):
    """Red rows and cells without a letter, far below the chart."""
    rows = ["AB" * 20, "BA" * 20] * 30
    red_and_green = {"A": "#ff0000", "B": "#00ff00"}
    data = workbook(
        lambda book, sheet: write_letters(sheet, rows, formats=fills(book, red_and_green))
    )
    if not size:
        data = replaced(data, SHEET_1, b'<dimension ref="A1:AN60"/>', b"")
    row = '<row r="%d" s="1" customFormat="1">' + '<c s="1"/>' * cells + "</row>"
    data = below(data, "".join(row % number for number in range(61, 30_000)).encode())
    merged = merging(data, "A1:A2")
    assert rows_of(read_sheet(data, "endless.xlsx")) == rows
    assert handed_over(data) < 2_000_000
    # What comes after the rows is still read.
    _, notes = sifted(merged, "endless.xlsx")
    assert notes[SHEET_1].merged == [(slice(0, 2), slice(0, 1))]


@pytest.mark.parametrize("part", [WORKBOOK, STYLES, STRINGS, THEME, SHEET_1])
def test_zipped_spaces_do_not_pass(part):
    """Twenty million spaces before the last tag of a part, a few kilobytes zipped."""

    def change(xml):
        head, end, tail = xml.rpartition(b"</")
        return head + SPACES + end + tail

    data = with_part(CHART, part, change)
    assert len(data) < 50_000
    assert handed_over(data) < SMALL
    assert rows_of(read_sheet(data, "m.xlsx")) == ["AB", "BA"]


def test_hidden_rows_and_columns_are_clipped_to_what_is_read():
    data = replaced(
        CHART,
        SHEET_1,
        b"<sheetData>",
        b'<cols><col min="2" max="16384" hidden="1"/></cols><sheetData>',
    )
    data = below(data, b'<row r="3" hidden="true"/><row r="5000" hidden="1"/>')
    _, notes = sifted(data, "m.xlsx")
    assert notes[SHEET_1].hidden_rows == {2}
    assert notes[SHEET_1].hidden_columns == set(range(1, COLUMNS_READ))
    assert rows_of(read_sheet(data, "m.xlsx")) == ["A", "B"]


def test_merged_cells_are_clipped_to_what_is_read():
    data = merging(CHART, "D1:XFD1048576", "XFA1:XFD2", "A5000:B6000")
    _, notes = sifted(data, "m.xlsx")
    assert notes[SHEET_1].merged == [(slice(0, ROWS_READ), slice(3, COLUMNS_READ))]
    assert handed_over(data) < SMALL


def test_a_cell_far_to_the_right_does_not_pass():
    data = replaced(CHART, SHEET_1, b"</row>", b'<c r="XFD1" t="n"><v>7</v></c></row>')
    _, notes = sifted(data, "m.xlsx")
    assert (notes[SHEET_1].rows, notes[SHEET_1].columns) == (2, 2)
    assert rows_of(read_sheet(data, "m.xlsx")) == ["AB", "BA"]


def test_a_whole_sheet_merged_is_a_chart_too_large():
    with pytest.raises(PlanError, match="at most 1,000 × 2,000"):
        read_sheet(merging(CHART, "A1:XFD1048576"), "m.xlsx")


# What is refused

ENTITIES = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'
NESTED = b"<a>" * 200_000 + b"</a>" * 200_000
NAMES = b"".join(b"<a%d/>" % number for number in range(20_000))
FAR_ROW = b'<row r="3000"/>'
FORMATS = b'<xf numFmtId="0" fontId="0" fillId="0" borderId="0"/>' * 1_000_000


def after_prologue(xml: bytes) -> bytes:
    head, end, tail = xml.partition(b"?>")
    return head + end + ENTITIES + tail


HOSTILE = {
    "entities in the sheet": (lambda: with_part(CHART, SHEET_1, after_prologue), "DOCTYPE"),
    "entities in the texts": (lambda: with_part(CHART, STRINGS, after_prologue), "DOCTYPE"),
    "entities in the theme": (lambda: with_part(CHART, THEME, after_prologue), "DOCTYPE"),
    "nested tags in the sheet": (
        lambda: before(SHEET_1, b"<sheetData>", NESTED),
        "within more than",
    ),
    "nested tags in the formats": (lambda: before(STYLES, b"<cellXfs", NESTED), "within more than"),
    "nested tags below the rows": (
        lambda: below(CHART, FAR_ROW + b"<a>" * 2**21),
        "within more than",
    ),
    "tags of many names": (lambda: before(SHEET_1, b"<sheetData>", NAMES), "different names"),
    "a tag without end": (lambda: before(SHEET_1, b"<sheetData>", b'<a b="' + SPACES), "no end"),
    "cell formats": (lambda: before(STYLES, b"</cellXfs>", FORMATS), "more cell formats"),
    "sheets": (lambda: before(WORKBOOK, b"</sheets>", b"<sheet/>" * 1000), "more sheets"),
    "merged cells": (lambda: merging(CHART, *["A1:XFD1048576"] * 2), "lie upon each other"),
}


@pytest.mark.parametrize("what", HOSTILE)
def test_what_is_built_to_harm_is_refused_before_openpyxl_sees_it(what, monkeypatch):
    build, word = HOSTILE[what]
    data = build()
    monkeypatch.setattr(pages, "load_workbook", lambda *_, **__: pytest.fail("it was handed over"))
    with pytest.raises(PlanError) as caught:
        read_sheet(data, "m.xlsx")
    assert word in str(caught.value)
    assert str(caught.value).startswith("m.xlsx ")
    assert len(data) < 2_000_000


def test_a_workbook_of_very_many_parts_is_refused():
    file = io.BytesIO(CHART)
    with zipfile.ZipFile(file, "a") as archive:
        for number in range(MOST_PARTS):
            archive.writestr(f"{number}.xml", b"")
    with pytest.raises(PlanError, match="more parts"):
        read_sheet(file.getvalue(), "m.xlsx")


@pytest.mark.parametrize("tag", [*MOST, "fill"])
def test_every_count_has_its_limit(tag):
    most, what = MOST.get(tag, MOST_OTHERS)
    tally = Tally("m.xlsx")
    tally.passed[tag] = most - 1
    tally.add(tag)
    with pytest.raises(PlanError, match=rf"^m\.xlsx has more {what} than any chart needs\. Copy"):
        tally.add(tag)


SIZES = [
    ("MOST_TAGS", 20, "more cells and other tags"),
    ("MOST_LETTERS", 3, "more text"),
    ("MOST_UNPACKED", 1000, "unpacks to more"),
]


@pytest.mark.parametrize(("limit", "most", "words"), SIZES)
def test_the_chart_of_four_cells_is_too_much_where_so_little_is_allowed(
    limit, most, words, monkeypatch
):
    monkeypatch.setattr(sifting, limit, most)
    with pytest.raises(PlanError, match=words):
        read_sheet(CHART, "m.xlsx")


def test_letters_have_their_limit():
    tally = Tally("m.xlsx")
    tally.add_letters(MOST_LETTERS)
    with pytest.raises(PlanError, match="more text"):
        tally.add_letters(1)
