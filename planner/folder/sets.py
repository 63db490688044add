"""set.toml: pieces that are knitted from one purse of yarn, named beside their folders.

The file is the knitter's own, as piece.toml is: written by hand or by a form, with comments that
stay. It names each piece by its folder, in the order in which they are knitted, and keeps what she
has answered where two pieces say different things of one yarn.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomlkit
from tomlkit.items import AoT

from planner.errors import PlanError
from planner.folder.changes import words_for_what_fails
from planner.folder.files import read_text
from planner.folder.history import forget_oldest, is_due, pack
from planner.folder.settings import check_value, parsed_toml, update_table
from planner.folder.transaction import (
    PENDING,
    locked_folder,
    take_away,
    try_to_read,
    write_together,
)
from planner.guards import (
    MOST_ANSWERS,
    MOST_BYTES_OF_SETTINGS,
    MOST_PIECES_OF_A_SET,
    MOST_TIMES,
    check_amount,
)
from planner.units import check_number

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

SET = "set.toml"
FORMAT = 1
WHAT_IT_IS = """\
# A set: pieces that are knitted from one purse of yarn, in the order in which they are knitted.
# Each is named by its folder beside this file, with how many times it is knitted, how many of
# these are mirrored left to right, and how many are finished (beside the one whose rows are
# marked). Below them stands what was answered where pieces say different things of one yarn.
"""
# What may be said of yarns that look alike or do not: one yarn, as one piece has it; one yarn, and
# all balls of the pieces together; yarns that have nothing to do with each other.
ONE_YARN, TOGETHER, APART = ANSWERS = ("one yarn", "all balls together", "apart")
ABOUT = ("name", "letter")
# Empty lines above a table, and a line right above one; a comment there belongs to the table.
TOO_MANY_ABOVE = re.compile(r"\n{3,}(?=\[\[)")
NONE_ABOVE = re.compile(r"^([^#\n].*)\n(?=\[\[)", re.MULTILINE)


@dataclass(frozen=True)
class SetPiece:
    """A piece of a set: its folder, how many times it is knitted, and how many of these mirrored.

    `finished` of them are done, beside the one whose rows are marked in the piece's own log.
    """

    folder: str
    times: int = 1
    mirrored: int = 0
    finished: int = 0

    def __post_init__(self) -> None:
        what = f"{SET}, piece {self.folder}"
        # It names a folder beside the file, and nothing elsewhere.
        is_plain = Path(self.folder).name == self.folder and not set(self.folder) & set("\\/\0")
        if not self.folder or not is_plain or self.folder.startswith("."):
            raise PlanError(
                f'{SET}: a piece is called "{self.folder}". Write the name of a folder that lies '
                "beside it."
            )
        _check_count(self.times, f"{what}: times", least=1, most=MOST_TIMES)
        for name in ("mirrored", "finished"):
            _check_count(getattr(self, name), f"{what}: {name}", least=0, most=self.times)


@dataclass(frozen=True)
class Answer:
    """What the knitter says of the yarns of one name, or of one letter.

    `says` is one of ANSWERS; where they are one yarn, it is as `piece`, a folder of the set, has
    it.
    """

    about: str
    of: str
    says: str
    piece: str = ""

    def __post_init__(self) -> None:
        if self.about not in ABOUT:
            raise PlanError(
                f'{SET}: an answer is about "{self.about}"; it is about a name or a letter.'
            )
        if self.says not in ANSWERS:
            raise PlanError(
                f'{SET}: of {self.of} is said "{self.says}"; write one of {", ".join(ANSWERS)}.'
            )


@dataclass(frozen=True)
class PieceSet:
    """A set of pieces: its name, the pieces in the order of work, and what was answered."""

    name: str
    pieces: tuple[SetPiece, ...]
    answers: tuple[Answer, ...] = ()

    def __post_init__(self) -> None:
        if not self.pieces:
            raise PlanError(f"{SET} names no piece. A set has one or more.")
        check_amount(len(self.pieces), SET, most=MOST_PIECES_OF_A_SET, what="pieces")
        check_amount(len(self.answers), SET, most=MOST_ANSWERS, what="answers")
        folders = [piece.folder for piece in self.pieces]
        for folder in folders:
            if folders.count(folder) > 1:
                raise PlanError(
                    f"{SET} names the piece {folder} twice. Name it once, and say under times how "
                    "often it is knitted."
                )
        for answer in self.answers:
            of = (answer.about, answer.of)
            if [(each.about, each.of) for each in self.answers].count(of) > 1:
                raise PlanError(
                    f"{SET} answers twice about the {answer.about} {answer.of}. Leave one answer."
                )


def _check_count(value: object, what: str, *, least: int, most: int) -> None:
    check_number(value, what, least=least, most=most)
    if not isinstance(value, int):
        raise PlanError(f"{what} is {value!r}; a whole number was expected.")


# ---- read


def read_set(data: Path, *, all_there: bool = True) -> PieceSet | None:
    """The set of the pieces in a folder, None if there is none.

    Raises PlanError for a file that cannot be read, and for a piece that is not there, unless
    `all_there` is False.
    """
    path = data / SET
    # Nothing is made, not even a lock, where nobody has ever named a set.
    if not path.exists() and not (data / PENDING).exists():
        return None
    with locked_folder(data):
        found = _read(path) if path.exists() else None
    if found and all_there:
        for piece in found.pieces:
            _check_there(data, piece.folder)
    return found


def _check_there(data: Path, name: str) -> None:
    """Refuse a piece without a folder, or whose folder holds none."""
    folder = data / name
    if not any((folder / file).is_file() for file in ("chart.csv", "piece.toml")):
        raise PlanError(
            f"{SET} names the piece {name}, but there is none in the folder {data.name}. Put its "
            f"folder back, or take {name} out of the set."
        )


def _read(path: Path) -> PieceSet:
    """The set in a file, whether its pieces are there or not."""
    text = read_text(path, most=MOST_BYTES_OF_SETTINGS)
    document = parsed_toml(text, SET)
    if document.pop("format", FORMAT) != FORMAT:
        raise PlanError(f"{SET} is in a format this planner does not know; it reads {FORMAT}.")
    name = document.pop("name", "")
    check_value(name, f"{SET}: name")
    if not isinstance(name, str):
        raise PlanError(f"{SET}: name is {name!r}; put it in quotation marks.")
    pieces = _records(document.pop("piece", []), "piece", SetPiece)
    answers = _records(document.pop("answer", []), "answer", Answer)
    if document:
        raise PlanError(
            f'{SET}: "{next(iter(document))}" means nothing here. Its parts are: name, [[piece]] '
            "and [[answer]]."
        )
    return PieceSet(name, tuple(pieces), tuple(answers))


def _records(tables: object, part: str, kind: type[DataclassInstance]) -> list[Any]:
    """The records of this kind in a list of tables."""
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        raise PlanError(f"{SET}: {part} is {tables!r}; write [[{part}]] and its values below.")
    known = {field.name: field for field in fields(kind)}
    needed = {name for name, field in known.items() if not isinstance(field.default, str | int)}
    records = []
    for table in tables:
        for name, value in table.items():
            _check_field(name, value, part, known)
        for name in sorted(needed - set(table)):
            raise PlanError(f'{SET}: a [[{part}]] has no "{name}". Add it.')
        records.append(kind(**table))
    return records


def _check_field(name: str, value: object, part: str, known: Mapping[str, Any]) -> None:
    if name not in known:
        raise PlanError(f'{SET}, {part}: "{name}" means nothing here. Use: {", ".join(known)}.')
    check_value(value, f"{SET}, {part}: {name}")
    # The annotations are kept as text.
    is_text = known[name].type == "str"
    if is_text and not isinstance(value, str):
        raise PlanError(f"{SET}, {part}: {name} is {value!r}; put it in quotation marks.")


# ---- change


def change_set(
    data: Path,
    change: Callable[[PieceSet | None], PieceSet],
    *,
    doing: str = "a change of the set",
    now: Callable[[], datetime] = datetime.now,
) -> PieceSet:
    """Change the set of the pieces in a folder, or make one; returns it as it is then.

    `change` makes of the set that the file holds, None if there is none, what it is to hold. What
    is replaced goes into the history beside the file. Raises PlanError with nothing changed.
    """
    path = data / SET
    with locked_folder(data):
        text = read_text(path, most=MOST_BYTES_OF_SETTINGS) if path.exists() else ""
        held = _read(path) if text else None
        wanted = change(held)
        if wanted == held:
            return wanted
        for piece in wanted.pieces:
            # What is gone may stay named, so that the rest of the set can be changed.
            if held is None or piece not in held.pieces:
                _check_there(data, piece.folder)
        with words_for_what_fails(data):
            contents = {SET: set_text(text, wanted).encode()}
            try_to_read(contents, {SET: _reads_as(wanted)})
            # After that, so that what is refused leaves no version.
            at = now()
            if is_due(data, at):
                contents |= pack(data, doing, at, files=(SET,))
        write_together(data, contents)
        forget_oldest(data)
    return wanted


def dissolve_set(
    data: Path,
    *,
    doing: str = "the set dissolved",
    now: Callable[[], datetime] = datetime.now,
) -> None:
    """Take away the set of the pieces in a folder; its file goes into the history beside it."""
    with locked_folder(data):
        # The history comes first, so that nothing is lost whatever happens in between.
        with words_for_what_fails(data):
            kept = pack(data, doing, now(), files=(SET,))
        take_away(data, SET, kept)
        forget_oldest(data)


def _reads_as(wanted: PieceSet) -> Callable[[Path], None]:
    """A reader that refuses a file which says anything else."""

    def read(path: Path) -> None:
        if _read(path) != wanted:
            raise PlanError(
                f"{SET} is written in a way that cannot be kept. Put it aside and make it again."
            )

    return read


def set_text(text: str, wanted: PieceSet) -> str:
    """The text of set.toml with this set in it; the knitter's own comments stay."""
    document = tomlkit.parse(text or WHAT_IT_IS)
    update_table(document, {"format": FORMAT, "name": wanted.name})
    _write_records(document, "piece", wanted.pieces, ("folder",))
    _write_records(document, "answer", wanted.answers, ("about", "of"))
    # Above each table stands one empty line, however often others were put in and taken out.
    written = TOO_MANY_ABOVE.sub("\n\n", tomlkit.dumps(document))
    return NONE_ABOVE.sub(r"\1\n\n", written)


def _write_records(
    document: tomlkit.TOMLDocument,
    part: str,
    records: Sequence[DataclassInstance],
    known_by: Sequence[str],
) -> None:
    """Write records as a list of tables; the table of one that was there keeps its comments."""

    def key(values: Mapping[str, Any]) -> tuple[Any, ...]:
        return tuple(values.get(name) for name in known_by)

    tables = document.get(part)
    # Written in one line by hand, or not there at all, they are written out.
    if not isinstance(tables, AoT):
        document.pop(part, None)
        if not records:
            return
        document[part] = tables = tomlkit.aot()
    wanted = {key(asdict(record)): asdict(record) for record in records}
    held = {key(table.unwrap()): table for table in tables}
    stays = [which for which in held if which in wanted]
    if stays != list(wanted)[: len(stays)]:
        # In another order: all are put anew, those that were there with their comments.
        stays = []
    for place in reversed(range(len(tables))):
        if key(tables[place].unwrap()) not in stays:
            del tables[place]
    for which, values in wanted.items():
        table = held.get(which, tomlkit.table())
        if which not in stays:
            tables.append(table)
        update_table(table, values)
    if not records:
        document.pop(part)
