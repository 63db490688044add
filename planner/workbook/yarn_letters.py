"""Another letter for a yarn, and a yarn taken away: everywhere it stands, or not at all.

The logs only grow, so that a letter that stands in one of them stays as it is.
"""

from __future__ import annotations

import re
from dataclasses import replace

from planner.errors import PlanError
from planner.piece import LETTER, Chart, OwnChoice, Project, standing
from planner.units import counted

ON = "on "  # before the ground of an embroidery
LETTERS = re.compile(r"[^\W\d_]+(?=\d)")  # of the strands in a note, such as "9 N3, 3 Y1 cut"


def check_letter(letter: str, field: str) -> None:
    """Refuse what is no yarn's letter; `field` is what the box is called in which it was typed."""
    wanted = "Type one to three letters there, such as A"
    if not letter:
        raise PlanError(f'The yarn\'s letter is missing: "{field}" is empty. {wanted}.')
    if not LETTER.fullmatch(letter):
        raise PlanError(f'"{letter}" in "{field}" is not a yarn letter. {wanted}.')


def with_letter(project: Project, old: str, new: str) -> Project:
    """The piece in which a yarn has another letter: on the chart, in yarns.csv, in settings and
    choices.

    Raises PlanError where that cannot be.
    """
    check_letter(new, "its letter on the chart")
    if new in project.all_yarns:
        raise PlanError(f"There is a yarn {new} already. Take another letter.")
    if old not in project.all_yarns:
        raise PlanError(f"There is no yarn {old} any more.")
    _check_logs(project, old, "keeps its letter")
    names = {letter: letter for letter in project.all_yarns} | {old: new}
    rows = project.chart.to_rows()
    renamed_rows = [[names.get(cell, cell) for cell in row] for row in rows]
    yarns = {}
    for letter, yarn in project.yarns.items():
        yarns[names[letter]] = replace(yarn, letter=names[letter])
    allow = project.allow
    if allow.cast_on_in == old:
        allow = replace(allow, cast_on_in=new)
    return replace(
        project,
        chart=Chart.from_rows(renamed_rows),
        yarns=yarns,
        by_yarn={names.get(letter, letter): own for letter, own in project.by_yarn.items()},
        allow=allow,
        choices=tuple(_renamed(choice, old, new) for choice in project.choices),
    )


def without_yarn(project: Project, letter: str) -> Project:
    """The piece without a yarn that nothing uses. Raises PlanError that says what does."""
    if letter not in project.yarns:
        raise PlanError(f"There is no yarn {letter} in yarns.csv, so there is none to take away.")
    stitches = project.chart.stitches().get(letter, 0)
    if stitches:
        raise PlanError(
            f"Yarn {letter} has {counted(stitches, 'stitch')} on the chart. Put another yarn in "
            "their place first."
        )
    _check_logs(project, letter, "cannot be taken away")
    if project.allow.cast_on_in == letter:
        raise PlanError(
            f"All stitches are cast on in {letter}. Choose another yarn for that first, in "
            "notebook 3 under How much yarn."
        )
    if any(letter in (choice.yarn, _ground(choice)) for choice in project.choices):
        raise PlanError(
            f"A choice of your own is about yarn {letter}. Take it back first, in notebook 5 or 3."
        )
    yarns = {name: yarn for name, yarn in project.yarns.items() if name != letter}
    by_yarn = {name: own for name, own in project.by_yarn.items() if name != letter}
    return replace(project, yarns=yarns, by_yarn=by_yarn)


def _check_logs(project: Project, letter: str, what: str) -> None:
    """Refuse to touch a letter by which a log knows a yarn."""
    if any(line.yarn == letter for line in project.measurements):
        raise PlanError(
            f"Yarn {letter} {what}: measurements.csv tells of it, and what was measured stays as "
            "it was put down."
        )
    for entry in standing(project.progress):
        named = f"{entry.runs} {entry.strand} {entry.other}"
        if letter in LETTERS.findall(named):
            raise PlanError(
                f"Yarn {letter} {what}: rows worked with it are marked in notebook 4 "
                "(progress.csv)."
            )


def _ground(choice: OwnChoice) -> str:
    """The yarn that an embroidery is put on; "" where the choice says none."""
    return choice.choice.removeprefix(ON) if choice.choice.startswith(ON) else ""


def _renamed(choice: OwnChoice, old: str, new: str) -> OwnChoice:
    """A choice in which a yarn has another letter."""
    if choice.yarn == old:
        choice = replace(choice, yarn=new)
    if _ground(choice) == old:
        choice = replace(choice, choice=ON + new)
    return choice
