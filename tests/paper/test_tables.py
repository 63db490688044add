"""All tables of a plan as CSV and as one workbook: the same, and no formula in them."""

import io
from dataclasses import replace

import openpyxl
import pandas as pd
import pytest

from planner import Chart, Gauge, Project, Yarn, make_plan
from planner.charts import tables_xlsx
from planner.paper import TABLES, csv_of, tables_of
from tests.helpers.plans import demo

NAMES = ["=1+1", "+2", "@SUM(A1)", "-3", "<b>", "a\x07b", "כחול", "x" * 200]


def named():
    chart = Chart.from_rows(["ABCDEFGH"] * 3)
    yarns = {letter: Yarn(letter, name) for letter, name in zip("ABCDEFGH", NAMES, strict=True)}
    return make_plan(replace(Project("names", chart, yarns, Gauge(20, 28)), units="in"))


@pytest.mark.parametrize("plan", [demo, named])
def test_the_workbook_holds_what_the_tables_say(plan):
    tables = tables_of(plan())
    assert tuple(tables) == TABLES
    book = openpyxl.load_workbook(io.BytesIO(tables_xlsx(tables)))
    assert book.sheetnames == [name.replace("_", " ") for name in TABLES]
    for sheet, table in zip(book, tables.values(), strict=True):
        head, *lines = sheet.iter_rows(values_only=True)
        assert list(head) == list(table)
        expected = []
        for row in table.itertuples(index=False):
            cells = [None if pd.isna(cell) or cell == "" else cell for cell in row]
            expected.append([cell.replace("\x07", "") if isinstance(cell, str) else cell
                             for cell in cells])  # fmt: skip
        assert [list(line) for line in lines] == expected
        assert sheet.freeze_panes == "A2"


@pytest.mark.parametrize("plan", [demo, named])
def test_nothing_is_a_formula(plan):
    tables = tables_of(plan())
    book = openpyxl.load_workbook(io.BytesIO(tables_xlsx(tables)))
    kinds = {cell.data_type for sheet in book for line in sheet for cell in line}
    assert kinds <= {"s", "n", "b"}
    texts = [cell for sheet in book for line in sheet for cell in line if cell.data_type == "s"]
    assert all(cell.quotePrefix for cell in texts)
    for table in tables.values():
        read = pd.read_csv(io.BytesIO(csv_of(table)), dtype="string", keep_default_na=False)
        cells = [cell for column in read for cell in read[column]]
        words = [cell for cell in cells if not cell.replace(".", "", 1).lstrip("-").isdigit()]
        assert not [cell for cell in words if cell.startswith(("=", "+", "-", "@"))]


def test_the_same_bytes_every_time():
    assert tables_xlsx(tables_of(named())) == tables_xlsx(tables_of(named()))
