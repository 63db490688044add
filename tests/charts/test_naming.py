"""The names that the key of a sheet gives its yarns."""

import io

import pytest
from openpyxl import Workbook
from openpyxl.styles import PatternFill

from planner import Chart, Construction, Yarn
from planner.charts import chart_xlsx, open_artwork, read_sheet
from planner.charts.carried import carried_chart
from planner.charts.handout import chart_png

OAT, LEAF = "#d9b382", "#7cb342"


def fill(colour):
    return PatternFill("solid", fgColor=colour[1:].upper())


def painted(entries, *, sheet="Sheet"):
    """A workbook with a chart in two fills, and a key: a fill or a text, and a name beside it."""
    book = Workbook()
    page = book.active
    for row in range(1, 5):
        for column in range(1, 7):
            page.cell(row, column).fill = fill(OAT if (row + column) % 3 else LEAF)
    key = page if sheet == "Sheet" else book.create_sheet(sheet)
    for row, (sign, name) in enumerate(entries, 1):
        if sign.startswith("#"):
            key.cell(row, 10).fill = fill(sign)
        else:
            key.cell(row, 10, sign)
        key.cell(row, 11, name)
    saved = io.BytesIO()
    book.save(saved)
    return saved.getvalue()


def names_by_colour(found):
    return {found.colours[letter]: name for letter, name in found.names.items()}


@pytest.mark.parametrize("sheet", ["Sheet", "Key"])
def test_names_beside_fills(sheet):
    """On the sheet of the chart or on one of its own; a shade hardly off is the same yarn."""
    data = painted([(OAT, "Oat"), ("#7cb344", "Leaf green")], sheet=sheet)
    found = read_sheet(data, "key.xlsx")
    assert names_by_colour(found) == {OAT: "Oat", LEAF: "Leaf green"}
    # Its letters are given in order, for the sheet has none.
    assert sorted(found.given) == list(found.chart.letters) == ["A", "B"]


@pytest.mark.parametrize(
    ("key", "names"),
    [
        (",,A,Oat\n,,B,Leaf green\n", {"A": "Oat", "B": "Leaf green"}),
        (",,A = Oat\n,,B: Leaf green\n", {"A": "Oat", "B": "Leaf green"}),
        (',,"Key: A = Oat; B = Leaf green"\n', {"A": "Oat", "B": "Leaf green"}),
        # A number, a sign that the chart has not, a sentence and no stitch are no names of it.
        (",,A,120\n,,X,Moss\n", {}),
        (f",,A,{'a long sentence ' * 5}\n", {}),
        (",,A = Oat\n,,A = Rye\n", {"A": "Oat"}),
    ],
)
def test_names_beside_signs(key, names):
    rows = "A,A,B,A,B\nA,B,B,A,B\nB,B,A,A,A\nA,A,A,A,B\n"
    found = read_sheet((rows + "\n" + key).encode(), "key.csv")
    assert found.chart.letters == ("A", "B")
    assert (found.names, found.given) == (names, frozenset())


def test_a_word_in_the_cells_is_a_name():
    rows = "leaf green,oats,oats\noats,leaf green,oats\nleaf green,leaf green,oats\n"
    found = read_sheet(rows.encode(), "words.csv")
    assert found.names == {"L": "leaf green", "O": "oats"}
    assert found.given == {"L", "O"}


YARNS = {"A": Yarn("A", "Oat", OAT), "B": Yarn("B", "Leaf green", LEAF), "C": Yarn("C")}
CHART = Chart.from_rows(["AAB", "ABB", "CCC"])


def test_names_come_back_from_what_is_handed_out():
    found = read_sheet(chart_xlsx(CHART, YARNS, 0.75, Construction()), "out.xlsx")
    assert found.chart == CHART
    assert found.names == {"A": "Oat", "B": "Leaf green"}
    carried = carried_chart(open_artwork(chart_png(CHART, YARNS, 0.75), "out.png"))
    assert carried.chart == CHART
    assert carried.names == {"A": "Oat", "B": "Leaf green"}
