"""News: what has changed in a piece elsewhere, in words."""

from __future__ import annotations

from dataclasses import replace

from planner.piece import SEWN_IN, TAKEN_OUT, Entry, Project, rows_worked, standing
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
    told = [*_rows_in_words(before, after), *_ends_in_words(before, after)]
    if not told and before.progress != after.progress:
        told = ["a note at the needles"]
    news = [*told, *what_changes(before, after)]
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
    return []


def _ends_in_words(before: Project, after: Project) -> list[str]:
    """Ends marked as sewn in, or no longer: what lies in a row taken back is not sewn in there."""
    was, now = len(_sewn_in(before)), len(_sewn_in(after))
    if now > was:
        return [f"{counted(now - was, 'end')} sewn in"]
    return [f"{counted(was - now, 'end')} no longer marked as sewn in"] if now < was else []


def _sewn_in(project: Project) -> list[Entry]:
    return [entry for entry in standing(project.progress) if entry.what == SEWN_IN]


def is_plan_the_same(before: Project, after: Project) -> bool:
    """Whether nothing was added but marks of ends sewn in, which change no plan."""
    kept = len(before.progress)
    begins_alike = after.progress[:kept] == before.progress
    added = after.progress[kept:]
    sewn = {str(each.number) for each in after.progress if each.what == SEWN_IN}
    only_marks = all(
        each.what == SEWN_IN or (each.what == TAKEN_OUT and each.other in sewn) for each in added
    )
    return begins_alike and only_marks and replace(before, progress=after.progress) == after


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
