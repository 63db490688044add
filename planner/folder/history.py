"""History: what was replaced, kept in the piece's folder, so that no change loses anything.

A version is one zip of all the piece's files as they were before a change, named after its moment
and the change. Versions are kept before every change of much at once, and in steady work not more
often than every ten minutes. Together they stay below one size; the oldest go first.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from planner.errors import PlanError

HISTORY = "history"
FILES = ("piece.toml", "chart.csv", "yarns.csv", "choices.csv", "measurements.csv", "progress.csv")
REST = timedelta(minutes=10)
MOST_BYTES = 20_000_000
TROUBLE_LOG, MOST_OF_A_LOG = "trouble.log", 200_000
# A name may have 255 bytes on common file systems; the moment and the staging take some too.
LONGEST_WORDS = 100
NAME = re.compile(r"(\d{4}-\d\d-\d\d)T(\d\d)-(\d\d)-(\d\d)-(\d{3}) (.*)\.zip")


@dataclass(frozen=True)
class Version:
    """The files of a piece as they were before a change: when, which change, and where they are."""

    when: datetime
    before: str
    path: Path

    def files(self) -> dict[str, bytes]:
        """What the files held, by their names. Raises PlanError if the version is damaged."""
        try:
            with zipfile.ZipFile(self.path) as packed:
                names = [name for name in FILES if name in packed.namelist()]
                # Ours are far smaller; another one might fill the memory.
                if sum(packed.getinfo(name).file_size for name in names) > 10 * MOST_BYTES:
                    raise zipfile.BadZipFile("it is too large")
                return {name: packed.read(name) for name in names}
        except (OSError, zipfile.BadZipFile, EOFError, RuntimeError, zlib.error) as error:
            raise PlanError(f"{self.path.name} cannot be read ({error}). Take another.") from None

    def unpack(self, place: Path) -> Path:
        """Put the files into a folder below `place`, named as the piece's own is; returns it."""
        # A piece without piece.toml is called what its folder is called.
        folder = place / self.path.parents[1].name
        folder.mkdir()
        for name, data in self.files().items():
            (folder / name).write_bytes(data)
        return folder

    def __str__(self) -> str:
        return f"{self.when:%Y-%m-%d %H:%M}, before: {self.before}"


def versions(folder: Path) -> list[Version]:
    """The versions kept of a piece, the newest first."""
    kept = []
    for path in (folder / HISTORY).glob("*.zip"):
        match = NAME.fullmatch(path.name)
        # What somebody else has put there is left alone.
        if not match or not path.is_file():
            continue
        day, hour, minute, second, milli, before = match.groups()
        with suppress(ValueError):
            when = datetime.fromisoformat(f"{day}T{hour}:{minute}:{second}.{milli}")
            kept.append(Version(when, before, path))
    return sorted(kept, key=lambda version: version.path.name, reverse=True)


def is_due(folder: Path, now: datetime) -> bool:
    """Whether it is time to keep a version, whatever the change."""
    # After the clock was set back there may be later ones, which say nothing about this moment.
    return not any(timedelta(0) <= now - version.when < REST for version in versions(folder))


def pack(
    folder: Path, before: str, now: datetime, *, files: Sequence[str] = FILES
) -> dict[str, bytes]:
    """The version to be written now, by its name in the folder; nothing if there are no files."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        names = [name for name in files if (folder / name).exists()]
        for name in names:
            # Without the moment: the same files are the same bytes.
            archive.writestr(zipfile.ZipInfo(name), (folder / name).read_bytes())
    if not names:
        return {}
    # No sign in it that a file system might refuse, and short enough for any.
    words = " ".join(re.findall(r"[\w%×]+", before)).encode()[:LONGEST_WORDS]
    title = words.decode(errors="ignore").strip() or "a change"
    while True:
        moment = f"{now:%Y-%m-%dT%H-%M-%S}-{now.microsecond // 1000:03}"
        name = f"{HISTORY}/{moment} {title}.zip"
        # Two changes in one moment, by a clock that stands still, are two versions.
        if not (folder / name).exists():
            return {name: packed.getvalue()}
        now += timedelta(milliseconds=1)


def note_trouble(folder: Path, details: str, now: datetime) -> None:
    """Add the details of what went wrong to trouble.log, for whoever is asked to help."""
    path = folder / TROUBLE_LOG
    # Whatever has become of the file, this is noted.
    old = path.read_text(encoding="utf-8", errors="replace") if path.exists() else ""
    # The newest are the ones that are asked for.
    text = f"{old}{now:%Y-%m-%d %H:%M:%S}\n{details}\n"[-MOST_OF_A_LOG:]
    path.write_text(text, encoding="utf-8")


def forget_oldest(folder: Path, most_bytes: int = MOST_BYTES) -> None:
    """Take the oldest versions away until the rest fits into the limit; the newest always stays."""
    total = 0
    for number, version in enumerate(versions(folder)):
        # What cannot be deleted now, or is gone already, is no reason to refuse a change.
        with suppress(OSError):
            total += version.path.stat().st_size
            if number and total > most_bytes:
                version.path.unlink()
