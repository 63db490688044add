"""Written rows in the styles of many people: read exactly, and no mistaken twin is silent."""

import pytest

from tests.helpers.written_styles import STYLES
from tests.helpers.written_tally import tally_of

CHARTS = 2  # of each style; tests/benchmarks/written_styles.py takes more


@pytest.mark.parametrize("name", STYLES)
def test_a_style_is_read_and_its_twins_are_not_silent(name):
    tally = tally_of(STYLES[name], range(CHARTS))
    assert tally.wrong == []
    assert tally.silent == []
    assert tally.twins_refused + tally.twins_asked > tally.twins / 2


def test_there_are_styles_enough():
    assert len(STYLES) >= 60
