"""Words: their outlines beside matplotlib's own texts, where they stand, and their rims."""

import numpy as np
import pytest
from matplotlib import rc_context
from matplotlib.figure import Figure
from matplotlib.textpath import TextPath

from planner.pictures.words import CAPITAL, FONT, LINE, Lettering, Words, path_of, width_of
from tests.helpers.drawn import pixels_of

SIZE = 10
RIMMED = Lettering(SIZE, rim=2)


@pytest.mark.parametrize("text", ["A1", "W12a", "row 24 (RS) ►", "Åé 7", "ii", "$x_1$"])
def test_an_outline_is_that_of_the_text_as_a_whole(text):
    """Its parts stand as far apart as matplotlib sets them."""
    with rc_context({"text.parse_math": False}):
        whole = TextPath((0, 0), text, size=1, prop=FONT)
    outline = path_of(text, Lettering(SIZE, aside=1, above=1))
    np.testing.assert_allclose(outline.vertices, whole.vertices, atol=0.01)
    assert outline.codes.tolist() == whole.codes.tolist()


def test_a_text_without_letters_leaves_no_trace():
    assert not len(path_of("", Lettering(SIZE)))
    assert (
        drawn(lambda ax: Words(ax, ["", "  "], [(1, 1)] * 2, look=RIMMED, ink="black")) == 255
    ).all()


def test_a_text_ends_where_the_next_would_begin():
    assert width_of("A 1") == pytest.approx(width_of("A") + width_of(" ") + width_of("1"))
    assert width_of(" ") > 0.2


@pytest.mark.parametrize(
    ("aside", "above", "middle"),
    [
        (0, 0, (0, 0)),
        (1, 0, (0.5 + 0.3, 0)),
        (-1, 0, (-0.5 - 0.3, 0)),
        (0, 1, (0, CAPITAL / 2 + 0.3)),
        (0, -1, (0, -CAPITAL / 2 - 0.3)),
    ],
)
def test_where_a_text_stands(aside, above, middle):
    """A capital beside its place, 3 points away at a size of 10 points."""
    outline = path_of("H", Lettering(SIZE, aside, above, away=3))
    box = outline.get_extents()
    x, y = middle
    # Widths are in shares of this letter's.
    wide = np.sign(x) * (width_of("H") / 2 + 0.3)
    assert ((box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2) == pytest.approx((wide, y), abs=0.02)


def test_lines_stand_one_below_the_other_and_across_their_place():
    both = path_of("H\nHH", Lettering(SIZE)).get_extents()
    assert both.height == pytest.approx(CAPITAL + LINE, abs=0.01)
    assert (both.y0 + both.y1) / 2 == pytest.approx(0, abs=0.01)
    assert both.width == pytest.approx(path_of("HH", Lettering(SIZE)).get_extents().width)


def drawn(write):
    """The pixels of empty axes in which something is written."""
    figure = Figure(figsize=(3, 2))
    ax = figure.add_axes((0, 0, 1, 1))
    ax.set(xlim=(0, 2), ylim=(0, 2))
    ax.set_axis_off()
    write(ax)
    return pixels_of(figure, 100).astype(float)


def test_words_look_as_matplotlib_writes_them():
    """Its own text in the same place: as much ink, and in the same box but for two pixels."""

    def by_itself(ax):
        ax.text(1, 1, "W12A", ha="center", va="baseline", size=30, family="DejaVu Sans")

    def together(ax):
        Words(ax, ["W12A"], [(1, 1)], look=Lettering(30, above=1), ink="black")

    boxes, inks = [], []
    for write in (by_itself, together):
        ink = 255 - drawn(write)[..., 0]
        rows, columns = np.nonzero(ink > 100)
        boxes.append((rows.min(), rows.max(), columns.min(), columns.max()))
        inks.append(ink.sum())
    assert boxes[1] == pytest.approx(boxes[0], abs=2)
    assert inks[1] == pytest.approx(inks[0], rel=0.05)


def test_one_text_at_many_places_and_an_ink_for_each():
    pixels = drawn(
        lambda ax: Words(ax, "H", [(0.5, 1), (1.5, 1)], look=Lettering(40), ink="#ff0000")
    )
    red = (pixels == (255, 0, 0)).all(axis=-1)
    assert red[:, :150].sum() == pytest.approx(red[:, 150:].sum(), rel=0.05)
    assert red.sum() > 100
    both = drawn(
        lambda ax: Words(
            ax, ["H", "H"], [(0.5, 1), (1.5, 1)], look=Lettering(40), ink=["#ff0000", "#0000ff"]
        )
    )
    assert (both[:, :150] == (255, 0, 0)).all(axis=-1).sum() > 50
    assert (both[:, 150:] == (0, 0, 255)).all(axis=-1).sum() > 50


def test_a_rim_parts_a_text_from_the_one_before():
    """The second text's rim is white where the first one's letters were."""
    places = [(1, 1), (1.02, 1)]

    def write(rim):
        return drawn(
            lambda ax: Words(
                ax, ["HHH", "I"], places, look=Lettering(40, rim=rim), ink=["#0000ff", "#ff0000"]
            )
        )

    def blue(pixels):
        return (pixels == (0, 0, 255)).all(axis=-1).sum()

    def red(pixels):
        return (pixels == (255, 0, 0)).all(axis=-1).sum()

    assert 0 < blue(write(8)) < blue(write(0))
    assert red(write(8)) == red(write(0)) > 0
