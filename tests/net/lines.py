"""The line of each section, the line for all, and the file in which they are written down."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path

import matplotlib

from tests.net.pieces import TESTS
from tests.net.sections import SECTIONS, digest, text_of

__all__ = ["SECTIONS", "digest", "text_of"]  # and what stands below

FILE = TESTS / "cases" / "same_plans.txt"
DRAWN = ("pictures",)  # hang on the drawing library, so they have no part in the line for all
ALL = "all but pictures"
HEAD = """\
# What tests/same_plans.py prints; renew it with --write when a plan is to change.
# The pictures are compared where the drawing library is the same as here:
"""

for file in (
    *("plans", "choices", "knitting", "buying", "charts", "sheets", "artwork"),
    *("folders", "workbook", "drawings"),
):
    import_module(f"tests.net.{file}")


def drawn_by() -> str:
    """The drawing library and its version of FreeType."""
    freetype = matplotlib.ft2font.__freetype_version__
    return f"matplotlib {matplotlib.__version__}, FreeType {freetype}"


def found_on_paper() -> str:
    """The drawing library by which the lines of the file were found."""
    lines = FILE.read_text("utf-8").splitlines()
    return next(line[2:] for line in lines if line.startswith("# matplotlib"))


def total(found: dict[str, str]) -> str:
    """The line for all sections but the pictures, whatever their order."""
    names = sorted(name for name in found if name in SECTIONS and name not in DRAWN)
    return digest("\n".join(f"{name} {found[name]}" for name in names))


def lines_of(names: Sequence[str] = (), *, say: Callable[[str], None] = print) -> dict[str, str]:
    """The digest of each section named, or of all; `say` is told each as it is found."""
    found = {}
    for name in names or SECTIONS:
        found[name] = digest(text_of(name))
        say(f"{name:24} {found[name]}")
    if not names:
        say(f"{ALL:24} {total(found)}")
    return found


def write_texts(folder: Path, names: Sequence[str] = ()):
    """The text of each section in a file of its name."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in names or SECTIONS:
        (folder / f"{name}.txt").write_text(text_of(name), encoding="utf-8")


def write_down(found: dict[str, str]):
    """Write these lines into the file; those of other sections stay."""
    known = written() | found
    known = {name: known[name] for name in SECTIONS if name in known}
    lines = [f"{name:24} {line}" for name, line in known.items()]
    lines.append(f"{ALL:24} {total(known)}")
    text = f"{HEAD}# {drawn_by()}\n" + "\n".join(lines) + "\n"
    FILE.write_text(text, encoding="utf-8", newline="\n")


def written() -> dict[str, str]:
    """The lines of the file by section; none if there is no file yet."""
    if not FILE.exists():
        return {}
    lines = FILE.read_text("utf-8").splitlines()
    pairs = (line.rsplit(maxsplit=1) for line in lines if not line.startswith("#"))
    return {name.strip(): line for name, line in pairs}
