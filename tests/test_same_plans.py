"""No plan, table, card, message or picture has changed that was not meant to.

The lines stand in cases/same_plans.txt (grade: as they were computed when they were written down).
"""

import pytest

from tests.net.lines import SECTIONS, digest, drawn_by, found_on_paper, text_of, total, written

HELP = (
    "{0} has changed. Compare the texts that tests/same_plans.py --text FOLDER {0} writes before "
    "and after; if the change was meant, renew the line with tests/same_plans.py --write {0}."
)


def test_every_section_is_written_down():
    lines = written()
    assert set(lines) - {"all but pictures"} == set(SECTIONS)
    assert total({name: lines[name] for name in SECTIONS}) == lines["all but pictures"]


@pytest.mark.parametrize("name", SECTIONS)
def test_section(name):
    if name == "pictures" and found_on_paper() != drawn_by():
        pytest.skip(f"the pictures were drawn by {found_on_paper()}, these by {drawn_by()}")
    assert digest(text_of(name)) == written()[name], HELP.format(name)
