"""The notebooks as they are committed: run whole, small, and shown without a kernel."""

import json

import pytest

from tests.conftest import ROOT

NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_committed_as_run(path):
    assert path.stat().st_size < 1_000_000
    notebook = json.loads(path.read_text(encoding="utf-8"))
    assert "widgets" not in notebook["metadata"]
    code = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
    assert [cell["execution_count"] for cell in code] == list(range(1, len(code) + 1))
    assert any("nbval-check-output" in cell["metadata"].get("tags", ()) for cell in code)
    for cell in code:
        assert cell["outputs"], f"nothing is shown by: {''.join(cell['source'])}"
        for output in cell["outputs"]:
            assert output["output_type"] != "error"
            assert output.get("name") != "stderr"
            assert "application/vnd.jupyter.widget-view+json" not in output.get("data", {})


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_opens_with_what_you_do_get_and_need(path):
    first = "".join(json.loads(path.read_text(encoding="utf-8"))["cells"][0]["source"])
    assert all(words in first for words in ("What you do here", "What you get", "What you need"))
