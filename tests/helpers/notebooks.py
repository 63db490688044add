"""How nbval runs the notebooks: off the network."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import pytest

from tests.helpers.offline import asked_for, off_the_network

ROOT = Path(__file__).resolve().parents[2]
ASKED = Path(tempfile.gettempdir()) / f"asked-by-notebooks-{os.getpid()}"


def is_cell(item) -> bool:
    """Whether a test is a cell of a notebook."""
    return item.path.suffix == ".ipynb"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_setup(item):
    """A kernel that is started for a cell is off the network."""
    if not is_cell(item):
        return (yield)
    with pytest.MonkeyPatch.context() as patch:
        for name, value in off_the_network(ASKED, ROOT).items():
            patch.setenv(name, value)
        return (yield)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item):
    """Nothing may be asked from outside by a cell."""
    answer = yield
    if is_cell(item):
        wanted = asked_for(ASKED)
        ASKED.unlink(missing_ok=True)
        assert not wanted, f"asked from outside: {wanted}"
    return answer
