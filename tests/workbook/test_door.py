"""The door of the workbook: who may come in, and what is seen from there."""

import json
import urllib.error
import urllib.request

import psutil
import pytest

from tests.conftest import jupyterlab

A_CHART = "files/data/harbour-cushion/chart.csv"


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    with jupyterlab(tmp_path_factory.mktemp("lab")) as running:
        yield running


class Stay(urllib.request.HTTPRedirectHandler):
    """Goes nowhere else: to be sent to the page that asks for the token is no way in."""

    def redirect_request(self, *_):
        return None


def answer(lab, path, *, token=True, method="GET", body=None, **headers):
    """The status of an answer, and what it says."""
    if token:
        headers["Authorization"] = f"token {lab.token}"
    ask = urllib.request.Request(f"{lab.address}/{path}", body, headers, method=method)
    try:
        with urllib.request.build_opener(Stay).open(ask, timeout=20) as got:
            return got.status, got.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, ""


def test_only_this_computer_is_listened_to(lab):
    programs = [psutil.Process(lab.pid), *psutil.Process(lab.pid).children(recursive=True)]
    places = [c.laddr.ip for p in programs for c in p.net_connections() if c.status == "LISTEN"]
    assert set(places) == {"127.0.0.1"}


@pytest.mark.parametrize("path", ["api/contents", "api/kernels", "api/sessions", A_CHART, "lab"])
def test_nobody_comes_in_without_the_token(lab, path):
    assert answer(lab, path)[0] == 200
    # Refused, or sent to the page that asks for the token.
    assert answer(lab, path, token=False)[0] in (403, 302)
    assert answer(lab, path, token=False, Authorization="token wrong")[0] in (403, 302)


def test_a_name_that_is_made_to_lead_here_leads_nowhere(lab):
    assert answer(lab, "api/contents", Host="example.org")[0] == 403


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_there_are_no_terminals(lab, method):
    assert answer(lab, "api/terminals", method=method)[0] == 404
    assert answer(lab, "terminals/websocket/1", method=method)[0] == 404


def test_only_the_notebooks_and_the_pieces_are_listed(lab):
    status, text = answer(lab, "api/contents")
    assert status == 200
    assert {entry["name"] for entry in json.loads(text)["content"]} == {"data", "notebooks"}


@pytest.mark.parametrize(
    "path",
    [
        "api/contents/.lab",
        "files/.lab/overrides.json",
        "api/contents/%2e%2e",
        "files/%2e%2e/jupyterlab.log",
    ],
)
def test_what_is_hidden_or_outside_is_not_served(lab, path):
    assert answer(lab, path)[0] in (403, 404)


def test_pieces_and_notebooks_are_served(lab):
    assert answer(lab, A_CHART)[0] == 200
    assert answer(lab, "api/contents/notebooks/1-chart-and-gauge.ipynb?content=0")[0] == 200


def test_nothing_is_asked_from_the_makers_of_jupyterlab(lab):
    """No list of extensions, no news."""
    status, text = answer(lab, "lab")
    assert status == 200
    config = json.loads(
        text.split('id="jupyter-config-data" type="application/json">')[1].split("</script>")[0]
    )
    assert config["news"] == {"disabled": True}
    assert config["extensionManager"]["can_install"] is False
    assert config.get("terminalsAvailable", False) is False


NOTEBOOK = "api/contents/notebooks/1-chart-and-gauge.ipynb"
SAVED = json.dumps({"type": "file", "format": "text", "content": "not a notebook"}).encode()


@pytest.mark.parametrize(
    ("path", "method"),
    [
        (NOTEBOOK, "PUT"),
        ("api/contents/data/a-link.ipynb", "PUT"),
        (f"{NOTEBOOK}/checkpoints", "POST"),
        (f"{NOTEBOOK}/checkpoints/checkpoint", "POST"),
    ],
)
def test_a_notebook_of_the_workbook_is_never_written(lab, path, method):
    """Whatever asks for it; what they show would be dead the next day."""
    file = lab.root / "notebooks" / "1-chart-and-gauge.ipynb"
    before = file.read_bytes()
    link = lab.root / "data" / "a-link.ipynb"
    if not link.exists():
        link.symlink_to(file)
    assert answer(lab, path, method=method, body=SAVED)[0] == 403
    assert file.read_bytes() == before


def test_any_other_file_is_written(lab):
    path = "api/contents/notebooks/mine.ipynb"
    assert answer(lab, path, method="PUT", body=SAVED)[0] == 201
    assert (lab.root / "notebooks" / "mine.ipynb").read_text() == "not a notebook"
    assert answer(lab, f"{path}/checkpoints", method="POST", body=SAVED)[0] == 201
    assert answer(lab, f"{path}/checkpoints/checkpoint", method="POST", body=SAVED)[0] == 204
