"""The yarns that written rows name: which are one yarn, their letters, and what is in doubt."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.charts.lettering import free_letter
from planner.charts.questions import listed
from planner.charts.written_asks import MAIN_COLOUR, YARN_BEFORE, RowRemarks
from planner.charts.written_phrases import UNNAMED, Name, key_of
from planner.charts.written_runs import Fill, Node, Run
from planner.errors import PlanError
from planner.guards import check_yarns
from planner.piece import LETTER

# A yarn that stands once among so many runs may be a slip.
FEW_RUNS = 4
MAIN = re.compile(r"MC|(?:the )?main(?: colou?r| yarn)?", re.IGNORECASE)


@dataclass(frozen=True)
class YarnsFound:
    """The letter of each yarn by its key, and its name in words by its letter."""

    letters: Mapping[str, str]
    names: Mapping[str, str]


def names_in(nodes: Iterable[Node]) -> Iterable[Name]:
    """The yarns that parts of a row name, each as often as it is written."""
    for node in nodes:
        if not isinstance(node, Run):
            yield from names_in(node.part)
        elif node.yarn is not None:
            yield node.yarn


def twice_over(nodes: Sequence[Node]) -> Name | None:
    """A yarn with two runs beside each other, which may be another one in truth; None if none."""
    before = None
    for node in nodes:
        # "A to end" is a run as well.
        if isinstance(node, Fill) and len(node.part) == 1:
            (node,) = node.part
        if isinstance(node, Run):
            key = node.yarn.key if node.yarn else None
            if key and key == before:
                return node.yarn
            before = key
            continue
        found = twice_over(node.part)
        if found:
            return found
        before = None
    return None


def yarns_of(
    names: Sequence[Name],
    told: Mapping[str, str],
    known: Mapping[str, str],
    remarks: RowRemarks,
) -> YarnsFound:
    """The yarns of a text.

    `told` are the names that the text itself gives to letters, `known` those of the piece.
    """
    unnamed = [name for name in names if name.unnamed]
    names = [name for name in names if not name.unnamed]
    counts = Counter(name.key for name in names)
    check_yarns(len(counts), "The text of written rows")
    _ask_about_doubtful(names, counts, told, known, remarks)

    letters = _letters(counts, told, known)
    letters = _one_case(letters, remarks)
    spelt = {name.key: name.text for name in reversed(names)}
    in_words = {}
    for key, letter in letters.items():
        in_words[letter] = told.get(spelt[key], "") or known.get(letter, "") or spelt[key]
    if unnamed:
        letters |= _letters_of_unnamed(unnamed, YarnsFound(letters, in_words), remarks)
    return YarnsFound(letters, in_words)


def _letters_of_unnamed(
    unnamed: Sequence[Name], found: YarnsFound, remarks: RowRemarks
) -> dict[str, str]:
    """The letters of "k to end" without a yarn, by their keys: asked, for both are written so."""
    mains = []
    for letter, in_words in found.names.items():
        if MAIN.fullmatch(letter) or MAIN.fullmatch(in_words):
            mains.append(letter)
    line = unnamed[0].line
    question = (
        f"Line {line} goes to the end of the row and names no yarn. Is it the main colour, or the "
        "yarn before?"
    )
    taken = MAIN_COLOUR if mains else YARN_BEFORE
    is_main = remarks.settle("to_end", question, taken) == MAIN_COLOUR
    letters = {}
    for name in unnamed:
        before = found.letters.get(name.key.removeprefix(UNNAMED), "")
        letter = (mains[0] if mains else "") if is_main else before
        if not letter:
            raise PlanError(
                f"Line {name.line} goes to the end of the row and names no yarn. Write which, like "
                '"A to end".'
            )
        letters[name.key] = letter
    return letters


def refuse_others(names: Sequence[Name], only: Collection[str]) -> None:
    """Refuse a yarn that is not among those of the piece."""
    for name in names:
        if not name.unnamed and name.text not in only:
            raise PlanError(
                f"Line {name.line} names the yarn {name.text}, which is not among "
                f"{', '.join(only)}. Write one of these."
            )


def _letters(
    counts: Mapping[str, int], told: Mapping[str, str], known: Mapping[str, str]
) -> dict[str, str]:
    """The letter of each key: its own, that of the yarn so called, or a free one."""
    by_name = {}
    for letter, name in (*known.items(), *told.items()):
        if name and LETTER.fullmatch(letter):
            by_name[name.casefold()] = letter
    letters = {}
    for key in counts:
        if LETTER.fullmatch(key):
            its_own = key in told or key in known
            letters[key] = key if its_own else by_name.get(key.casefold(), key)
        elif key in by_name:
            letters[key] = by_name[key]
    taken = {*known, *letters.values()}
    for key in counts:
        if key in letters:
            continue
        wish = key[:1].upper()
        if not LETTER.fullmatch(wish) or wish in taken:
            wish = free_letter(taken)
        letters[key] = wish
        taken.add(wish)
    return letters


def _one_case(letters: dict[str, str], remarks: RowRemarks) -> dict[str, str]:
    """Ask about letters that differ by their case only, and make them one if they are."""
    by_small: dict[str, list[str]] = {}
    for letter in dict.fromkeys(letters.values()):
        by_small.setdefault(letter.lower(), []).append(letter)
    pairs = [group for group in by_small.values() if len(group) > 1]
    if not pairs:
        return letters
    in_words = listed([" and ".join(group) for group in pairs])
    question = f"Capitals count: {in_words} are two yarns. Are they?"
    if remarks.settle("capitals", question, "two yarns") == "two yarns":
        return letters
    first_of = {letter: group[0] for group in by_small.values() for letter in group}
    return {key: first_of[letter] for key, letter in letters.items()}


def _ask_about_doubtful(
    names: Sequence[Name],
    counts: Mapping[str, int],
    told: Mapping[str, str],
    known: Mapping[str, str],
    remarks: RowRemarks,
) -> None:
    """Ask about yarns that may be slips or words of the craft."""
    told_keys = {key_of(text) for text in (*told, *told.values())}
    known_keys = {key_of(text) for text in (*known, *known.values())}
    sure = {name.key for name in names if name.sure}
    total = sum(counts.values())
    doubts = []
    for name in names:
        key = name.key
        if key in told_keys or key in known_keys:
            continue
        if key not in sure and key.upper() == "M":
            raise PlanError(
                f"Line {name.line}: M1 is no plain stitch of one yarn. If M is a yarn, "
                'write it like "1 M".'
            )
        alone = counts[key] == 1 and total >= FEW_RUNS and max(counts.values()) > 1
        if key not in sure or alone or told_keys:
            doubts.append((key, name))
    # Each is named by the first place where it stands.
    first = {}
    for key, name in reversed(doubts):
        first[key] = name
    if not first:
        return
    words = [f"{name.text} (line {name.line})" for name in first.values()]
    question = f"Is this a yarn, or a slip: {listed(words)}?"
    if remarks.settle("slips", question, "yarns") == "slips":
        raise PlanError(
            f"The text of written rows names {listed(words)}, which is no yarn. Write the yarn "
            "that is meant."
        )
