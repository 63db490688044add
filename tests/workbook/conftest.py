"""What the tests of the forms share: the demo piece, on a desk or alone among the pieces."""

import shutil

import pytest

import planner.workbook.desk as desks
from planner import open_project
from planner.workbook import Desk
from tests.conftest import DEMO, NOT_ITS_OWN


@pytest.fixture
def desk(demo_copy):
    return Desk(open_project(demo_copy))


@pytest.fixture
def data(tmp_path, monkeypatch):
    """The data folder with the demo alone in it."""
    data = tmp_path / "data"
    ignored = shutil.ignore_patterns(*NOT_ITS_OWN)
    shutil.copytree(DEMO, data / "harbour-cushion", ignore=ignored)
    monkeypatch.setattr(desks, "DATA", data)
    monkeypatch.delenv("PLANNER_DEMO", raising=False)
    return data
