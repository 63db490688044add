"""piece.toml: how the knitter wants the piece planned, read and written back.

The file is the knitter's own. It may be edited by hand, with comments and in any order, and it may
say as little as it likes: what it does not say keeps its default. Writing changes only the values
that changed. Usual lengths, which are round in the units of the piece, are not written: they follow
when the units are changed.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, MutableMapping
from dataclasses import asdict, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomlkit
from tomlkit.items import InlineTable

from planner.errors import PlanError
from planner.folder.files import read_text
from planner.folder.usual import usual_gauge, usual_lengths
from planner.guards import (
    MOST_BYTES_OF_SETTINGS,
    MOST_LETTERS_OF_A_SETTING,
    MOST_NUMBER,
    MOST_POINTS_OF_A_LINE,
    check_amount,
)
from planner.piece import (
    TRAIN,
    Allowances,
    CarryLimits,
    Construction,
    Gauge,
    Habits,
    MultiplierChoice,
    Project,
    Weighing,
)

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

FORMAT = 1
# Of each part of the file, the field of Project that it fills, and the type of that.
SECTIONS: dict[str, tuple[str, type[DataclassInstance]]] = {
    "gauge": ("gauge", Gauge),
    "construction": ("how", Construction),
    "limits": ("limits", CarryLimits),
    "allowances": ("allow", Allowances),
    "habits": ("habits", Habits),
    "weighing": ("weighing", Weighing),
    "multiplier": ("multiplier", MultiplierChoice),
}
# Numbers that may be words: a carry limit of "2.5 cm", counts of "33 over 6, 34 over 6".
MAY_BE_WORDS = ("across", "sideways", "up", "stitches", "rows")
# What else hangs on the units of the piece: what a gauge is counted over before it is counted.
OF_THE_GAUGE = ("over", "unit")
# What stands above the parts, and of that what is written only where there is something to say:
# of a swatch, of which piece it is one.
WORDS = ("name", "units", "needle", "notes", "swatch_of")
MAY_BE_EMPTY = ("swatch_of", "needle", "notes")


def read_settings(path: Path) -> dict[str, Any]:
    """The settings of piece.toml as arguments of Project, for what it says and no more."""
    document = parsed_toml(read_text(path, most=MOST_BYTES_OF_SETTINGS), path.name)
    # A file written by hand need not say its format.
    if document.pop("format", FORMAT) != FORMAT:
        raise PlanError(
            f"{path.name} is in a format this planner does not know; it reads format {FORMAT}."
        )
    settings: dict[str, Any] = {}
    for name in WORDS:
        if name in document:
            settings[name] = document.pop(name)
    for name, value in settings.items():
        check_value(value, f"{path.name}: {name}")
        if not isinstance(value, str):
            raise PlanError(f"{path.name}: {name} is {value!r}; put it in quotation marks.")
    settings["by_yarn"] = _read_by_yarn(document.get("limits", {}), path.name)
    in_inches = settings.get("units") == "in"
    units = "in" if in_inches else "cm"
    # In inches even a part that the file does not have holds other lengths than its type.
    if in_inches:
        settings["gauge"] = usual_gauge(units)
        document = {"allowances": {}, "habits": {}} | document
    for section, values in document.items():
        if section not in SECTIONS or not isinstance(values, dict):
            raise PlanError(
                f'{path.name}: "{section}" means nothing here. Its parts are: '
                f"{', '.join((*WORDS, *SECTIONS))}."
            )
        name, kind = SECTIONS[section]
        if section == "habits":
            values = _with_place(values)
        settings[name] = _read_section(kind, values, section, usual_lengths(kind, units))
    return settings


def parsed_toml(text: str, file: str) -> dict[str, Any]:
    """The values in the text of a settings file; `file` names it in errors."""
    # Each point in a name is a table in a table; thousands of them take minutes.
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.lstrip().startswith("#"):
            where = f"{file} line {number}"
            check_amount(line.count("."), where, most=MOST_POINTS_OF_A_LINE, what="points")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(
            f"{file} cannot be read: {error}. Text needs quotation marks, numbers a decimal point."
        ) from None
    # Python's own, which the library lets through.
    except (ValueError, RecursionError):
        raise PlanError(
            f"{file} cannot be read: it has a number of thousands of digits, or brackets within "
            "hundreds of others. Take that out."
        ) from None


def check_value(value: object, what: str) -> None:
    """Refuse a text or a number larger than any setting."""
    if isinstance(value, str):
        check_amount(len(value), what, most=MOST_LETTERS_OF_A_SETTING, what="letters")
    elif isinstance(value, int) and abs(value) > MOST_NUMBER:
        raise PlanError(f"{what} is more than {MOST_NUMBER:,.0f}, which cannot be meant.")


def _with_place(habits: Mapping[str, Any]) -> dict[str, Any]:
    """The habits as they are written now: older files say only whether there is a table."""
    now = dict(habits)
    # Anything else under that name is refused later, as every name is that means nothing.
    if isinstance(now.get("table"), bool) and not now.pop("table"):
        now.setdefault("place", TRAIN)
    return now


def _read_by_yarn(limits: object, file: str) -> dict[str, DataclassInstance]:
    """The carry limits of single yarns. They are taken out of the part `limits`."""
    # A part that is no table is told of later, with the other parts.
    by_yarn = limits.pop("by_yarn", {}) if isinstance(limits, dict) else {}
    if not isinstance(by_yarn, dict):
        raise PlanError(
            f"{file}: by_yarn is {by_yarn!r}; write [limits.by_yarn.A] and below it the limits of "
            "yarn A."
        )
    own_limits = {}
    for letter, values in by_yarn.items():
        own_limits[letter] = _read_section(CarryLimits, values, f"limits of yarn {letter}")
    return own_limits


def _read_section(
    kind: type[DataclassInstance],
    values: object,
    where: str,
    usual: Mapping[str, Any] | None = None,
) -> DataclassInstance:
    """The settings type `kind` from a part of piece.toml; `usual` is what holds if it says nothing.

    Here names and kinds of values are checked; what a value is worth, the type checks itself.
    """
    defaults = {field.name: field.default for field in fields(kind)}
    if not isinstance(values, dict):
        raise PlanError(
            f"piece.toml, {where} is {values!r}; a part with {', '.join(defaults)} was expected."
        )
    for name, value in values.items():
        if name not in defaults:
            raise PlanError(
                f'piece.toml, {where}: "{name}" means nothing here. Use: {", ".join(defaults)}.'
            )
        default = defaults[name]
        check_value(value, f"piece.toml, {where}: {name}")
        if not _fits(value, default, or_words=name in MAY_BE_WORDS):
            # What has no default is a multiplier or its spread.
            example = 3.7 if default is None else default
            raise PlanError(
                f"piece.toml, {where}: {name} is {value!r}; something like {example!r} was "
                "expected."
            )
    return kind(**{**(usual or {}), **values})


def _fits(value: object, default: object, *, or_words: bool) -> bool:
    """Whether a value is of the kind of its default, which for a number may be None.

    `or_words`: a number may also be in words.
    """
    if isinstance(default, bool | str):
        return type(value) is type(default)
    if isinstance(value, str):
        return or_words
    # To Python true is a number too.
    return isinstance(value, int | float) and not isinstance(value, bool)


def settings_text(text: str, project: Project, kept: Project | None = None) -> str:
    """The text of piece.toml with the project's settings; the knitter's own comments stay.

    With `kept`, the project as it was read, only what has changed since is written.
    """
    # tomlkit, not tomllib: it keeps comments, order and blank lines.
    document = tomlkit.parse(text)
    document["format"] = FORMAT
    now, before = _words_of(project), _words_of(kept)
    update_table(document, _changed(now, before))
    new_units = kept is not None and kept.units != project.units
    for section, (name, kind) in SECTIONS.items():
        before = _values_of(kept, name)
        # What hangs on the units is written anew with them, though it may be what it was.
        for figure in (*usual_lengths(kind, project.units), *OF_THE_GAUGE):
            if new_units:
                before.pop(figure, None)
        changed = _changed(_values_of(project, name), before)
        update_table(_table(document, section), _without_usual(changed, kind, project.units))
    if kept is None or project.by_yarn != kept.by_yarn:
        _write_by_yarn(document["limits"], project.by_yarn)
    return tomlkit.dumps(document)


def _words_of(project: Project | None) -> dict[str, Any]:
    """What a project says above the parts, None where that is empty; nothing of no project."""
    if project is None:
        return {}
    words = {name: getattr(project, name) for name in WORDS}
    return words | {name: words[name] or None for name in MAY_BE_EMPTY}


def _values_of(project: Project | None, name: str) -> dict[str, Any]:
    """The values of one of a project's settings types; nothing of no project."""
    if project is None:
        return {}
    values = asdict(getattr(project, name))
    # Counts in words have lengths of their own, beside which another would only puzzle the reader.
    if name == "gauge" and {type(values["stitches"]), type(values["rows"])} == {str}:
        values["over"] = None
    return values


def _without_usual(
    values: Mapping[str, Any], kind: type[DataclassInstance], units: str
) -> dict[str, Any]:
    """The values with nothing for lengths that hold anyway, so that they are not written."""
    usual = usual_lengths(kind, units)
    return {name: None if usual.get(name) == value else value for name, value in values.items()}


def _changed(now: Mapping[str, Any], before: Mapping[str, Any]) -> dict[str, Any]:
    """What is new or has another value than before."""
    return {
        name: value for name, value in now.items() if name not in before or value != before[name]
    }


def _write_by_yarn(limits: MutableMapping[str, Any], by_yarn: Mapping[str, CarryLimits]) -> None:
    """Write the carry limits of single yarns, and take out those of yarns that have none now."""
    if not by_yarn and "by_yarn" not in limits:
        return  # an empty table would only puzzle the reader
    table = _table(limits, "by_yarn")
    # Such a yarn goes by the general limits again.
    for letter in set(table) - set(by_yarn):
        del table[letter]
    for letter, own_limits in by_yarn.items():
        update_table(_table(table, letter), asdict(own_limits))


def _table(parent: MutableMapping[str, Any], name: str) -> MutableMapping[str, Any]:
    """A table of the document that may hold others, made if it is not there."""
    table = parent.get(name)
    # A table in one line cannot hold others, and is written out.
    if table is None or isinstance(table, InlineTable):
        parent[name] = tomlkit.table()
        update_table(parent[name], {} if table is None else table.unwrap())
    written: MutableMapping[str, Any] = parent[name]
    return written


def update_table(table: MutableMapping[str, Any], values: Mapping[str, Any]) -> None:
    """Change what has another value, so that comments beside the rest stay."""
    for name, value in values.items():
        if value is not None and (name not in table or table[name] != value):
            table[name] = value
    # TOML has no word for nothing. Last, for tomlkit does not find the other names of a part that
    # is written in dotted names once one of them is gone.
    for name, value in values.items():
        if value is None:
            table.pop(name, None)
