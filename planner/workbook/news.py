"""News: what has changed in a piece elsewhere, in words."""

from __future__ import annotations

from planner.piece import SEWN_IN, Project, rows_worked
from planner.units import counted

# What a part of a piece is called when it has changed.
PARTS = {
    "name": "its name",
    "units": "the units",
    "gauge": "the gauge",
    "how": "how it is worked",
    "limits": "carrying",
    "by_yarn": "carrying of single yarns",
    "allow": "what is added to the yarn",
    "habits": "your ways of holding yarn",
    "weighing": "what is weighed up",
    "multiplier": "the multiplier",
    "yarns": "the yarns",
    "choices": "your choices",
    "measurements": "the measurements",
}


def changes_in_words(before: Project, after: Project) -> str:
    """What has changed between what was shown and what the folder holds now; "" if nothing."""
    news = [*_rows_in_words(before, after), *what_changes(before, after)]
    if not news:
        return ""
    return f"Changed in another notebook, or in the folder: {'; '.join(news)}."


def _rows_in_words(before: Project, after: Project) -> list[str]:
    """Rows marked or taken back."""
    was, now = rows_worked(before.progress), rows_worked(after.progress)
    if now > was:
        rows = f"row {now}" if now == was + 1 else f"rows {was + 1}–{now}"
        return [f"{rows} worked"]
    if now < was:
        rows = f"row {was}" if now == was - 1 else f"rows {now + 1}–{was}"
        return [f"{rows} taken back"]
    added = after.progress[len(before.progress) :]
    if added and all(entry.what == SEWN_IN for entry in added):
        return [f"{counted(len(added), 'end')} sewn in"]
    return ["a note at the needles"] if before.progress != after.progress else []


def what_changes(before: Project, after: Project) -> list[str]:
    """What is asked for otherwise than before, part by part, in words."""
    news = []
    if before.chart != after.chart:
        news.append(_chart_in_words(before, after))
    news += [
        words for name, words in PARTS.items() if getattr(before, name) != getattr(after, name)
    ]
    return news


def _chart_in_words(before: Project, after: Project) -> str:
    was, now = before.chart, after.chart
    if (was.rows, was.columns) != (now.rows, now.columns):
        return f"the chart, now {now.columns} stitches × {now.rows} rows"
    pairs = zip(was.to_rows(), now.to_rows(), strict=True)
    changed = sum(a != b for old, new in pairs for a, b in zip(old, new, strict=True))
    return f"{counted(changed, 'stitch')} of the chart"
