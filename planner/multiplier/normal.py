"""The normal distribution: SciPy's, which is large, so it is loaded when it is first asked for."""

from __future__ import annotations

from typing import Any


def ndtr(away: Any) -> Any:
    """The chance of a value below one that is so many spreads away from the middle."""
    from scipy import special

    return special.ndtr(away)


def ndtri(chance: Any) -> Any:
    """How many spreads away from the middle the value is that has this chance below it."""
    from scipy import special

    return special.ndtri(chance)
