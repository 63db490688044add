"""Braids told by another road: Artin's action on the free group, which is faithful.

σi sends the generator x_i to x_i x_{i+1} x_i⁻¹ and x_{i+1} to x_i (Artin 1925; Encyclopedia of
Mathematics, "Braid theory"). A braid is trivial exactly if it moves no generator. Long words are
tried on random matrices in the place of the generators.
"""

from __future__ import annotations

import random

PRIME = 2**127 - 1


def free_product(*words):
    out = []
    for word in words:
        for letter in word:
            if out and out[-1] == -letter:
                out.pop()
            else:
                out.append(letter)
    return tuple(out)


def free_inverse(word):
    return tuple(-letter for letter in reversed(word))


def matrix_product(*matrices):
    (a, b, c, d), *others = matrices
    for e, f, g, h in others:
        a, b, c, d = (
            (a * e + b * g) % PRIME,
            (a * f + b * h) % PRIME,
            (c * e + d * g) % PRIME,
            (c * f + d * h) % PRIME,
        )
    return a, b, c, d


def matrix_inverse(matrix):
    a, b, c, d = matrix
    return d, -b % PRIME, -c % PRIME, a


def matrices(count):
    """Random matrices of determinant 1."""
    rng, out = random.Random(4), []
    for _ in range(count):
        x, y, z = (rng.randrange(PRIME) for _ in range(3))
        out.append(matrix_product((1, x, 0, 1), (1, 0, y, 1), (1, z, 0, 1)))
    return out


def act(word, images, product, inverse):
    images = list(images)
    for letter in word:
        i = abs(letter) - 1
        x, y = images[i], images[i + 1]
        images[i : i + 2] = (
            (product(x, y, inverse(x)), x) if letter > 0 else (y, product(inverse(y), x, y))
        )
    return images


def artin(word, n):
    """What a braid word makes of the generators of the free group."""
    return act(word, [(i,) for i in range(1, n + 1)], free_product, free_inverse)


def is_trivial(word, n):
    """Whether a braid word of any length moves nothing."""
    return act(word, matrices(n), matrix_product, matrix_inverse) == matrices(n)


def word_of(order, crossings):
    """The braid word of crossings in order; only neighbours cross, and the names come out in the
    order returned."""
    order, word = list(order), []
    for a, b, sign in crossings:
        i = order.index(a)
        assert order[i + 1 : i + 2] == [b]
        assert sign in (1, -1)
        word.append(sign * (i + 1))
        order[i : i + 2] = b, a
    return word, tuple(order)


def random_word(rng, n, length):
    return [rng.choice((1, -1)) * rng.randrange(1, n) for _ in range(length)]


def trivial_word(rng, n, length):
    """A word that is trivial though it need not look so: a random word and, after it, an equal one
    backwards."""
    word = random_word(rng, n, length)
    other = list(word)
    for _ in range(6 * length):
        i = rng.randrange(len(other) + 1)
        here = other[i : i + 3]
        if len(here) > 1 and abs(abs(here[0]) - abs(here[1])) > 1:
            other[i : i + 2] = here[1], here[0]
        elif (
            len(here) == 3
            and here[0] == here[2]
            and abs(abs(here[0]) - abs(here[1])) == 1
            and here[0] * here[1] > 0
        ):
            other[i : i + 3] = here[1], here[0], here[1]
        elif rng.random() < 0.1:
            letter = random_word(rng, n, 1)[0]
            other[i:i] = letter, -letter
    return word + [-letter for letter in reversed(other)]
