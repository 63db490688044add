"""Changes: the one way in which a piece's folder is changed.

A change is one transaction. What the folder holds is read, only what was touched is put into it,
the whole piece is checked, and then all files that differ are written together, or none. If
somebody else has changed the folder meanwhile, it is done once more with what it holds then. So
nothing is ever acted on that is stale, and nothing that is refused is written.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, nullcontext
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, TypeVar

import numpy as np

from planner.errors import PlanError
from planner.folder.files import read_text, with_rows
from planner.folder.history import FILES, HISTORY, Version, forget_oldest, is_due, pack
from planner.folder.logs import (
    CHOICE_COLUMNS,
    MEASUREMENT_COLUMNS,
    PROGRESS_COLUMNS,
    lines_of_choices,
    read_choices,
    read_measurements,
    read_progress,
)
from planner.folder.project import chart_csv, open_project, read_yarns, yarns_csv
from planner.folder.settings import SECTIONS, WORDS, read_settings, settings_text
from planner.folder.transaction import (
    cannot_write,
    locked_folder,
    make_folder,
    try_to_read,
    write_together,
)
from planner.piece import Chart, Project, Yarn

NO_FOLDER = "This piece has no folder to be kept in. Open one with open_project."
# Changed elsewhere so often in a row, the folder is held while the change is made.
TRIES = 3
# A change of more than this share of the chart is a change of much at once.
MUCH = 0.1
# Names that Windows keeps for devices, and the longest name of a folder (common file systems: 255
# bytes; a letter may take four).
RESERVED = re.compile(r"(con|prn|aux|nul|(com|lpt)[\d¹²³])")
LONGEST_NAME = 60
# The fields of a piece that stand in piece.toml, what is asked for in all, and what only grows.
SETTINGS = ("by_yarn", *WORDS, *(name for name, _ in SECTIONS.values()))
ASKED = ("chart", "yarns", "choices", *SETTINGS)
LOGS = {"measurements": MEASUREMENT_COLUMNS, "progress": PROGRESS_COLUMNS}
READERS: dict[str, Callable[[Path], Any]] = {
    "piece.toml": read_settings,
    "yarns.csv": read_yarns,
    "choices.csv": read_choices,
    "measurements.csv": lambda path: read_measurements(path.parent),
    "progress.csv": lambda path: read_progress(path.parent),
}
NOWHERE = Path()  # no file

Answer = TypeVar("Answer")
Stamp = tuple[tuple[str, int, int, int], ...]


@dataclass(frozen=True)
class Seen:
    """A piece as its folder had it at one moment; the stamp is another when a file has changed."""

    project: Project
    stamp: Stamp

    @property
    def folder(self) -> Path:
        """The piece's folder. Raises PlanError if it has none."""
        if self.project.folder is None:
            raise PlanError(NO_FOLDER)
        return self.project.folder


def stamp_of(folder: Path) -> Stamp:
    """What tells whether any of a piece's files has been changed: time, size and place on disk."""
    stamps = []
    for name in FILES:
        try:
            stat = (folder / name).stat()
        except OSError:
            continue  # it is not there
        stamps.append((name, stat.st_mtime_ns, stat.st_size, stat.st_ino))
    return tuple(stamps)


def see(folder: Path) -> Seen:
    """The piece that a folder holds now."""
    with locked_folder(folder):
        # Before it is read: a file that somebody changes without a lock is then read again.
        stamp = stamp_of(folder)
        return Seen(open_project(folder), stamp)


def change_piece(
    seen: Seen,
    change: Callable[[Project], Project],
    *,
    check: Callable[[Project], Answer],
    doing: str = "a change",
    strand_then: str = "",
    much: bool = False,
    now: Callable[[], datetime] = datetime.now,
) -> tuple[Seen, Answer]:
    """Make one change of a piece; returns the piece as it is then, and what `check` says of it.

    `seen` is what was seen last. `change` makes of what the folder holds what it is to hold;
    `check` raises PlanError for what cannot be kept, and then nothing is written. `doing` names the
    change in the history, `strand_then` the strand it is about in choices.csv; what is there before
    a change of `much` at once is kept in any case. Raises PlanError with nothing changed where it
    is refused or cannot be written.
    """
    folder = seen.folder
    for left in reversed(range(TRIES)):
        # A plan may take long, so the folder is not held meanwhile; in the last try it is.
        with nullcontext() if left else locked_folder(folder):
            if stamp_of(folder) != seen.stamp:
                seen = see(folder)
            wanted = change(seen.project)
            answer = check(wanted)
            with locked_folder(folder):
                if stamp_of(folder) == seen.stamp:
                    with words_for_what_fails(folder):
                        at = now()
                        contents = _contents(seen.project, wanted, strand_then, at)
                        contents |= _version(seen, wanted, doing, at, much)
                    write_together(folder, contents)
                    stamp = stamp_of(folder)
                    forget_oldest(folder)
                    return Seen(wanted, stamp), answer
    raise PlanError(f"{folder.name} is being changed by another program. Wait a moment, try again.")


@contextmanager
def words_for_what_fails(folder: Path) -> Iterator[None]:
    """Say in words why the files of a piece cannot be made ready."""
    try:
        yield
    except OSError as error:
        raise PlanError(cannot_write(folder.name, error)) from None
    except UnicodeEncodeError as error:
        sign = error.object[error.start]
        raise PlanError(
            f"There is a sign in it that no file takes: {sign!a}. Take it out."
        ) from None


def _contents(before: Project, after: Project, strand_then: str, at: datetime) -> dict[str, bytes]:
    """The files to be written, by name, so that a folder that held `before` holds `after`."""
    folder = after.folder
    if folder is None:
        raise PlanError(NO_FOLDER)
    contents: dict[str, bytes] = {}
    # Of a log, which may be long, only what is new is tried.
    new_lines: dict[str, bytes] = {}
    if any(getattr(before, name) != getattr(after, name) for name in SETTINGS):
        path = folder / "piece.toml"
        text = read_text(path) if path.exists() else ""
        contents["piece.toml"] = settings_text(text, after, before).encode()
    if before.chart != after.chart:
        contents["chart.csv"] = chart_csv(after.chart).encode()
    if before.yarns != after.yarns:
        contents["yarns.csv"] = yarns_csv(folder / "yarns.csv", after, before).encode()
    if before.choices != after.choices:
        lines = lines_of_choices(before.choices, after.choices, strand_then, at.date())
        contents["choices.csv"] = with_rows(folder / "choices.csv", CHOICE_COLUMNS, lines)
        new_lines["choices.csv"] = with_rows(NOWHERE, CHOICE_COLUMNS, lines)
    for name, columns in LOGS.items():
        known = {line.number for line in getattr(before, name)}
        new = [asdict(line) for line in getattr(after, name) if line.number not in known]
        if new:
            contents[f"{name}.csv"] = with_rows(folder / f"{name}.csv", columns, new)
            new_lines[f"{name}.csv"] = with_rows(NOWHERE, columns, new)
    _check_readable(contents | new_lines)
    return contents


def _check_readable(contents: Mapping[str, bytes]) -> None:
    """Refuse what would keep the whole piece from being opened again."""
    try:
        try_to_read(contents, READERS)
    except PlanError as error:
        raise PlanError(f"This could not be read again, so it is not kept. {error}") from None


def _version(seen: Seen, after: Project, doing: str, at: datetime, much: bool) -> dict[str, bytes]:
    """What is replaced, for the history, where that is due."""
    before = seen.project
    # What only grows replaces nothing.
    replaced = any(getattr(before, name) != getattr(after, name) for name in ASKED)
    if not replaced:
        return {}
    if not (much or is_much(before.chart, after.chart) or is_due(seen.folder, at)):
        return {}
    return pack(seen.folder, doing, at)


def is_much(before: Chart, after: Chart) -> bool:
    """Whether a chart has another size than before, or more than a tenth of it is otherwise."""
    if before is after:
        return False
    rows, were = np.array(after.to_rows(), dtype=object), np.array(before.to_rows(), dtype=object)
    return rows.shape != were.shape or bool((rows != were).mean() > MUCH)


def start_piece(data: Path, name: str, chart: Chart, yarns: dict[str, Yarn]) -> Path:
    """Make the folder of a new piece below `data`, with its chart and yarns; returns the folder."""
    return start_project(data, Project(name.strip(), chart, yarns))


def start_project(data: Path, new: Project) -> Path:
    """Make the folder of a new piece below `data`, with all that is known of it.

    Returns the folder, which is named after the piece. One that was left without any file,
    half-made, is made again.
    """
    folder = data / folder_name(new.name)
    make_folder(folder)
    # Written as if all had changed since a piece with nothing in its folder.
    piece = replace(new, name=new.name.strip(), folder=folder)
    nothing = Project(piece.name, piece.chart, folder=folder)
    with locked_folder(folder):
        # Looked at under the lock: two may be making it at once.
        if any((folder / file).exists() for file in FILES):
            raise PlanError(
                f"There is a piece {folder.name} already. Choose another name, or open that one."
            )
        with words_for_what_fails(folder):
            contents = {
                "chart.csv": chart_csv(piece.chart).encode(),
                "yarns.csv": yarns_csv(folder / "yarns.csv", piece, nothing).encode(),
                "piece.toml": settings_text("", piece).encode(),
            }
            if piece.measurements:
                lines = [asdict(line) for line in piece.measurements]
                path = folder / "measurements.csv"
                contents[path.name] = with_rows(path, MEASUREMENT_COLUMNS, lines)
            _check_readable(contents)
        write_together(folder, contents)
    return folder


def folder_name(name: str) -> str:
    """The name of a piece's folder: its letters and numbers, so that any system takes it."""
    words = "-".join(re.findall(r"\w+", name.lower()))[:LONGEST_NAME].strip("-")
    if not words:
        raise PlanError(
            "The piece has no name yet. Give it one, such as hill scarf; its folder is named after "
            "it."
        )
    return f"piece-{words}" if RESERVED.fullmatch(words) else words


def set_aside(folder: Path, name: str, instead: bytes, now: datetime) -> None:
    """Put a file that cannot be read among the history, and write another in its place."""
    aside = f"{HISTORY}/{now:%Y-%m-%dT%H-%M-%S} damaged {name}"
    path = folder / name
    with locked_folder(folder):
        damaged = {aside: path.read_bytes()} if path.is_file() else {}
        write_together(folder, damaged | {name: instead})


def go_back(
    seen: Seen, version: Version, check: Callable[[Project], Answer]
) -> tuple[Seen, Answer]:
    """Bring back what was asked for in a version: chart, yarns, settings and choices.

    It is itself a change, with its place in the history.
    """
    change, doing = brought_back(version)
    return change_piece(seen, change, check=check, doing=doing, much=True)


def brought_back(version: Version) -> tuple[Callable[[Project], Project], str]:
    """What going back to a version changes, and how that is called.

    What was measured and what is knitted stay: they are true whatever the chart is.
    """
    was = project_of(version)
    asked = {name: getattr(was, name) for name in ASKED}
    doing = f"going back to {version.when:%Y-%m-%d %H-%M}"
    return lambda held: replace(held, **asked), doing


def project_of(version: Version) -> Project:
    """The piece as it was in a version."""
    try:
        with TemporaryDirectory() as place:
            return open_project(version.unpack(Path(place)))
    except OSError as error:
        raise PlanError(cannot_write("the version", error)) from None


def in_folder(project: Project) -> Seen:
    """A piece that was read from a folder, to be changed there."""
    seen = Seen(project, ())
    return see(seen.folder)


def keep(project: Project, what: Callable[[Project], Any], **fields: Any) -> Project:
    """Change a piece in its folder without looking at what follows from it; for scripts."""
    changed, _ = change_piece(in_folder(project), what, check=lambda _: None, **fields)
    return changed.project
