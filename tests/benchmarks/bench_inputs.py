"""Hands every reader inputs damaged by chance, and counts what is read, refused and let escape.

Run it as `python tests/benchmarks/bench_inputs.py [--inputs 200000] [--only READER] [--show N]`.
The target: nothing but a PlanError ever escapes, and no input takes more than two seconds of the
processor or 1.5 GB of addresses. Each input is sound but for one to six changes, which depend on
its number alone; `--show` tells what one of them is and does. Readers run in processes of their
own, so that one that hangs or dies is told of, and the next input is taken.
"""

from __future__ import annotations

import argparse
import io
import os
import random
import re
import resource
import signal
import struct
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
import zlib
from collections import Counter, defaultdict
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
# One thread: the others' stacks would take of the addresses.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

from planner.errors import PlanError
from tests.benchmarks.results import Result
from tests.helpers.hostile import HOSTILE
from tests.helpers.inputs import READERS, seeds

ADDRESSES = 1_500_000_000  # bytes
SLOW_S = 2  # of the processor
HANGS_S = 20
A_PROCESS = 250  # inputs
INPUTS = 2_000
LONGEST_MESSAGE = 1_500
PNG, CHUNK_AT = b"\x89PNG\r\n\x1a\n", 8

# What is put in where something sound stood.
STRANGE = [
    *(b"1e999999999", b"-1e-999999999", b"9" * 5_000, b"0", b"-1", b"1e308", b"nan", b"inf"),
    *(b"99999999999999999999", b"1/0", b"0x" + b"f" * 2_000, b"1_0", "٣".encode(), b"0.0001"),
    *(b"(" * 3_000, b"[" * 3_000, b"a." * 20_000, b"{a=" * 500, b'"', b"'", b"\\", b'"""'),
    *(b",", b";", b"\t", b"\n", b"\r", b"\0", b" " * 5_000, b"," * 5_000, b"\n" * 5_000),
    *(b"=1+1", b"<", b"&a;", b"<!DOCTYPE x>", b"\xff\xfe", b"\xef\xbb\xbf", "é".encode()),
    *(b"999999999 A", b"(1 A) 999 times", b"repeat from * to end", b"Rows 1 to 100000000000: 1 A"),
    *(b"oklch(1e308 1 1)", b"rgb(none none none)", b"#12", b"1e400%", b"true", b"row worked"),
    *(b"A1:XFD1048576", b"row 0", b"whole", b"9999-99-99", "🧶".encode(), b"A" * 3_000),
]
NUMBER = re.compile(rb"\d+(?:\.\d+)?")


def damaged(data: bytes, chance: random.Random) -> bytes:
    """The bytes with one change: some left out, doubled, moved, or put in."""
    start, stop = sorted(chance.choices(range(len(data) + 1), k=2))
    if chance.random() < 0.7:
        stop = min(stop, start + chance.randint(0, 12))
    before, part, after = data[:start], data[start:stop], data[stop:]
    numbers = list(NUMBER.finditer(data))
    way = chance.randrange(14)
    # Most changes are small, so that much of what is damaged still gets far into its reader.
    if way > 9 and numbers:
        number = chance.choice(numbers)
        little = b"%d" % chance.choice((0, 1, 2, 3, 5, 7, 30, 101, 999, 2_000, 70_000))
        return data[: number.start()] + little + data[number.end() :]
    if way > 7:
        lines = data.splitlines(keepends=True)
        chosen = chance.choices(lines or [b""], k=2)
        chance.shuffle(lines)
        return data + b"".join(chosen) if way == 8 else b"".join(lines)
    if way == 0:
        return before + after
    if way == 1:
        return before + part * chance.choice((2, 3, 50)) + after
    if way == 2:
        return before + chance.randbytes(len(part[:20])) + after
    if way == 3 and len(part):
        return before + bytes([part[0] ^ (1 << chance.randrange(8))]) + part[1:] + after
    if way == 4:
        return part + before + after
    if way == 5 and numbers:
        number = chance.choice(numbers)
        return data[: number.start()] + chance.choice(STRANGE) + data[number.end() :]
    return before + chance.choice(STRANGE) + after


def damaged_zip(data: bytes, chance: random.Random) -> bytes:
    """A workbook with one change in one of its parts, zipped anew."""
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old:
        names = old.namelist()
        chosen = chance.choice(names)
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as new:
            for name in dict.fromkeys(names):
                part = old.read(name)
                new.writestr(name, damaged(part, chance) if name == chosen else part)
    return file.getvalue()


def damaged_png(data: bytes, chance: random.Random) -> bytes:
    """A picture with one of its chunks changed, left out or doubled, with the right sum."""
    chunks, at = [], CHUNK_AT
    while at + 12 <= len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        chunks.append((data[at + 4 : at + 8], data[at + 8 : at + 8 + length]))
        at += 12 + length
    chosen = chance.randrange(len(chunks))
    kind, content = chunks[chosen]
    changed = [(kind, damaged(content, chance)), (kind, content)][: chance.choice((0, 1, 1, 1, 2))]
    if kind == b"IDAT" and chance.random() < 0.5:
        changed = [(kind, zlib.compress(damaged(b"\0" * 50_000, chance)))]
    chunks[chosen : chosen + 1] = changed
    parts = [PNG]
    for kind, content in chunks:
        total = zlib.crc32(kind + content)
        parts.append(struct.pack(">I", len(content)) + kind + content + struct.pack(">I", total))
    return b"".join(parts)


def input_of(number: int, names: list[str], sound: dict[str, list[bytes]]) -> tuple[str, bytes]:
    """The reader and the bytes of an input, by its number."""
    chance = random.Random(number)
    name = names[number % len(names)]
    data = chance.choice(sound[name])
    for _ in range(chance.choice((1, 1, 1, 1, 2, 6))):
        inside = chance.random() < 0.8
        try:
            if inside and data.startswith(b"PK"):
                data = damaged_zip(data, chance)
            elif inside and data.startswith(PNG):
                data = damaged_png(data, chance)
            else:
                data = damaged(data, chance)
        # What is broken already is no zip and no picture any more.
        except (zipfile.BadZipFile, struct.error, EOFError, zlib.error, IndexError, OSError):
            data = damaged(data, chance)
        except (NotImplementedError, RuntimeError, ValueError):
            data = damaged(data, chance)
    return name, data


def outcome_of(name: str, data: bytes) -> str:
    """What a reader makes of an input: read, refused, or what escapes."""
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings(action="error"):
        try:
            READERS[name](data, Path(folder))
        except PlanError as error:
            return "refused" if len(str(error)) <= LONGEST_MESSAGE else "a message too long"
        except Exception as error:
            return f"{type(error).__name__}: {str(error)[:100]}"
    return "read"


def read_all(numbers: range, names: list[str], sound: dict, pipe: int) -> None:
    """Read these inputs in this process, and write a line about each into the pipe."""
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESSES, ADDRESSES))
    for number in numbers:
        name, data = input_of(number, names, sound) if number >= 0 else hostile(number)
        before = time.process_time()
        # The system ends a process that goes on for longer, wherever it is.
        limit = int(before) + HANGS_S
        resource.setrlimit(resource.RLIMIT_CPU, (limit, resource.RLIM_INFINITY))
        outcome = outcome_of(name, data).replace("\n", " ").replace("\t", " ")
        took = time.process_time() - before
        os.write(pipe, f"{number}\t{name}\t{took:.3f}\t{outcome}\n".encode())
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    os.write(pipe, f"memory\t{most}\n".encode())


def hostile(number: int) -> tuple[str, bytes]:
    """The reader and the bytes of an input that is built to harm; they count downwards from -1."""
    name, make = list(HOSTILE.values())[-1 - number]
    return name, make()


def in_a_process(numbers: range, names: list[str], sound: dict) -> tuple[list[list[str]], str]:
    """What a process of its own says of these inputs, line by line, and how it ended."""
    out, into = os.pipe()
    child = os.fork()
    if not child:
        os.close(out)
        try:
            read_all(numbers, names, sound, into)
        except BaseException:
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    os.close(into)
    with os.fdopen(out) as lines:
        said = [line.rstrip("\n").split("\t") for line in lines]
    _, status = os.waitpid(child, 0)
    ended = signal.Signals(os.WTERMSIG(status)).name if os.WIFSIGNALED(status) else ""
    return said, ended or ("" if not status else "an error of the benchmark")


def run(numbers: range, names: list[str], sound: dict) -> tuple[list[list[str]], int]:
    """What is said of each input, those that end their process too; and the most memory, kB."""
    lines: list[list[str]] = []
    memory = 0
    left = numbers
    while left:
        said, ended = in_a_process(left[:A_PROCESS], names, sound)
        memory = max([memory, *(int(line[1]) for line in said if line[0] == "memory")])
        said = [line for line in said if line[0] != "memory"]
        lines += said
        left = left[len(said) :]
        if ended and left:
            number = left[0]
            name, _ = input_of(number, names, sound) if number >= 0 else hostile(number)
            lines.append([str(number), name, str(HANGS_S), f"ended by {ended}"])
            left = left[1:]
    return lines, memory


def print_figures(lines: list[list[str]]) -> int:
    """A line for each reader, then whatever escaped or was slow; returns how many these are."""
    by_reader = defaultdict(list)
    for line in lines:
        by_reader[line[1]].append(line)
    print(f"{'reader':18}{'inputs':>9}{'read':>9}{'refused':>9}{'slowest s':>11}")
    for name, some in by_reader.items():
        counts = Counter(line[3] for line in some)
        slowest = max(float(line[2]) for line in some)
        print(f"{name:18}{len(some):9,}{counts['read']:9,}{counts['refused']:9,}{slowest:11.2f}")
    wrong = [line for line in lines if line[3] not in ("read", "refused")]
    slow = [line for line in lines if float(line[2]) > SLOW_S and line not in wrong]
    for number, name, took, outcome in [*wrong[:40], *slow[:20]]:
        print(f"  input {number}, {name}: {outcome}, {took} s")
    print(f"{len(wrong)} escaped, {len(slow)} took more than {SLOW_S} s of the processor")
    return len(wrong) + len(slow)


def measure() -> list[Result]:
    """How many inputs do harm, of those built to and of some damaged by chance; and the slowest."""
    names, sound = list(READERS), seeds()
    for name in names:
        outcome_of(name, sound[name][0])
    groups = (("built to harm", range(-1, -1 - len(HOSTILE), -1)), ("damaged", range(INPUTS)))
    results = []
    for kind, numbers in groups:
        lines, _ = run(numbers, names, sound)
        escaped = sum(line[3] not in ("read", "refused") for line in lines)
        slowest = max(float(line[2]) for line in lines)
        what = f"{len(lines):,} inputs {kind}"
        results += [
            Result(f"{what}: escaped", escaped, "of them", aim="none", met=not escaped),
            Result(
                f"{what}: the slowest",
                slowest,
                "s of processor",
                aim=f"at most {SLOW_S} s",
                met=slowest <= SLOW_S,
            ),
        ]
    return results


def show(number: int, names: list[str], sound: dict) -> None:
    """One input, and what comes of it."""
    name, data = input_of(number, names, sound) if number >= 0 else hostile(number)
    print(name, len(data), data[:3_000])
    with tempfile.TemporaryDirectory() as folder:
        print(READERS[name](data, Path(folder)))


def main() -> int:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--inputs", type=int, default=INPUTS)
    words.add_argument("--first", type=int, default=0, help="the number of the first input")
    words.add_argument("--only", choices=READERS, help="one reader")
    words.add_argument("--show", type=int, help="the number of one input to show")
    asked = words.parse_args()
    names, sound = [asked.only] if asked.only else list(READERS), seeds()
    if asked.show is not None:
        show(asked.show, names, sound)
        return 0
    # Imported once, before the processes part.
    for name in names:
        outcome_of(name, sound[name][0])
    built = 0
    if not asked.only:
        print(f"{len(HOSTILE)} inputs built to harm")
        lines, memory = run(range(-1, -1 - len(HOSTILE), -1), names, sound)
        built = print_figures(lines)
        print(f"at most {memory // 1024:,} MB of memory\n")
    print(f"{asked.inputs:,} inputs damaged by chance")
    lines, memory = run(range(asked.first, asked.first + asked.inputs), names, sound)
    wrong = print_figures(lines)
    print(f"at most {memory // 1024:,} MB of memory")
    return 1 if wrong + built else 0


if __name__ == "__main__":
    sys.exit(main())
