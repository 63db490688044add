"""Every reader of what comes in as a function of bytes, and sound inputs to begin from.

The tests hand them what is built to harm, the benchmark what is damaged by chance.
"""

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image

from planner import make_plan
from planner.charts import (
    chart_picture,
    chart_xlsx,
    from_hex,
    open_artwork,
    read_grid_picture,
    read_rows,
    read_sheet,
    write_rows,
)
from planner.folder import chart_csv, open_project, weights_in
from planner.piece import CarryLimits, Chart, Construction, Gauge, Habits, Yarn
from planner.units import exact, parse_length
from tests.helpers.folders import GOOD, write
from tests.helpers.workbooks import fills, workbook, write_letters

Reader = Callable[[bytes, Path], object]

ROWS = ["AABBA", "ABBCA", "AB.CA", "AAACC"]
CHART = Chart.from_rows(ROWS)
COLOURS = {"A": "#f1e9d2", "B": "#243b63", "C": "#b5452c"}
YARNS = {letter: Yarn(letter, colour=colour) for letter, colour in COLOURS.items()}

MEASUREMENTS = (
    "number,date,way,yarn,gauge_stitches,gauge_over_cm,needle_mm,stitches,length_cm,grams,"
    "metres_per_gram,wraps,wound_cm,left_cm,corrects,note\n"
    "1,2026-03-02,marked length,A,20,10,4.5,59,100,,,,,,,in the train\n"
    "2,2026-03-02,weighed swatch,B,20,10,,400,,8,2,,,,,\n"
    "3,2026-03-03,needle wraps,A,20,10,,,45,,,30,,,1,\n"
    "4,2026-03-04,supply,A,20,10,,300,,,,,900,120.5,,\n"
)
PROGRESS = (
    "number,date,what,row,stitches,runs,strand,part,length_cm,note\n"
    '1,2026-03-02,row worked,1,3,"1 B1, 2 A1",,whole,,\n'
    '2,2026-03-02,row worked,2,3,"1 A1 cut, 2 B1 to 3",,whole,,\n'
    "3,2026-03-02,left,2,0,,A1,whole,40.5,by lamp\n"
    "4,2026-03-03,row undone,2,3,,,whole,,\n"
    '5,2026-03-03,row worked,2,3,"1 A1, 2 B1 to 3",,whole,,\n'
)
CHOICES = (
    "date,about,yarn,row,stitch,part,choice,strand_then\n"
    "2026-03-02,supply,A,1,1,whole,bobbin,A1\n"
    "2026-03-02,supply,B,1,2,first half,,B1\n"
)
SETTINGS = (
    '# A scarf\nformat = 1\nname = "Scarf"\nunits = "cm"\n\n'
    '[gauge]\nstitches = 22\nrows = 30\nover = 10\nunit = "cm"\n\n'
    '[construction]\nworked = "flat"\nfabric = "garter"\nselvedge = 1\n\n'
    '[limits]\nacross = 0\nsideways = "2.5 cm"\nup = 2\n[limits.by_yarn.A]\nacross = 1\n\n'
    "[allowances]\ntail_cm = 15\nspare = 0.05\n\n"
    '[habits]\nballs_on_table = 4\nelsewhere = "1-2 train"\n\n'
    '[multiplier]\nway = "own"\nvalue = 3.5\n'
)
YARNS_CSV = (
    "letter,name,colour,metres_per_ball,grams_per_ball,balls_in_hand,feltable,dye_lot,part_balls_g\n"
    'A,Rust,#b5452c,100,50,3,yes,"2 of 114, 1 of 131",34; 12.5\nB,Sea,seagreen,120.5,50,1,no,7,\n'
)
NUMBERS = ("22", "2.5 cm", "1 in", "1/3", "1e3", "34; 12.5", "1-2 train, 5-9 sofa", "-0.5")
CSS_COLOURS = ("#1f3a5f", "navy", "oklch(0.7 0.1 200)", "rgb(10% 20 30 / 0.5)", "lab(50 20 -30)")
WRITTEN = (
    write_rows(CHART, Construction())
    + "Rows 5–8: *1 A, (1 B, 1 C) twice; repeat from * to end (5 sts)\n"
)


def reader_of_a_folder(name: str) -> Reader:
    """A reader of a whole piece, of which the file called so is the one handed over."""

    def read(data: bytes, folder: Path) -> object:
        write(folder)
        (folder / name).write_bytes(data)
        plan = make_plan(open_project(folder))
        return plan.summary()

    return read


def read_number(data: bytes, folder: Path) -> object:
    """A number as every field and cell for one takes it."""
    text = data.decode("utf-8", "replace")
    ways = (
        lambda: exact(text, "The number"),
        lambda: parse_length(text),
        lambda: Gauge(stitches=text),  # type: ignore[arg-type]
        lambda: CarryLimits(sideways=text),
        lambda: Habits(elsewhere=text),
        lambda: weights_in(text, "A part ball"),
    )
    refusals = []
    for way in ways:
        try:
            way()
        except ValueError as error:
            refusals.append(error)
    # Each is an answer; what is none of them must show.
    strange = [error for error in refusals if type(error).__name__ != "PlanError"]
    if strange or len(refusals) == len(ways):
        raise (strange or refusals)[0]
    return len(refusals)


def read_picture(data: bytes, folder: Path) -> object:
    art = open_artwork(data, "picture.png")
    charted = chart_picture(art, 20, 20, 0.75)
    return charted, read_grid_picture(art)


READERS: dict[str, Reader] = {
    "chart.csv": reader_of_a_folder("chart.csv"),
    "yarns.csv": reader_of_a_folder("yarns.csv"),
    "piece.toml": reader_of_a_folder("piece.toml"),
    "measurements.csv": reader_of_a_folder("measurements.csv"),
    "progress.csv": reader_of_a_folder("progress.csv"),
    "choices.csv": reader_of_a_folder("choices.csv"),
    "written rows": lambda data, _: read_rows(data.decode("utf-8", "replace"), Construction()),
    "workbook": lambda data, _: read_sheet(data, "chart.xlsx", yarns=COLOURS),
    "text sheet": lambda data, _: read_sheet(data, "chart.txt", yarns=COLOURS),
    "picture": read_picture,
    "number": read_number,
    "colour": lambda data, _: from_hex([data.decode("utf-8", "replace")]),
}


def picture(format: str) -> bytes:
    """A small chart drawn on a grid, as a picture file."""
    palette = np.array([[241, 233, 210], [36, 59, 99], [181, 69, 44]], np.uint8)
    cells = np.random.default_rng(1).integers(0, 3, (12, 14))
    pixels = palette[cells].repeat(10, axis=0).repeat(10, axis=1)
    pixels[::10] = pixels[:, ::10] = 0
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, format)
    return file.getvalue()


def numbered_sheet() -> bytes:
    """A workbook by another library, with rulers, a title and a fill for each letter."""

    def draw(book, sheet):
        sheet.write(0, 0, "Boat")
        write_letters(sheet, ROWS, top=2, left=1, formats=fills(book, COLOURS))
        for number in range(4):
            sheet.write(2 + number, 6, 4 - number)
        sheet.merge_range(7, 0, 7, 3, "a note")

    return workbook(draw)


def seeds() -> dict[str, list[bytes]]:
    """Sound inputs, reader by reader."""
    texts: dict[str, list[str]] = {
        "chart.csv": [GOOD["chart.csv"], chart_csv(CHART), "AAB\nABB\n", "A;B\nB;A\n"],
        "yarns.csv": [GOOD["yarns.csv"], YARNS_CSV],
        "piece.toml": [GOOD["piece.toml"], SETTINGS],
        "measurements.csv": [MEASUREMENTS],
        "progress.csv": [PROGRESS],
        "choices.csv": [CHOICES],
        "written rows": [WRITTEN],
        "text sheet": [chart_csv(CHART), "1\t2\t3\nA\tB\tA\nB\tB\tA\n", "A B A\nB A A\n"],
        "number": list(NUMBERS),
        "colour": list(CSS_COLOURS),
    }
    sound = {name: [text.encode() for text in some] for name, some in texts.items()}
    sound["workbook"] = [chart_xlsx(CHART, YARNS, 0.75, Construction()), numbered_sheet()]
    sound["picture"] = [picture("PNG"), picture("JPEG")]
    return sound
