"""One line a section, and one for all, that stand for all that the planner says.

.venv/bin/python tests/same_plans.py                      every section
.venv/bin/python tests/same_plans.py offers ceiling       these sections
.venv/bin/python tests/same_plans.py --write              write the lines down
.venv/bin/python tests/same_plans.py --text FOLDER …      the whole texts, a file a section

The lines are the same before and after a change that must not change a plan. To see what has
changed, write the texts of both sides into two folders and compare these.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from tests.net import lines  # noqa: E402 (the folder must be found first)


def main(arguments: list[str]) -> int:
    """Print the lines of the sections named, or write them, or their texts."""
    write, folder = "--write" in arguments, None
    names = [argument for argument in arguments if argument != "--write"]
    if "--text" in names:
        at = names.index("--text")
        folder = Path(names[at + 1])
        del names[at : at + 2]
    strange = [name for name in names if name not in lines.SECTIONS]
    if strange:
        print(f"There is no section {', '.join(strange)}. There are: {', '.join(lines.SECTIONS)}.")
        return 2
    if folder is not None:
        lines.write_texts(folder, names)
        return 0
    found = lines.lines_of(names, say=print)
    if write:
        lines.write_down(found)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
