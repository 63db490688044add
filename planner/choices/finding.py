"""A finding: what is worth a second look, where, and what to do."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    """What is worth a second look: what it is about, where, what was found, what to do.

    `run` is the run that it lies in, where there is one place.
    """

    about: str
    where: str
    finding: str
    what_to_do: str
    run: int | None = None
