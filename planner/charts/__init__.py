"""Charts in and out: pictures, spreadsheets and written rows, to a chart and back.

reading       a file as what it is, by the rest
loaded        what it turned out to hold
pictured      a picture file, or a page of a PDF, as what it is
picture       a picture to a chart
palette       the few colours that stand for all of a picture's
grid          a picture of a chart drawn on a grid, read back
photograph    a photograph of a printed chart, by its four corners
counting      how many cells lie between its corners
ruling        where the grid lies in it
blanks        which cells are no stitches; headings
signs         the signs in the cells
telling_apart whether colours or signs tell its yarns apart
blocks        charts without lines, and grids of a size that is told
combs         lines that come back at one distance
tidying       fewer strands for a charted picture
sheets        a spreadsheet, or cells pasted from one, to a chart, by the fifteen below
sifting       what a chart needs of a workbook, and no more
fills         the colours of a workbook's fills
pages         the cells of a workbook or CSV
open_sheets   those of an OpenDocument spreadsheet
documents     the pages of a PDF, and drawings, as pictures
rulers        the numbers that count rows and stitches
whereabouts   where on a page the chart is
labels        lines that only say which side is worked
plausible     what is no chart
pasted        cells as they come from the clipboard
coloured      signs that are colours
legends       what the sheet's key says of no stitch
outlines      cells at the rim that may be no stitches
keys          what tells its yarns apart
lettering     the yarns' letters
naming        the names that the sheet's key gives them
questions     what is said and asked on the way
written       written rows, in and out; in by the files below
written_lines    what each line of a text is: a row, more of one, a heading
written_titles   which rows a line is for
written_like     what a row says: its runs, or that it goes like others
written_runs     the runs of a row, parsed
written_phrases  how often, which yarn, no stitch
written_cursor   the place among the words of a row
written_words    the words, and which are never a yarn
written_numbers  every row with what is written of it
written_cells    the stitches laid out to the width
written_order    which way the rows run
written_ridges   garter: whether a line is a ridge or a row
written_yarns    the yarns named, and their letters
written_asks     what is said and asked on the way
placing       a chart into a piece
swatching     the swatch: the window of a chart that holds most of what is hard
handout       a chart out again
carried       a chart that travels in the picture of it
svg           as a drawing, with grid, numbers and letters
books         what workbooks that go out have in common; tables as a workbook
"""

from typing import TYPE_CHECKING

from planner.doors import open_door

if TYPE_CHECKING:
    from planner.charts.books import (
        tables_xlsx,
    )
    from planner.charts.carried import (
        CarriedChart,
        carried_chart,
    )
    from planner.charts.documents import (
        Document,
        is_drawing,
        is_pdf,
        open_document,
        open_drawing,
    )
    from planner.charts.grid import (
        GridReading,
        read_grid_picture,
    )
    from planner.charts.handout import (
        chart_pixels,
        chart_png,
        chart_xlsx,
    )
    from planner.charts.keys import (
        SAME,
    )
    from planner.charts.lettering import (
        free_letter,
        letters_among,
    )
    from planner.charts.loaded import (
        Doubt,
        Loaded,
        Part,
    )
    from planner.charts.palette import (
        delta_e,
        distinct,
        flat_colours,
        flat_pixels,
        from_hex,
        has_few,
        lab_of,
        lies_flat,
        nearest,
        nearest_rgb,
        pick_colours,
        rgb_of_lab,
        to_hex,
    )
    from planner.charts.photograph import (
        Corners,
        find_corners,
        read_photograph,
        straightened,
    )
    from planner.charts.picture import (
        Artwork,
        ChartedPicture,
        Crop,
        chart_picture,
        check_size,
        open_artwork,
        stitches_for,
    )
    from planner.charts.pictured import (
        CARRIED,
        FLAT,
        GRID,
        PHOTO,
        PRINTED,
        DocumentFile,
        PictureFile,
        PictureSettings,
        aspect_of,
        letters_of_colours,
    )
    from planner.charts.placing import (
        ACROSS,
        UP,
        repeat,
        set_into,
        set_on,
    )
    from planner.charts.questions import (
        CHOICES,
        SELDOM_ASKED,
        Question,
    )
    from planner.charts.reading import (
        RowsFile,
        SheetFile,
        open_file,
        open_pasted,
    )
    from planner.charts.sheets import (
        SheetChart,
        read_pasted,
        read_sheet,
    )
    from planner.charts.svg import (
        chart_svg,
    )
    from planner.charts.swatching import (
        LINE,
        MIDDLE_START,
        SIDE,
        SLANT,
        VERTICAL,
        WEIGHTS_IN_WORDS,
        Window,
        find_window,
        swatch_piece,
    )
    from planner.charts.tidying import (
        LEVELS,
        Level,
        compare_levels,
        tidied,
    )
    from planner.charts.written import (
        RowsChart,
        has_written_rows,
        read_rows,
        read_written_rows,
        write_rows,
    )
    from planner.charts.written_asks import (
        ROW_CHOICES,
    )
else:
    __getattr__, __dir__, __all__ = open_door(__name__)
