"""What the tests of the forms share: the demo piece, to be changed, laid out on a desk."""

import pytest

from planner import open_project
from planner.workbook import Desk


@pytest.fixture
def desk(demo_copy):
    return Desk(open_project(demo_copy))
