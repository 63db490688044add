"""Everything that writes into a piece's folder, each as an action that can be done once."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import redirect_stdout
from dataclasses import replace
from datetime import datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import planner.workbook.desk as desks
from planner import Gauge, open_project
from planner.folder import (
    PieceSet,
    SetPiece,
    change_piece,
    change_set,
    go_back,
    keep,
    see,
    set_aside,
    start_piece,
    versions,
    with_entry,
    with_measurement,
)
from planner.piece import MARKED, WORKED, Chart, Measurement, OwnChoice, Project, Yarn
from planner.report import main as report
from planner.strands import note_row
from planner.workbook import (
    Desk,
    EndBoxes,
    Painting,
    apply_form,
    choice_form,
    class_handout_form,
    finishing_page_form,
    gauge_form,
    in_row_form,
    lengths_form,
    limits_form,
    load_form,
    measure_form,
    mending_form,
    news_form,
    offers_form,
    open_desk,
    out_form,
    place_form,
    row_form,
    several_rows_form,
    tradeoff_form,
    units_form,
    versions_form,
    ways_form,
    yarns_form,
)
from tests.helpers.folders import GOOD, write
from tests.helpers.forms import box, by_label, choose_file, press, press_on
from tests.helpers.measuring import opened

Action = Callable[[], Any]
DAY = "2026-03-02"
ROWS = ["AAAAAAAA", "AABBAAAA", "AABBABAA", "AAAAAAAA", "AAAAAAAB"]
CHOICE = OwnChoice("supply", "B", 1, 1, "whole", "bobbin")


def long_ago() -> datetime:
    """A moment so far back that a version is due now."""
    return datetime.now() - timedelta(hours=2)


def measured(number: int, **other: Any) -> Measurement:
    """A marked metre of 54 stitches in yarn A."""
    return Measurement(number, DAY, MARKED, "A", 20, stitches=54, length_cm=100, **other)


def base_piece(folder: Path) -> Path:
    """A small piece with every file, one row worked, and a version in its history."""
    folder.mkdir(parents=True, exist_ok=True)
    write(folder, chart="\n".join(ROWS) + "\n", yarns="letter,name\nA,Rust\nB,Sea\n")
    piece = open_project(folder)
    keep(piece, lambda held: replace(held, gauge=Gauge(20, 28)), now=long_ago)
    keep(piece, all_at_once(False), now=long_ago, doing="making it")
    return folder


def all_at_once(again: bool = True) -> Callable[[Project], Project]:
    """A change of every file at once; a first one and a second one."""

    def change(held: Project) -> Project:
        row, letter = (2, "B") if again else (1, "A")
        held = replace(held, measurements=with_measurement(held.measurements, measured))
        held = replace(held, progress=with_entry(held, WORKED, row, runs=_runs(held, row)))
        rows = [list(line) for line in held.chart.to_rows()]
        rows[0][0] = letter
        return replace(
            held,
            name="Shawl" if again else "Scarf",
            chart=Chart.from_rows(rows),
            yarns={**held.yarns, letter: Yarn(letter, "Dune")},
            choices=(*held.choices, replace(CHOICE, row=row)),
        )

    return change


def _runs(held: Project, row: int) -> str:
    from planner import make_plan

    return note_row(make_plan(held).traced, row)


# ---- what scripts do


def _change(change: Callable[[Project], Project], **how: Any) -> Callable[[Path], Action]:
    def prepare(folder: Path) -> Action:
        seen = see(folder)
        return lambda: change_piece(seen, change, check=lambda _: None, **how)

    return prepare


def _going_back(folder: Path) -> Action:
    seen, version = see(folder), versions(folder)[-1]
    return lambda: go_back(seen, version, lambda _: None)


def _setting_aside(folder: Path) -> Action:
    now = datetime(2026, 3, 2)
    return lambda: set_aside(folder, "choices.csv", GOOD["yarns.csv"][:0].encode(), now)


def _starting(folder: Path) -> Action:
    chart = Chart.from_rows(ROWS)
    return lambda: start_piece(folder, "Hill scarf", chart, {"A": Yarn("A", "Rust")})


def _a_set(folder: Path) -> Action:
    """A piece more in the set.toml beside two pieces; a version is due."""
    for name in ("back", "sleeve"):
        (folder / name).mkdir()
        (folder / name / "chart.csv").write_text("A,B\n")
    change_set(folder, lambda held: PieceSet("Hill", (SetPiece("back"),)), now=long_ago)

    def more(held: PieceSet | None) -> PieceSet:
        return PieceSet("Hill", (*(held.pieces if held else ()), SetPiece("sleeve", 2, 1)))

    return lambda: change_set(folder, more)


def _reporting(folder: Path) -> Action:
    def action() -> None:
        with redirect_stdout(StringIO()):
            report([str(folder)])

    return action


def _printing(folder: Path) -> Action:
    def action() -> None:
        with redirect_stdout(StringIO()):
            report(["--sheet", "a4", str(folder)])

    return action


def _publishing(folder: Path) -> Action:
    def action() -> None:
        with redirect_stdout(StringIO()):
            report(["--pattern", "a4", str(folder)])

    return action


SCRIPTS: dict[str, Callable[[Path], Action]] = {
    "settings": _change(lambda held: replace(held, gauge=Gauge(21, 28))),
    "yarns": _change(lambda held: replace(held, yarns={**held.yarns, "B": Yarn("B", "Moss")})),
    "a choice": _change(lambda held: replace(held, choices=(*held.choices, CHOICE))),
    "a measurement": _change(
        lambda held: replace(held, measurements=with_measurement(held.measurements, measured))
    ),
    "every file at once": _change(all_at_once(), much=True),
    "going back": _going_back,
    "setting a file aside": _setting_aside,
    "a new piece": _starting,
    "a set": _a_set,
    "the report": _reporting,
    "the sheet": _printing,
    "the pattern": _publishing,
}


# ---- what forms do


def _form(make: Callable[[Desk], Any], act: Callable[[Any], Any]) -> Callable[[Path], Action]:
    def prepare(folder: Path) -> Action:
        with redirect_stdout(StringIO()):
            form = make(open_desk(str(folder)))
        return lambda: act(form)

    return prepare


def _typed(label: str, value: Any) -> Callable[[Any], Any]:
    return lambda form: setattr(box(form, label), "value", value)


def _pressed(label: str) -> Callable[[Any], Any]:
    return lambda form: box(form, label).click()


def _measure(form: Any) -> None:
    opened(form)
    for label, value in (("stitches", 54), ("length of yarn", 110), ("date", DAY)):
        box(form, label).value = value
    box(form, "gauge of the same").value = 20
    press(form, "Log this measurement")


def _paint(painting: Painting) -> None:
    grid = bytearray(painting.grid)
    grid[-1] = 1 - grid[-1]
    painting.set_state({"grid": memoryview(bytes(grid)), "stroke": painting.stroke + 1})


def _back_to_the_start(form: Any) -> None:
    box(form, "the last row worked is").value = 0
    press(form, "Mark it so")


def _tick(form: EndBoxes) -> None:
    form.boxes.children[0].value = True


def _note_and_take_out(form: Any) -> None:
    press(form, "Note it")
    press(form, "Take this note out")


def _write_own_note(form: Any) -> None:
    box(form, "your note").value = "here the buttonhole begins"
    press(form, "Keep the note")


def _load(form: Any) -> None:
    choose_file(form, "motif.csv", ("\n".join([*ROWS[1:3], *ROWS[1:]]) + "\n").encode())
    press(form, "Make it the chart of this piece")


def _accept(form: Any) -> None:
    press_on(form.offers, "take", form.offers.items[0]["key"])


def _wider(form: Any) -> None:
    slider = by_label(form)["plan with line"]
    slider.value = slider.max


def _rip_back(form: Any) -> None:
    box(form, "what is wrong").value = "twisted"
    press(form, "Mark this stitch")
    press(form, "Rip back to the cast-on")
    press(form, "Yes, take them back")


def _put_yarn(form: Any) -> None:
    by_label(form)["name"].value = "Moss"
    press(form, "Keep this yarn")


def _place(form: Any) -> None:
    box(form, "the chart is to be").value = "set into a larger piece"
    for label, value in (("stitches of", 8), ("rows of", 9)):
        box(form, label).value = value
    box(form, "and at the").value = "bottom"
    box(form, "ground").value = "A"
    press(form, "Do it")


def _mending(spoil: Callable[[Path], Any]) -> Callable[[Path], Action]:
    """The first way out of a trouble."""

    def prepare(folder: Path) -> Action:
        spoil(folder)
        with redirect_stdout(StringIO()):
            form = news_form(open_desk(str(folder)))
        way = next(child for child in by_label(form).values() if hasattr(child, "click"))
        return way.click

    return prepare


def _contradict(folder: Path) -> None:
    """The row that is knitted is charted otherwise, by hand."""
    (folder / "chart.csv").write_text("\n".join([*ROWS[:-1], "BBBBAAAA"]) + "\n")


def leaving_the_demo(data: Path) -> Action:
    """The first change of the demo; `data` is the folder in which the demo lies."""
    desks.DATA = data
    with redirect_stdout(StringIO()):
        form = gauge_form(open_desk(desks.DEMO))
    return lambda: _typed("stitches", 21)(form)


FORMS: dict[str, Callable[[Path], Action]] = {
    "gauge": _form(gauge_form, _typed("stitches", 21)),
    "units": _form(units_form, _typed("show", "in")),
    "limits": _form(limits_form, _typed("across", "2")),
    "ways": _form(ways_form, _typed("crowded", 20)),
    "lengths": _form(lengths_form, _typed("each tail", 12)),
    "the yarn put down": _form(yarns_form, _put_yarn),
    "held as": _form(choice_form, _pressed("Keep this choice")),
    "an offer": _form(offers_form, _accept),
    "farther": _form(tradeoff_form, _wider),
    "a row worked": _form(row_form, _pressed("Row worked")),
    "a row taken back": _form(row_form, _pressed("Take the last row back")),
    "several rows back": _form(several_rows_form, _back_to_the_start),
    "ripped back": _form(mending_form, _rip_back),
    "a stop in the row": _form(in_row_form, _pressed("Note it")),
    "a note of one's own": _form(in_row_form, _write_own_note),
    "a note taken out": _form(in_row_form, _note_and_take_out),
    "an end sewn in": _form(EndBoxes, _tick),
    "the ends of an area": _form(EndBoxes, _pressed("All of this area are sewn in")),
    "the finishing page": _form(finishing_page_form, _pressed("Make the finishing page")),
    "measuring": _form(measure_form, _measure),
    "what was measured": _form(apply_form, _pressed("Plan with what was measured")),
    "a stroke": _form(Painting, _paint),
    "a file loaded": _form(load_form, _load),
    "set into a piece": _form(place_form, _place),
    "written out": _form(out_form, _pressed("Table")),
    "the plan's tables": _form(out_form, _pressed("One by one")),
    "the handout": _form(class_handout_form, _pressed("Make the handout")),
    "a practice piece": _form(class_handout_form, _pressed("Begin this practice piece")),
    "back to a version": _form(versions_form, _pressed("Go back to this version")),
    "a damaged file": _mending(lambda folder: (folder / "choices.csv").write_text("what,is\n,\n")),
    "a chart otherwise knitted": _mending(_contradict),
}
