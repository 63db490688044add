"""History: what was replaced, kept in the piece's folder, so that no change loses anything.

A version is one zip of all the piece's files as they were before a change, named after its moment
and the change. Versions are kept before every change of much at once, and in steady work not more
often than every ten minutes. Together they stay below one size; the oldest go first.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from planner.errors import PlanError

HISTORY = "history"
FILES = ("piece.toml", "chart.csv", "yarns.csv", "choices.csv", "measurements.csv", "progress.csv")
# What going back brings back. What was measured and knitted stays true, whatever the chart is.
ASKED = FILES[:4]
REST = timedelta(minutes=10)
MOST_BYTES = 20_000_000
TROUBLE_LOG, MOST_OF_A_LOG = "trouble.log", 200_000
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
                return {name: packed.read(name) for name in FILES if name in packed.namelist()}
        except (OSError, zipfile.BadZipFile, EOFError) as error:
            raise PlanError(f"{self.path.name} cannot be read ({error}). Take another.") from None

    def __str__(self) -> str:
        return f"{self.when:%Y-%m-%d %H:%M}, before {self.before}"


def versions(folder: Path) -> list[Version]:
    """The versions kept of a piece, the newest first."""
    kept = []
    for path in (folder / HISTORY).glob("*.zip"):
        match = NAME.fullmatch(path.name)
        # What somebody else has put there is left alone.
        if match:
            day, hour, minute, second, milli, before = match.groups()
            when = datetime.fromisoformat(f"{day}T{hour}:{minute}:{second}.{milli}")
            kept.append(Version(when, before, path))
    return sorted(kept, key=lambda version: version.path.name, reverse=True)


def is_due(folder: Path, now: datetime) -> bool:
    """Whether it is time to keep a version, whatever the change."""
    kept = versions(folder)
    # A clock that was set back must not keep all later versions away.
    return not kept or not timedelta(0) <= now - kept[0].when < REST


def pack(folder: Path, before: str, now: datetime) -> dict[str, bytes]:
    """The version to be written now, by its name in the folder; nothing if there are no files."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        names = [name for name in FILES if (folder / name).exists()]
        for name in names:
            # Without the moment: the same files are the same bytes.
            archive.writestr(zipfile.ZipInfo(name), (folder / name).read_bytes())
    if not names:
        return {}
    # No sign in it that a file system might refuse, and short enough for any.
    words = " ".join(re.findall(r"[\w%]+", before))[:60].strip() or "a change"
    moment = f"{now:%Y-%m-%dT%H-%M-%S}-{now.microsecond // 1000:03}"
    return {f"{HISTORY}/{moment} {words}.zip": packed.getvalue()}


def note_trouble(folder: Path, details: str, now: datetime) -> None:
    """Add the details of what went wrong to trouble.log, for whoever is asked to help."""
    path = folder / TROUBLE_LOG
    old = path.read_text(encoding="utf-8") if path.exists() else ""
    # The newest are the ones that are asked for.
    text = f"{old}{now:%Y-%m-%d %H:%M:%S}\n{details}\n"[-MOST_OF_A_LOG:]
    path.write_text(text, encoding="utf-8")


def forget_oldest(folder: Path, most_bytes: int = MOST_BYTES) -> Iterable[Path]:
    """Take the oldest versions away until the rest fits into the limit; the newest always stays."""
    total = 0
    gone = []
    for number, version in enumerate(versions(folder)):
        total += version.path.stat().st_size
        if number and total > most_bytes:
            version.path.unlink(missing_ok=True)
            gone.append(version.path)
    return gone
