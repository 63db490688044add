"""Same yarns: which yarns of several pieces are one, and what has to be asked before they are.

A yarn is the same in two pieces if it has the same name there and nothing that is said of its balls
contradicts. Nothing is merged in silence: where bands or balls differ, where one letter stands for
several names, or where a name is missing, there is a question. Balls in hand are the same balls in
whichever piece they are put down.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from planner.piece import Yarn

# Bands give whole metres or whole yards; half a yard and half a metre are less (computed).
ALIKE_M = 1.0
NAME, LETTER = "name", "letter"
# What may be answered, as set.toml has it.
ONE_YARN, TOGETHER, APART = "one yarn", "all balls together", "apart"
NO_LOT = "no lot named"

Key = tuple[str, str]  # NAME or LETTER, and which
Given = Mapping[Key, tuple[str, str]]  # what was answered, and of which piece


class Use(NamedTuple):
    """A yarn as one piece has it: the piece's folder and title, the letter, what is said of it."""

    folder: str
    piece: str
    letter: str
    yarn: Yarn


@dataclass(frozen=True)
class Question:
    """What the knitter is asked: `key` says of what, `words` why, `options` what may be answered.

    An option is what it says, and the folder of the piece that it means. `blocks`: nothing is
    counted before it is answered.
    """

    key: Key
    words: str
    options: tuple[tuple[str, str], ...]
    blocks: bool


@dataclass(frozen=True)
class SameYarn:
    """A yarn of the set: what is said of it in all, and the pieces that use it.

    `is_open`: a question that has no answer yet keeps it from being counted.
    """

    yarn: Yarn
    uses: tuple[Use, ...]
    is_open: bool = False

    @property
    def title(self) -> str:
        """Its name, or its letter if it has none."""
        return self.yarn.name or self.yarn.letter


@dataclass
class _Group:
    """Uses that are taken for one yarn; `like` is the one whose band and balls hold for all."""

    uses: list[Use]
    like: Use | None = None
    together: bool = False
    is_open: bool = False


@dataclass
class _Sorting:
    answers: Given
    groups: list[_Group] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)


def yarns_of_set(uses: Sequence[Use], answers: Given) -> tuple[list[SameYarn], list[Question]]:
    """The yarns of a set, in the order in which they are first used, and what has to be asked.

    `answers` are those that were given before; those that no longer fit are asked again.
    """
    by_name: dict[str, list[Use]] = defaultdict(list)
    for use in uses:
        # Without a name only the letter tells it, in its own piece.
        alone = f"\0{use.folder}\0{use.letter}"
        by_name[_plain(use.yarn.name) or alone].append(use)
    sorting = _Sorting(answers)
    for alike in by_name.values():
        _sort_by_band(sorting, alike)
    for letter in dict.fromkeys(use.letter for use in uses):
        _sort_by_letter(sorting, letter)
    order = {use[:3]: place for place, use in enumerate(uses)}

    def first_used(same: SameYarn) -> int:
        return min(order[use[:3]] for use in same.uses)

    yarns = [_as_one(group) for group in sorting.groups]
    yarns.sort(key=first_used)
    return yarns, sorting.questions


def _plain(name: str) -> str:
    """A name without what nobody would tell two yarns apart by."""
    return re.sub(r"\s+", " ", name).strip().casefold()


def _name_of(group: _Group) -> str:
    """The plain name of the first of its uses; "" if it has none."""
    first = group.uses[0]
    return _plain(first.yarn.name)


# ---- one name


def _sort_by_band(sorting: _Sorting, uses: list[Use]) -> None:
    """One group for the uses of one name, or several, as they contradict and as was answered."""
    bands, hands, twice = _other_bands(uses), _other_hands(uses), _letters_of_one_piece(uses)
    reasons = [*bands, *hands, *twice]
    if not reasons:
        sorting.groups.append(_Group(uses))
        return
    key = (NAME, _plain(uses[0].yarn.name))
    # All balls together would be wrong where a ball of one is no ball of the other.
    options = [(ONE_YARN, use.folder) for use in _first_uses(uses)]
    options.append((APART, "") if bands or twice else (TOGETHER, ""))
    says, folder = sorting.answers.get(key, ("", ""))
    if (says, folder) not in options:
        words = f"{uses[0].yarn.name}: {'; '.join(reasons)}."
        sorting.questions.append(Question(key, words, tuple(options), blocks=True))
        sorting.groups.append(_Group(uses, is_open=True))
    elif says == ONE_YARN:
        like = next(use for use in uses if use.folder == folder)
        sorting.groups.append(_Group(uses, like))
    elif says == TOGETHER:
        sorting.groups.append(_Group(uses, together=True))
    else:
        sorting.groups += _apart(uses, by_letter=bool(twice))


def _first_uses(uses: Sequence[Use]) -> list[Use]:
    """The first use in each piece."""
    first: dict[str, Use] = {}
    for use in uses:
        first.setdefault(use.folder, use)
    return list(first.values())


def _apart(uses: Sequence[Use], *, by_letter: bool) -> list[_Group]:
    """A group for each band, or for each letter too."""
    groups: list[_Group] = []
    for use in uses:
        for group in groups:
            if _fits(group, use, by_letter=by_letter):
                group.uses.append(use)
                break
        else:
            groups.append(_Group([use]))
    return groups


def _fits(group: _Group, use: Use, *, by_letter: bool) -> bool:
    """Whether nothing that is said of a use contradicts a group."""
    first = group.uses[0]
    if by_letter and first.letter != use.letter:
        return False
    together = [*group.uses, use]
    return not _other_bands(together) and not _other_hands(together)


def _other_bands(uses: Sequence[Use]) -> list[str]:
    """What bands say otherwise, in words."""
    lengths, weights = [], []
    metres, grams = {}, {}
    # A band that is lost does not contradict another one.
    for use in uses:
        length, weight = use.yarn.metres_per_ball, use.yarn.grams_per_ball
        if length:
            lengths.append(length)
            metres[use] = f"{length:.4g} m a ball"
        if weight:
            weights.append(weight)
            grams[use] = f"{weight:.4g} g a ball"
    reasons = []
    if lengths and max(lengths) - min(lengths) >= ALIKE_M:
        reasons.append(_in_pieces(metres))
    if len(set(weights)) > 1:
        reasons.append(_in_pieces(grams))
    return reasons


def _other_hands(uses: Sequence[Use]) -> list[str]:
    """What is said otherwise of the balls in hand, in words."""
    # A piece that says nothing of its balls does not contradict.
    in_hand = {}
    for use in uses:
        if _says_what_is_in_hand(use.yarn):
            in_hand[use] = _hand_in_words(use.yarn)
    differs = len(set(in_hand.values())) > 1
    return [_in_pieces(in_hand)] if differs else []


def _says_what_is_in_hand(yarn: Yarn) -> bool:
    return bool(yarn.balls_in_hand or yarn.part_balls_g or yarn.dye_lot)


def _hand_in_words(yarn: Yarn) -> str:
    told = []
    for lot, balls in sorted(yarn.lots.items()):
        of_lot = f"lot {lot}" if lot else "no lot"
        told.append(f"{balls:.4g} of {of_lot}")
    for grams in sorted(yarn.part_balls_g):
        told.append(f"a part ball of {grams:g} g")
    return f"{', '.join(told)} in hand"


def _letters_of_one_piece(uses: Sequence[Use]) -> list[str]:
    """Pieces that have two letters for one name, in words."""
    by_piece = defaultdict(list)
    for use in uses:
        by_piece[use.folder].append(use)
    told = []
    for of_piece in by_piece.values():
        if len(of_piece) > 1:
            letters = " and ".join(use.letter for use in of_piece)
            told.append(f"{of_piece[0].piece} has it under {letters}")
    return told


def _in_pieces(said: Mapping[Use, str]) -> str:
    """What each piece says: "100 m a ball in Back, 85 m a ball in Front"."""
    pieces_of = defaultdict(list)
    for use, words in said.items():
        pieces_of[words].append(use.piece)
    told = []
    for words, pieces in pieces_of.items():
        *first, last = pieces
        together = f"{', '.join(first)} and {last}" if first else last
        told.append(f"{words} in {together}")
    return ", ".join(told)


# ---- one letter


def _sort_by_letter(sorting: _Sorting, letter: str) -> None:
    """Ask where a letter stands for several yarns; merge those that are said to be one."""
    groups, uses, names = [], [], set()
    for group in sorting.groups:
        of_letter = [use for use in group.uses if use.letter == letter]
        if of_letter:
            groups.append(group)
            uses += of_letter
            names.add(_name_of(group))
    # Those of one name were told apart already.
    is_asked = len(names) > 1 or names == {""}
    if len(groups) < 2 or not is_asked:
        return
    options = [(APART, ""), *((ONE_YARN, use.folder) for use in _first_uses(uses))]
    says, folder = sorting.answers.get((LETTER, letter), ("", ""))
    if (says, folder) not in options:
        _ask_about_letter(sorting, groups, uses, options)
    elif says == ONE_YARN:
        like = next(use for use in uses if use.folder == folder)
        _merge(sorting, groups, like)


def _ask_about_letter(
    sorting: _Sorting,
    groups: Sequence[_Group],
    uses: Sequence[Use],
    options: Sequence[tuple[str, str]],
) -> None:
    """Ask whether the yarns of one letter are one; those without a name are not counted yet."""
    letter = uses[0].letter
    called = _in_pieces({use: use.yarn.name or "no name" for use in uses})
    # Names tell two yarns apart; what has none may be the same balls, counted twice.
    nameless = [group for group in groups if not _name_of(group)]
    words = f"The letter {letter} is {called}."
    question = Question((LETTER, letter), words, tuple(options), blocks=bool(nameless))
    sorting.questions.append(question)
    for group in nameless:
        group.is_open = True


def _merge(sorting: _Sorting, groups: Sequence[_Group], like: Use) -> None:
    """Put one group in the place of several."""
    merged = _Group([], like)
    for group in groups:
        merged.uses += group.uses
        merged.is_open = merged.is_open or group.is_open
        sorting.groups.remove(group)
    sorting.groups.append(merged)


# ---- as one


def _as_one(group: _Group) -> SameYarn:
    """The yarn that a group of uses is."""
    yarns = [use.yarn for use in group.uses]
    like = yarns[0]
    if group.like:
        like = group.like.yarn
    else:
        like = replace(like, metres_per_ball=None, grams_per_ball=None, part_balls_g=())
    letters = "/".join(dict.fromkeys(use.letter for use in group.uses))
    metres = [yarn.metres_per_ball for yarn in yarns if yarn.metres_per_ball]
    grams = [yarn.grams_per_ball for yarn in yarns if yarn.grams_per_ball]
    one = replace(
        like,
        letter=letters,
        # Of bands that agree within their rounding the shortest is on the safe side.
        metres_per_ball=like.metres_per_ball or min(metres, default=None),
        grams_per_ball=like.grams_per_ball or min(grams, default=None),
    )
    if group.like is None:
        one = _with_all(one, yarns) if group.together else _with_hand(one, yarns)
    return SameYarn(one, tuple(group.uses), group.is_open)


def _with_hand(one: Yarn, yarns: Sequence[Yarn]) -> Yarn:
    """The yarn with what is in hand of it, as the first piece that says anything says it."""
    for yarn in yarns:
        if _says_what_is_in_hand(yarn):
            return replace(
                one,
                balls_in_hand=yarn.balls_in_hand,
                dye_lot=yarn.dye_lot,
                part_balls_g=yarn.part_balls_g,
            )
    return one


def _with_all(one: Yarn, yarns: Sequence[Yarn]) -> Yarn:
    """The yarn with the balls of all pieces together."""
    lots: dict[str, float] = defaultdict(float)
    parts: list[float] = []
    for yarn in yarns:
        parts += yarn.part_balls_g
        for lot, balls in yarn.lots.items():
            if balls:
                # Signs that part two lots from each other cannot stand in the name of one.
                lots[re.sub("[,;+]", "/", lot) or NO_LOT] += balls
    counted = ", ".join(f"{balls:.10g} of {lot}" for lot, balls in lots.items())
    balls_in_hand = sum(lots.values())
    return replace(one, balls_in_hand=balls_in_hand, dye_lot=counted, part_balls_g=tuple(parts))
