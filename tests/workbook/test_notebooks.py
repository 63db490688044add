"""The notebooks as they are committed: run whole, small, shown without a kernel, and in sentences.

A cell is a sentence that a knitter can read: the first opens the piece, each other one is one call
of it.
"""

import ast
import json

import pytest

from planner.workbook import Piece
from tests.conftest import ROOT

NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
OPENING = "from planner.workbook import open_piece\npiece = open_piece()"
# What a notebook that opens by itself need not ask for.
NOT_TO_BE_READ = ("Run All", "PIECE", "sys.path")

every_notebook = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)


def cells_of(path, kind):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return [cell for cell in cells if cell["cell_type"] == kind]


def sources_of(path, kind):
    return ["".join(cell["source"]) for cell in cells_of(path, kind)]


@every_notebook
def test_committed_as_run(path):
    assert path.stat().st_size < 1_000_000
    assert "widgets" not in json.loads(path.read_text(encoding="utf-8"))["metadata"]
    code = cells_of(path, "code")
    assert [cell["execution_count"] for cell in code] == list(range(1, len(code) + 1))
    # What the first cell shows is compared: the piece, and its plan in a line.
    assert "nbval-check-output" in code[0]["metadata"]["tags"]
    for cell in code:
        assert cell["outputs"], f"nothing is shown by: {''.join(cell['source'])}"
        for output in cell["outputs"]:
            assert output["output_type"] != "error"
            assert output.get("name") != "stderr"
            assert "application/vnd.jupyter.widget-view+json" not in output.get("data", {})


@every_notebook
def test_begins_with_its_title_and_what_is_done_here(path):
    """Number and title, then one or two lines."""
    first = sources_of(path, "markdown")[0]
    title, _, words = first.partition("\n")
    assert title.startswith(f"# {path.name[0]} · ")
    assert 20 <= len(words.strip()) <= 400


@every_notebook
def test_each_cell_is_one_call_of_the_piece(path):
    first, *others = sources_of(path, "code")
    assert first == OPENING
    for source in others:
        (statement,) = ast.parse(source).body
        call = statement.value
        assert isinstance(call, ast.Call), source
        assert ast.unparse(call.func.value) == "piece", source
        assert hasattr(Piece, call.func.attr), source
        # Nothing is worked out in a cell: what it is given stands there as it is.
        given = [*call.args, *(keyword.value for keyword in call.keywords)]
        assert all(isinstance(each, ast.Constant) for each in given), source


@every_notebook
def test_asks_for_nothing_but_reading(path):
    words = "\n".join([*sources_of(path, "markdown"), *sources_of(path, "code")])
    assert [each for each in NOT_TO_BE_READ if each in words] == []
