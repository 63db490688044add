"""For others: a pattern or a handout as a PDF, set from the same document as its plain text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from planner.edition import (
    NUMBER,
    Block,
    ChartHere,
    Document,
    Items,
    Key,
    Lesson,
    Steps,
    Table,
    Words,
    handout_of,
    make_edition,
    pattern_of,
    plain_text,
)
from planner.paper.chart_pages import ChartOnPaper, key_width
from planner.paper.lists import Pieces, key_to_yarns
from planner.paper.papers import Paper, paper_named
from planner.paper.setter import set_pages
from planner.paper.sheet import SHORT_TITLE
from planner.paper.signs import NO_BREAK, Signs, shortened
from planner.plan import Plan

TEMPLATE = "for_others.typ"
# Where they are kept in the folder of the piece.
PATTERN, PATTERN_TEXT = "out/pattern.pdf", "out/pattern.txt"
HANDOUT, HANDOUT_TEXT = "out/handout.pdf", "out/handout.txt"


def pattern_files(plan: Plan, paper: str = "a4") -> dict[str, bytes]:
    """A plan as a pattern for others, as PDF and as plain text, by where each is kept."""
    edition = make_edition(plan)
    document = pattern_of(edition)
    signs = Signs(plan.project)
    pages = document
    if signs.notes:
        edition = make_edition(_as_printed(plan, signs))
        pages = pattern_of(edition)
    pdf = document_pdf(pages, edition.plan, paper, notes=signs.notes)
    return {PATTERN: pdf, PATTERN_TEXT: plain_text(document)}


def _as_printed(plan: Plan, signs: Signs) -> Plan:
    """The plan with names that can be printed in the place of those that cannot."""
    project = plan.project
    yarns = {}
    for letter, yarn in project.all_yarns.items():
        yarns[letter] = replace(yarn, name=signs.names[letter] if yarn.name else "")
    return replace(plan, project=replace(project, name=signs.title, yarns=yarns))


def handout_files(lesson: Lesson, paper: str = "a4") -> dict[str, bytes]:
    """A lesson as a handout, as PDF and as plain text, by where each is kept."""
    document = handout_of(lesson)
    pdf = document_pdf(document, lesson.plan, paper)
    return {HANDOUT: pdf, HANDOUT_TEXT: plain_text(document)}


def document_pdf(
    document: Document, plan: Plan, paper: str = "a4", *, notes: Sequence[str] = ()
) -> bytes:
    """A document about a plan as a PDF on A4 or US Letter paper ("a4", "letter").

    `notes` say what is printed otherwise than it is called. Raises PlanError for another paper.
    """
    on_paper = _OnPaper(plan, Signs(plan.project), paper_named(paper))
    return set_pages(TEMPLATE, {"notes": list(notes), **_content(document, on_paper)})


class _OnPaper:
    """How the blocks of a document are handed to the template."""

    def __init__(self, plan: Plan, signs: Signs, paper: Paper):
        self.plan, self.signs, self.paper = plan, signs, paper
        self.pieces = Pieces(plan, signs)

    def block(self, block: Block) -> dict[str, Any]:
        """A block with its texts as they are printed."""
        say = self.signs.text
        match block:
            case Words(text=text, is_sum=is_sum):
                return {"kind": "words", "text": say(text), "is_sum": is_sum}
            case Items(items=items):
                return {"kind": "items", "items": self.signs.texts(items)}
            case Table():
                return self._table(block)
            case Steps(steps=steps, boxes=boxes):
                told = [self._step(title, notes) for title, notes in steps]
                return {"kind": "steps", "steps": told, "boxes": boxes}
            case Key(yarns=yarns):
                return {"kind": "key", "yarns": [self._yarn(*yarn) for yarn in yarns]}
            case ChartHere():
                return self._chart()

    def _step(self, title: str, notes: Sequence[str]) -> dict[str, Any]:
        # A number stays with the letter of its yarn.
        bound = NUMBER.sub(NO_BREAK, self.signs.text(title))
        return {"title": bound, "notes": self.signs.texts(notes)}

    def _table(self, table: Table) -> dict[str, Any]:
        columns = range(len(table.heads))
        return {
            "kind": "table",
            "heads": [head[:1].upper() + head[1:] for head in self.signs.texts(table.heads)],
            "lines": [self.signs.texts(line) for line in table.lines],
            "right": [column in table.right for column in columns],
            "wide": list(table.wide) or [1 for _ in columns],
        }

    def _yarn(self, letter: str, words: str, _: str) -> dict[str, Any]:
        return {"chip": self.pieces.chip(letter), "words": self.signs.text(words)}

    def _chart(self) -> dict[str, Any]:
        return {
            "kind": "chart",
            "pages": ChartOnPaper(self.plan, self.signs).pages(self.paper),
            "key": key_to_yarns(self.pieces, key_width(self.paper)),
            "embroidered": bool((self.plan.embroidered >= 0).any()),
            "no_stitch": bool((self.plan.project.chart.cells < 0).any()),
        }


def _content(document: Document, on_paper: _OnPaper) -> dict[str, Any]:
    """All that the pages say and show, for the template."""
    signs = on_paper.signs
    sections = []
    for section in document.sections:
        sections.append(
            {
                "title": signs.text(section.title),
                "new_page": section.on_new_page,
                "blocks": [on_paper.block(block) for block in section.blocks],
            }
        )
    return {
        "paper": on_paper.paper.setter_name,
        "title": signs.text(document.title),
        "short_title": signs.text(shortened(document.title, SHORT_TITLE)),
        "about": signs.text(document.about),
        "sections": sections,
    }
