"""Inputs built to harm: each small to send, and refused in words before it can do any harm.

By name: the reader (see inputs), and what makes the bytes.
"""

import io
import struct
import zipfile
import zlib
from collections.abc import Callable

from PIL import Image

from tests.helpers.workbooks import SHEET_1, lettered, replaced

SHEET = lettered(["AB", "BA"])
STYLES, STRINGS, WORKBOOK = "xl/styles.xml", "xl/sharedStrings.xml", "xl/workbook.xml"
HUGE, LONG = "1e999999999", "9" * 5_000
LINE = "Row 1 (RS): "


def text(words: str) -> Callable[[], bytes]:
    return lambda: words.encode()


def before(part: str, tag: bytes, xml: bytes, times: int = 1) -> Callable[[], bytes]:
    """The workbook of four cells with something before a tag, many times."""
    return lambda: replaced(SHEET, part, tag, xml * times + tag)


def cells(rows: int, columns: int, cell: bytes = b"<c/>") -> Callable[[], bytes]:
    """The workbook with so many more cells."""
    line = b"<row>" + cell * columns + b"</row>"
    return before(SHEET_1, b"</sheetData>", line, rows)


def near_shades() -> bytes:
    """A sheet with thousands of fills that no eye tells apart, all in use."""
    fills = b"".join(
        b'<fill><patternFill patternType="solid"><fgColor rgb="FF80%02x%02x"/></patternFill></fill>'
        % (green, blue)
        for green in range(0x60, 0xA0)
        for blue in range(0x60, 0xA0)
    )
    formats = b"".join(b'<xf fillId="%d" applyFill="1"/>' % n for n in range(2, 4_098))
    data = replaced(SHEET, STYLES, b"</fills>", fills + b"</fills>")
    data = replaced(data, STYLES, b"</cellXfs>", formats + b"</cellXfs>")
    used = b"".join(b'<c s="%d"/>' % n for n in range(1, 1_001))
    lines = b"<row>" + used + b"</row>"
    return replaced(data, SHEET_1, b"</sheetData>", lines * 3 + b"</sheetData>")


def many_notes() -> bytes:
    """A page of 20,000 long texts, none like another."""
    lines = []
    for row in range(200):
        lines.append("\t".join(f"text {row} {column}" for column in range(100)))
    return "\n".join(lines).encode()


def many_parts() -> bytes:
    """A workbook of which one sheet is named nine hundred times."""
    again = b'<sheet name="M%d" sheetId="%d" r:id="rId1"/>'
    more = b"".join(again % (n, n) for n in range(2, 900))
    return replaced(SHEET, WORKBOOK, b"</sheets>", more + b"</sheets>")


def zipped_spaces() -> bytes:
    """A workbook with a part of more than a quarter of a gigabyte of spaces, packed bit by bit."""
    file = io.BytesIO(SHEET)
    with (
        zipfile.ZipFile(file, "a", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/worksheets/sheet2.xml", "w") as part,
    ):
        for _ in range(280):
            part.write(b" " * 1_000_000)
    return file.getvalue()


def lying_zip() -> bytes:
    """A workbook whose zip says of a part that it is small."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/styles.xml", b" " * 300_000_000)
    data = file.getvalue()
    size = struct.pack("<I", 300_000_000)
    return data.replace(size, struct.pack("<I", 1_000))


def all_of_it_merged() -> bytes:
    area = b'<mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>'
    return replaced(SHEET, SHEET_1, b"</sheetData>", b"</sheetData>" + area)


def chunk(kind: bytes, content: bytes) -> bytes:
    total = struct.pack(">I", zlib.crc32(kind + content))
    return struct.pack(">I", len(content)) + kind + content + total


def png(width: int, height: int, *, lines: int = 0) -> bytes:
    """A picture that says it is so large, with so many lines of it."""
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    packer = zlib.compressobj()
    packed = [packer.compress(bytes(3 * width + 1)) for _ in range(lines)]
    pixels = b"".join([*packed, packer.flush()])
    start = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header)
    return start + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")


def jpeg_of_200_megapixels() -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (20, 10)).save(file, "JPEG")
    data = file.getvalue()
    at = data.index(b"\xff\xc0") + 5
    return data[:at] + struct.pack(">HH", 14_000, 14_400) + data[at + 4 :]


def letters(count: int) -> str:
    """So many different letters, each three ideographs of which no two are alike."""
    return ",".join(
        chr(0x4E00 + n % 200) + chr(0x4E00 + n // 200 % 200) + "A" for n in range(count)
    )


TOO_MANY_CELLS = "A," * 2_000_001
SECTION = "[limits]\nsideways = "

HOSTILE: dict[str, tuple[str, Callable[[], bytes]]] = {
    # Numbers, in fields, cells and settings.
    "a huge power": ("number", text(HUGE)),
    "a tiny power": ("number", text("1e-999999999")),
    "a huge power, parted": ("number", text("1e9_99999999")),
    "a huge power in other digits": ("number", text("1e٩٩٩٩٩٩٩٩٩")),
    "5,000 digits": ("number", text(LONG)),
    "a fraction of 5,000 digits": ("number", text(f"{LONG}/{LONG}")),
    "a million signs": ("number", text("1" * 1_000_000)),
    "a huge power in a yarn": ("yarns.csv", text(f"letter,metres_per_ball\nA,{HUGE}\n")),
    "a huge power in a measurement": (
        "measurements.csv",
        text(f"number,date,way,yarn,gauge_stitches\n1,2026-03-02,unravelled,A,{HUGE}\n"),
    ),
    "a huge power as a row": (
        "progress.csv",
        text(f"number,date,what,row\n1,2026-03-02,row worked,{HUGE}\n"),
    ),
    "5,000 digits as a number of the log": (
        "progress.csv",
        text(f"number,date,what,row\n{LONG},2026-03-02,row worked,1\n"),
    ),
    "row 0 worked": ("progress.csv", text("number,date,what,row\n1,2026-03-02,row worked,0\n")),
    "row 0 undone": ("progress.csv", text("number,date,what,row\n1,2026-03-02,row undone,0\n")),
    "5,000 digits in a row's note": (
        "progress.csv",
        text(f"number,date,what,row,runs\n1,2026-03-02,row worked,1,{LONG} A1\n"),
    ),
    "an edge beyond all numbers": (
        "progress.csv",
        text(f"number,date,what,row,runs\n1,2026-03-02,row worked,1,3 A1 to {10**20}\n"),
    ),
    "a huge power as a place": (
        "choices.csv",
        text(f"about,yarn,row,stitch,choice\nsupply,A,{HUGE},1,bobbin\n"),
    ),
    "blanks in a dye lot": (
        "yarns.csv",
        text(f"letter,balls_in_hand,dye_lot\nA,1,3 of x{' ' * 100_000}x\n"),
    ),
    "very many part balls": (
        "yarns.csv",
        text(f"letter,grams_per_ball,part_balls_g\nA,50,{'1;' * 60_000}\n"),
    ),
    # piece.toml
    "a huge power in quotes": ("piece.toml", text(f'{SECTION}"{HUGE} cm"\n')),
    "a power without end": ("piece.toml", text(f"[gauge]\nstitches = {HUGE}\n")),
    "5,000 digits in piece.toml": ("piece.toml", text(f"[gauge]\nstitches = {LONG}\n")),
    "hexadecimal digits": ("piece.toml", text(f"[allowances]\ntail_cm = 0x{'f' * 40_000}\n")),
    "deep brackets": ("piece.toml", text(f"a = {'[' * 20_000}\n")),
    "deep brackets on many lines": ("piece.toml", text("a = " + "[\n" * 20_000)),
    "deep braces": ("piece.toml", text("a = " + "{b=" * 10_000)),
    "20,000 dots": ("piece.toml", text("a." * 20_000 + "b = 1\n")),
    "dots in a header": ("piece.toml", text(f"[{'a.' * 20_000}b]\n")),
    "a long name": ("piece.toml", text(f'name = "{"x" * 40_000}"\n')),
    "thousands of places": ("piece.toml", text(f'[habits]\nelsewhere = "{"1-9 sofa," * 5_000}"\n')),
    "a large piece.toml": ("piece.toml", text("# a comment\n" * 100_000)),
    # Charts as text.
    "a row of 100,000 stitches": ("chart.csv", text(",".join("A" * 100_000) + "\n")),
    "100,000 letters in a line": ("chart.csv", text("A" * 100_000 + "\n")),
    "40,000 rows": ("chart.csv", text("A,B\n" * 40_000)),
    "rows of 3,000 widths": ("chart.csv", text("\n".join("A," * n for n in range(3_000)))),
    "40,000 letters": ("chart.csv", text("\n".join([letters(40_000)]))),
    "different letters": ("chart.csv", text(letters(500))),
    "two million cells": ("chart.csv", text(TOO_MANY_CELLS)),
    "empty columns": ("chart.csv", text(f"A{',' * 1_999_000}\nA\n")),
    "a file of 20 MB": ("chart.csv", lambda: b"A,B\n" * 5_000_000),
    "empty lines": ("chart.csv", lambda: b"\n" * 10_000_000),
    "a text of 20 MB": ("text sheet", lambda: b"A B\n" * 5_000_000),
    "a text too wide": ("text sheet", text("\n" * 90_000 + "A," * 1_000)),
    "120,000 letters in a line": ("text sheet", text("AB" * 60_000)),
    "many notes": ("text sheet", many_notes),
    # Written rows.
    "999,999,999 stitches": ("written rows", text(f"{LINE}999999999 A")),
    "5,000 digits of stitches": ("written rows", text(f"{LINE}{LONG} A")),
    "repeats in repeats": ("written rows", text(f"{LINE}{'(' * 9}9 A{') 99 times' * 9}")),
    "a repeat without end": ("written rows", text(f"{LINE}*9 A; repeat from * 999999999 times")),
    "rows to 10^20": ("written rows", text(f"Rows 1 to {10**20}: 1 A")),
    "a row of 5,000 digits": ("written rows", text(f"Row {LONG}: 1 A")),
    "a total of 5,000 digits": ("written rows", text(f"{LINE}1 A ({LONG} sts)")),
    "rows of many stitches": ("written rows", text("Rows 1 to 2000: 1000 A")),
    "a line of blanks": ("written rows", text(f"{LINE}1 A{' ' * 100_000}x")),
    "a text of 5 MB": ("written rows", text(f"{LINE}1 A\n" * 400_000)),
    # Workbooks.
    "a million cell formats": ("workbook", before(STYLES, b"</cellXfs>", b"<xf/>", 1_000_000)),
    "a whole sheet merged": ("workbook", all_of_it_merged),
    "zipped spaces": ("workbook", zipped_spaces),
    "zipped spaces in the formats": ("workbook", before(STYLES, b"</cellXfs>", b" ", 90_000_000)),
    "a zip that lies": ("workbook", lying_zip),
    "a million texts": ("workbook", before(STRINGS, b"</sst>", b"<si><t>x</t></si>", 1_000_000)),
    "a million cells": ("workbook", cells(1_000, 1_000)),
    "tags that nobody needs": ("workbook", before(SHEET_1, b"</sheetData>", b"<a/>", 10_000_000)),
    "columns hidden again and again": (
        "workbook",
        before(
            SHEET_1,
            b"<sheetData>",
            b'<cols><col min="1" max="9" hidden="1"/></cols>',
            90_000,
        ),
    ),
    "one sheet named 900 times": ("workbook", many_parts),
    "thousands of near shades": ("workbook", near_shades),
    "a row beyond all numbers": ("workbook", before(SHEET_1, b"</sheetData>", b'<row r="1e400"/>')),
    # Pictures.
    "200 megapixels": ("picture", lambda: png(14_400, 14_000)),
    "200 megapixels, packed": ("picture", lambda: png(14_400, 14_000, lines=2_000)),
    "a picture of 65,000 × 65,000": ("picture", lambda: png(65_000, 65_000)),
    "a picture of 10,000,000 × 1": ("picture", lambda: png(10_000_000, 1, lines=1)),
    "a JPEG of 200 megapixels": ("picture", jpeg_of_200_megapixels),
    "a picture without its pixels": ("picture", lambda: png(8_000, 8_000)),
    # Colours.
    "a colour beyond all numbers": ("colour", text("oklch(1e308 1e308 1e308)")),
    "a colour beyond sRGB": ("colour", text("color(srgb 1e200 0 0)")),
    "a colour of 100,000 letters": ("colour", text(f"rgb({' ' * 100_000}1 1 1)")),
}
