"""The folder: files read and written, the words about wrong ones, and the report."""

from __future__ import annotations

import io
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import replace
from datetime import date
from itertools import product
from pathlib import Path

from tests.net.names import house, keep_changes, keep_choice, log_measurement, log_progress
from tests.net.pieces import DEMO, FOLDERS, patches, yarns
from tests.net.sections import section
from tests.net.text import Titled, answer, as_text

DAY = date(2026, 3, 14)
SETTINGS = ("name", "units", "gauge", "how", "limits", "allow", "habits", "weighing", "multiplier")


@contextmanager
def folder(source: Path | None = None) -> Iterator[Path]:
    """A folder that may be written to: a copy of a piece, or empty."""
    with tempfile.TemporaryDirectory() as place:
        at = Path(place) / "piece"
        if source is None:
            at.mkdir()
        else:
            # What a knitter or a test has left there is not the piece.
            ignored = shutil.ignore_patterns("plan", "out", "history", "trouble.log", ".*")
            shutil.copytree(source, at, ignore=ignored)
        yield at


def plainly(value, at: Path) -> str:
    """A text without the folder's place and today's date."""
    text = as_text(value).replace(str(at), "FOLDER").replace(str(at.parent), "ABOVE")
    return text.replace(date.today().isoformat(), "TODAY")


def files_of(at: Path) -> Titled:
    """Each file of a folder as it stands."""
    for path in sorted(at.rglob("*")):
        if path.is_file() and path.suffix in (".csv", ".toml"):
            yield path.relative_to(at).as_posix(), plainly(path.read_bytes().decode(), at)


def asked_words(project) -> str:
    """All that a project asks for."""
    names = ("name", "units", "yarns", "gauge", "how", "limits", "by_yarn", "allow", "habits")
    names += ("weighing", "multiplier", "choices", "measurements", "progress", "chart")
    return "\n".join(f"{name}: {as_text(getattr(project, name))}" for name in names)


def changed(asked):
    """The project with something of every part changed."""
    new = replace(asked.yarns["N"], balls_in_hand=2.5, dye_lot="")
    own = {"N": house.CarryLimits(2, "3 cm", 1, False), "W": house.CarryLimits()}
    return replace(
        asked,
        name="Harbour, again",
        units="in",
        gauge=house.Gauge(18.5, 26, 4, "in"),
        how=house.Construction("rounds", selvedge=2),
        limits=house.CarryLimits("1 in", 3, 2),
        by_yarn=own,
        allow=house.Allowances(tail_cm=12.5),
        habits=house.Habits(drop="long", balls_on_table=2),
        weighing=house.Weighing(most_live=9),
        multiplier=house.MultiplierChoice("own", 3.45),
        yarns={**asked.yarns, "N": new, "Z": house.Yarn("Z", "Zinc, pale", "#dddddd")},
    )


@section
def files() -> Titled:
    """A piece read, changed, kept and read again, its logs and choices, and a new piece."""
    with folder(DEMO) as at:
        asked = house.open_project(at)
        yield "as read", plainly(asked_words(asked), at)
        new = changed(asked)
        keep_changes(asked, new, (*SETTINGS, "yarns"))
        yield from files_of(at)
        yield "names", sorted(path.name for path in at.iterdir() if path.name[0] != ".")
        keep_changes(asked, new, ("by_yarn",))
        yield "whole", plainly((at / "piece.toml").read_text("utf-8"), at)
        (at / "piece.toml").write_text('limits = {across = 1, up = "1 in"}\n', encoding="utf-8")
        keep_changes(house.open_project(at), new, ("by_yarn", "gauge"))
        yield "in one line", plainly((at / "piece.toml").read_text("utf-8"), at)
        yield from logs(at)
        again = house.open_project(at)
        yield "read again", plainly(asked_words(again), at)
        turned = replace(asked, chart=house.Chart.from_rows(asked.chart.to_rows()[::-1]))
        (at / "chart.csv").write_text("A,B\n", encoding="utf-8")
        yield "chart changed", plainly(answer(keep_changes, asked, turned, ("chart",)), at)


def logs(at: Path) -> Titled:
    """Lines added to the logs and the choices of a folder."""
    choice = house.OwnChoice("supply", "N", 1, 1, "whole", "bobbin")
    keep_choice(at, choice, strand_then="N1", on=DAY)
    keep_choice(at, replace(choice, choice="butterfly"), on=DAY)
    keep_choice(at, replace(choice, row=7, choice='a, "b"\r\nc\0'), on=DAY)
    keep_choice(at, replace(choice, row=8), on=DAY)
    keep_choice(at, replace(choice, row=8, choice=""), on=DAY)
    yield "choices", list(house.read_choices(at / "choices.csv"))
    shared = {"date": "2026-05-01", "yarn": "N", "gauge_stitches": 20, "stitches": 40}
    for corrects in (None, 3, 77):
        given = shared | {"way": "marked length", "length_cm": 70, "corrects": corrects}

        def make(number, given=given):
            return house.Measurement(number=number, **given)

        yield f"measured {corrects}", answer(log_measurement, at, make)
    asked = replace(house.open_project(DEMO), folder=at)
    for what, row in (("row worked", 1), ("row worked", 3), ("row worked", 2), ("row undone", 2)):
        yield f"{what} {row}", plainly(answer(log_progress, asked, what, row), at)
    given = {"strand": "N1", "length_cm": 250.5, "note": "by lamp"}
    yield "left", plainly(answer(log_progress, asked, "left", 1, **given), at)
    yield from files_of(at)


@section
def new_pieces() -> Titled:
    """A new piece started below a folder; the same name again; no name."""
    with folder() as at:
        for name in ("Hill scarf, N° 2", "hill SCARF n 2", "…", ""):
            made = answer(house.start_piece, at, name, patches(180, shaped=True), dict(yarns()))
            yield name, plainly(str(made), at)
        yield from files_of(at)
        thin = house.Chart.from_rows(["A", "B"])
        made = house.start_piece(at, "thin", thin, {})
        yield "thin", house.open_project(made).chart
    nowhere = house.Project("x", patches(181))
    yield "no folder", answer(keep_changes, nowhere, replace(nowhere, units="in"), ("units",))
    yield "no folder for rows", answer(log_progress, nowhere, "row worked", 1)
    yield "no piece", answer(house.open_project, "no/such/folder")


PIECE = (
    "format = 2",
    "name = 3",
    'units = "m"',
    "units = 1",
    "colour = 1",
    "[gauge]\nstitches = 0",
    "[gauge]\nstitches = -3",
    "[gauge]\nstitches = 1e9",
    '[gauge]\nstitches = "20"',
    '[gauge]\nunit = "mm"',
    "[gauge]\nloops = 3",
    "[gauge",
    "gauge = 22",
    '[construction]\nworked = "both"',
    '[construction]\nhand = "third"',
    "[construction]\nselvedge = 1.5",
    "[construction]\nselvedge = 101",
    "[limits]\nacross = -1",
    '[limits]\nup = "2"',
    '[limits]\nup = "2 miles"',
    '[limits]\nup = "2,500 cm"',
    "[limits]\nmiddle_start = 1",
    "[limits.by_yarn.A]\nover = 1",
    "[limits]\nby_yarn = 3",
    "[limits.by_yarn.Q]\nacross = 1",
    "[allowances]\ntail_cm = -1",
    "[allowances]\nshort_once_in = 1",
    "[allowances]\nlabel_error = 0.5",
    "[allowances]\ntail_cm = 1.5e6",
    "[habits]\nsew_every = 1.5e7",
    "[weighing]\ncarry_rows = 1500000",
    "[allowances]\ntail_cm = true",
    "[habits]\nloose_up_to_cm = 3000",
    '[habits]\ndrop = "middling"',
    "[habits]\ncomfortable = 0",
    "[habits]\ncrowded = 2",
    "[habits]\nwrap_cm = 0",
    "[habits]\nsew_every = nan",
    "[weighing]\nmost_live = 0",
    "[weighing]\nmost_live = 2.5",
    "[weighing]\nminutes_per_end = 2.5",
    '[multiplier]\nway = "guess"',
    '[multiplier]\nway = "own"',
    '[multiplier]\nway = "own"\nvalue = 0.9',
    '[multiplier]\nway = "own"\nvalue = 6.5',
    '[multiplier]\nway = "own"\nvalue = 3\nspread = -1',
)
FILES = (
    ("yarns.csv", "name\nGrey\n"),
    ("yarns.csv", "letter,name\n,Grey\n"),
    ("yarns.csv", "letter,name\nA,Grey\nA,Blue\n"),
    ("yarns.csv", "letter,shade\nA,Grey\n"),
    ("yarns.csv", "letter,name,name\nA,Grey,Blue\n"),
    ("yarns.csv", "letter,colour\nA,nothing\n"),
    ("yarns.csv", "letter,feltable\nA,perhaps\n"),
    ("yarns.csv", 'letter,metres_per_ball\nA,"1,500"\n'),
    ("yarns.csv", "letter,metres_per_ball\nA,0\n"),
    ("yarns.csv", "letter,balls_in_hand\nA,many\n"),
    ("yarns.csv", "letter,grams_per_ball\nA,many\n"),
    ("yarns.csv", "letter,label_stitches_10cm\nA,many\n"),
    ("yarns.csv", "letter,may_be_cut\nA,many\n"),
    ("yarns.csv", "letter,metres_per_ball\nA,1e999\n"),
    ("yarns.csv", "letter,balls_in_hand,dye_lot\nA,2,1 of 7\n"),
    ("yarns.csv", "Letter;Dye lot;Balls in hand\nA;1 of 7, 2 of 8;3\n"),
    ("yarns.csv", "letter\nA,b,c\n"),
    ("yarns.csv", "letter\tcolour\tfeltable\tmay_be_cut\nA\tred\tY\t0\n"),
    ("chart.csv", ""),
    ("chart.csv", "A,B\nA\n"),
    ("chart.csv", "A,B\nA,7\n"),
    ("chart.csv", "A,B\nA,\n"),
    ("chart.csv", "A,B,\nA,B,\n"),
    ("chart.csv", "AB\nBA\n"),
    ("chart.csv", "A;B\n\nB;A\n"),
    ("chart.csv", "A,B\n.,.\n"),
    ("chart.csv", '"A,B\n'),
    ("chart.csv", "A\0B\n"),
    ("choices.csv", "about,yarn\nsupply,A\n"),
    ("choices.csv", "about,yarn,row,stitch,choice\nsupply,A,0,1,bobbin\n"),
    ("choices.csv", "about,yarn,row,stitch,choice\nsupply,A,x,1,bobbin\n"),
    ("choices.csv", "about,yarn,row,stitch,choice\nsupply,A,1,1,basket\n"),
    ("choices.csv", "about,yarn,row,stitch,choice\ncarry,A,1,1,yes\n"),
    ("measurements.csv", "number,date\n1,2026-03-02\n"),
    ("measurements.csv", "number,date,way,yarn,gauge_stitches\n1,2026-03-02,guess,A,20\n"),
    ("measurements.csv", "number,date,way,yarn,gauge_stitches\n1,2 March,supply,A,20\n"),
    ("measurements.csv", "number,date,way,yarn,gauge_stitches\n1.5,2026-03-02,supply,A,20\n"),
    ("measurements.csv", "number,date,way,yarn,gauge_stitches\n,2026-03-02,supply,A,20\n"),
    ("measurements.csv", "number,date,way,yarn,gauge_stitches\n1,2026-03-02,supply,A,20\n"),
    ("progress.csv", "number,date,what,row\n1,2026-03-02,row knitted,1\n"),
    ("progress.csv", "number,date,what,row\n1,2026-03-02,row worked,-1\n"),
    ("progress.csv", "number,date,what,row\n1,2026-03-02,left,1\n"),
    ("progress.csv", "number,date,what,row\n1,2026-03-02,row worked,9\n"),
    ("progress.csv", "number,date,what,row\n1,2026-03-02,row worked,2\n"),
    ("progress.csv", "number,date,what,row\n2,2026-03-02,row worked,1\n2,2026-03-02,left,1\n"),
    ("progress.csv", "number,date,what,row,runs\n1,2026-03-02,row worked,1,9 Q1\n"),
)


def planned_words(at: Path) -> str:
    """What the plan of a folder comes to, or why there is none."""
    asked = answer(house.open_project, at)
    if isinstance(asked, str):
        return plainly(asked, at)
    plan = answer(house.make_plan, asked)
    if isinstance(plan, str):
        return plainly(plan, at)
    return plainly([repr(asked), plan.summary(), list(plan.notes), asked.all_yarns], at)


@section
def files_refused() -> Titled:
    """Wrong settings, yarns, charts, choices and logs, and the words for them."""
    for text in PIECE:
        with folder() as at:
            (at / "chart.csv").write_text("A,A,B\nA,B,B\n", encoding="utf-8")
            (at / "piece.toml").write_text(text, encoding="utf-8")
            yield text, planned_words(at)
    for name, text in FILES:
        with folder() as at:
            (at / "chart.csv").write_text("A,A,B\nA,B,B\n", encoding="utf-8")
            (at / name).write_text(text, encoding="utf-8")
            yield f"{name}: {text}", planned_words(at)
    with folder() as at:
        yield "empty folder", planned_words(at)
        (at / "piece.toml").write_text('name = "x"', encoding="utf-8")
        yield "no chart", planned_words(at)
        (at / "chart.csv").write_bytes("A;Ä\n".encode("latin-1"))
        yield "not UTF-8", planned_words(at)
        (at / "chart.csv").write_bytes("A;Ä\nÄ;A\n".encode("utf-16"))
        yield "UTF-16", planned_words(at)


VALUES = (True, "3", None, float("nan"), -1, 0, 0.5, 1e12)


@section
def values_refused() -> Titled:
    """Numbers, lengths, yarns, measurements and entries that cannot be."""
    yield from wrong_words()
    for value, above in product(VALUES, (None, 0)):
        yield f"{value} {above}", answer(house.check_number, value, "The length", above=above)
    for text in ("2.5 cm", "1/2 in", "3 yd", "5", "x cm", "3 ells", " 7mm "):
        yield text, str(answer(house.parse_length, text))
    for text in ("1,500", "x", "1/0", "1e3", "3/4"):
        yield text, str(answer(house.exact, text, "The width"))
    yield "a unit", str(answer(house.to_cm, 3, "ell"))
    basic = {"date": "2026-03-14", "way": "marked length", "yarn": "A", "gauge_stitches": 20}
    for wrong in (
        {"way": "guess"},
        {"fabric": "lace"},
        {"use": "maybe"},
        {"state": "wet"},
        {"metres_per_gram_from": "memory"},
        {"length_cm": -1},
        {"length_cm": None},
        {"gauge_stitches": 0},
        {"date": "yesterday"},
        {"corrects": 5},
        {"planned_cm": 5},
        {"yarn": " "},
        {"stitches": 0},
        {"way": "needle wraps"},
        {"way": "weighed swatch", "grams": 8},
        {"way": "supply", "wound_cm": 5, "left_cm": 9},
    ):
        given = {"number": 5, "stitches": 59, "length_cm": 100} | basic | wrong
        yield f"{wrong}", answer(make_measurement, given)
    for counts in (("", "1 over 1"), ("0 over 1", 1), ("1 over 1", "1 over -2")):
        yield f"counts {counts}", str(answer(house.Gauge, *counts))


def wrong_words() -> Titled:
    """Projects, entries and habits that cannot be."""
    chart = patches(182)
    yield "a name", answer(house.Project, 3, chart)
    yield "units", answer(house.Project, "x", chart, units="mm")
    for what, row, length in product(("left", "row worked", "row lost"), (-1, 0, 1), (None, 9)):
        entry = answer(house.Entry, 7, "2026-03-14", what, row, strand="A1", length_cm=length)
        yield f"{what} {row} {length}", entry


def make_measurement(given: dict) -> str:
    """A measurement, in short."""
    return repr(house.Measurement(**given))


def printed(*arguments: str) -> list:
    """What the report command prints, says of trouble, and returns."""
    told, trouble = io.StringIO(), io.StringIO()
    with redirect_stdout(told), redirect_stderr(trouble):
        code = house.report_main([*arguments])
    return [code, told.getvalue(), trouble.getvalue()]


@section
def report() -> Titled:
    """The report command: what it prints and the tables it writes; the names of its pictures."""
    with folder(FOLDERS / "tiny") as at:
        yield "printed", plainly(printed(str(at)), at)
        yield from files_of(at / "plan")
        yield "pictures", sorted(path.name for path in (at / "plan").glob("*.png"))
        (at / "plan" / "ways.csv").unlink()
        (at / "plan" / "ways.csv").mkdir()
        yield "a folder in its place", plainly(printed(str(at)), at)
    yield "no folder", printed()
    yield "nowhere", printed("no/such/folder")


@section
def command() -> Titled:
    """The words of the command and how the workbook is started."""
    yield "words", house.command_words
    yield "public names", list(house.public_names)
    options = house.lab_options(Path("/ROOT"))
    yield "options", [option for option in options if option != "--allow-root"]
