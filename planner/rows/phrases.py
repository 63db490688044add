"""Phrases: what a row card says, in the knitter's words."""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from planner.piece import Construction


def embroidered_in_words(
    embroidered: np.ndarray, letters: tuple[str, ...], how: Construction
) -> dict[int, str]:
    """What a row's card says of it, by worked row from 0 (in garter by the second row of the ridge)."""
    said, times = {}, how.rows_per_chart_row
    for row in np.flatnonzero((embroidered >= 0).any(axis=1)):
        line = embroidered[row, ::-1]  # stitch 1 first
        places = defaultdict(list)
        for stretch in np.split(np.arange(len(line)), np.flatnonzero(np.diff(line)) + 1):
            if line[stretch[0]] >= 0:
                first, last = stretch[0] + 1, stretch[-1] + 1
                places[letters[line[stretch[0]]]].append(
                    str(first) if first == last else f"{first}–{last}"
                )
        parts = [f"{', '.join(where)} in {letter}" for letter, where in sorted(places.items())]
        noun = "stitch" if (line >= 0).sum() == 1 else "stitches"
        said[int(row) * times + times - 1] = (
            f"embroidered afterwards: {noun} {'; '.join(parts)}, counted from the right"
        )
    return said
