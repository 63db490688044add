"""Braids, against Artin's action and facts that are published."""

import random
from itertools import combinations

import pytest

from planner.twists import as_word, half_twist, linking, reduce_word
from tests.helpers.braids import artin, is_trivial, random_word, trivial_word


@pytest.mark.parametrize("n", [3, 4, 5, 6])
def test_full_twist(n):
    """Encyclopedia of Mathematics, "Braid theory" (published): (σ1…σn−1)ⁿ has n(n−1) crossings and
    every pair links +1."""
    names = [chr(65 + i) for i in range(n)]
    order, crossings = list(names), []
    for _ in range(n):
        for i in range(n - 1):
            crossings.append((order[i], order[i + 1], 1))
            order[i], order[i + 1] = order[i + 1], order[i]
    assert order == names
    assert len(crossings) == n * (n - 1)
    assert linking(crossings) == dict.fromkeys(combinations(names, 2), 1)
    halves = half_twist(names, 1) + half_twist(names[::-1], 1)
    assert len(halves) == n * (n - 1)
    assert linking(halves) == dict.fromkeys(combinations(names, 2), 1)
    word = as_word(names, crossings) + [-letter for letter in reversed(as_word(names, halves))]
    assert is_trivial(word, n)
    assert reduce_word(word) == []


@pytest.mark.parametrize("n", [2, 3, 4, 5])
def test_half_twist_and_back(n):
    names = "ABCDE"[:n]
    back = half_twist(names, 1) + half_twist(names[::-1], -1)
    assert is_trivial(as_word(names, back), n)
    again = half_twist(names, 1) + half_twist(names[::-1], 1)
    assert not is_trivial(as_word(names, again), n)


@pytest.mark.parametrize("n", [2, 3, 4, 5])
def test_words_reduce_to_nothing_exactly_if_they_are_trivial(n):
    """Random words against Artin's action (computed): the reduced word is an equal braid, and empty
    just when it is trivial."""
    rng, empty = random.Random(n), 0
    for number in range(150):
        word = random_word(rng, n, rng.randrange(1, 12 if n > 3 else 14))
        if number % 3 == 0:
            word = trivial_word(rng, n, rng.randrange(1, 7))
        reduced = reduce_word(word)
        assert artin(word, n) == artin(reduced, n), word
        assert (reduced == []) is (artin(word, n) == artin([], n)), word
        empty += not reduced
    assert 50 <= empty < 150


def test_long_trivial_words_reduce_to_nothing():
    rng = random.Random(1)
    for _ in range(20):
        word = trivial_word(rng, 5, 40)
        assert is_trivial(word, 5)
        assert reduce_word(word) == []


def test_the_matrices_tell_what_the_free_group_tells():
    """The two ways of acting agree on random words, trivial and not (computed)."""
    rng = random.Random(9)
    for number in range(120):
        n = rng.randrange(2, 6)
        word = trivial_word(rng, n, 5) if number % 2 else random_word(rng, n, 8)
        assert is_trivial(word, n) is (artin(word, n) == artin([], n))
