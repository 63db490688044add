"""Small grids of yarn letters for hypothesis: every row has a stitch, and some have gaps."""

from hypothesis import strategies as st

LETTERS = st.text("ABCXYZäé", min_size=1, max_size=3)


@st.composite
def grids(draw):
    """Rows of cells, each with a stitch; top row first."""
    width = draw(st.integers(1, 8))
    yarns = draw(st.lists(LETTERS, min_size=1, max_size=4, unique=True))
    cells = st.lists(st.sampled_from([*yarns, "."]), min_size=width, max_size=width)
    row = cells.filter(lambda cells: set(cells) != {"."})
    return draw(st.lists(row, min_size=1, max_size=6))
