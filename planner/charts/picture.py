"""A picture file read into pixels, and made into a chart of the piece's shape.

Flat art gives each stitch the yarn that most of its pixels are nearest to. A photograph is
averaged stitch by stitch, then each stitch gets the nearest yarn. No dithering: every speckle
would be a strand.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil, isqrt
from string import ascii_uppercase
from typing import TypedDict, Unpack

import numpy as np
from PIL import Image, ImageCms, ImageOps
from PIL.GifImagePlugin import GifImageFile
from PIL.ImageFile import ImageFile
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.WebPImagePlugin import WebPImageFile

from planner.charts.palette import (
    ALL_COLOURS,
    MOST_COLOURS_IN_A_PICTURE,
    Numbers,
    Rgb,
    check_count,
    codes_of,
    delta_e,
    distinct,
    flat_colours,
    flat_pixels,
    from_hex,
    has_few,
    lab_of,
    lies_flat,
    nearest_rgb,
    pick_colours,
    rgb_of_codes,
    to_hex,
)
from planner.errors import PlanError
from planner.guards import (
    MOST_BYTES_OF_A_PICTURE,
    MOST_PIXELS,
    MOST_PIXELS_A_SIDE,
    MOST_ROWS,
    MOST_STITCHES,
    check_amount,
    check_chart,
)
from planner.piece import NO_STITCH, Chart, Gauge
from planner.units import check_number, to_cm

# Read by these two classes and nothing else, so that a file cannot choose its reader. Pillow's own
# warning of large pictures, a setting of the whole process, is not needed: the size is checked
# below before anything is decoded.
READERS: dict[bytes, type[ImageFile]] = {
    b"\x89PNG\r\n\x1a\n": PngImageFile,
    b"\xff\xd8\xff": JpegImageFile,
    b"RIFF": WebPImageFile,
    b"GIF8": GifImageFile,
}
ENOUGH_PIXELS = 4_000_000  # more than a chart can use; larger pictures are reduced
SAMPLES = 12  # a side of each stitch in flat art, at most
PHOTO_YARNS = 6  # for a photograph, until the knitter says how many
EXIF_ORIENTATION = 0x0112
CARRIED = "Knitting chart"  # the keyword of a chart that travels in its picture

Picture = Image.Image  # as Pillow holds it
Box = tuple[float, float, float, float]  # left, top, right, bottom, in pixels of a picture


class Crop(TypedDict, total=False):
    """Where the piece lies in a picture, as `Artwork.box` takes it."""

    across: float
    up: float
    zoom: float


@dataclass(frozen=True, eq=False)
class Artwork:
    """A picture: `pixels` are rows (top first) × columns × 3 of 8-bit sRGB.

    `notes` say what was done to it when it was read; `carries` is the text of a chart that came in
    it, "" where there is none (see `carried`).
    """

    pixels: Rgb
    name: str
    notes: tuple[str, ...] = ()
    carries: str = ""

    @cached_property
    def looks_flat(self) -> bool:
        """Whether it is drawn in a few flat colours (a guess).

        It has few in all, or most of it lies flat and at most twenty colours make nearly all of
        that.
        """
        if has_few(self.pixels, 32):
            return True
        flat = lies_flat(self.pixels)
        if flat.mean() < 0.6:
            return False
        flat_ones = self.pixels[flat]
        # A photograph with a flat sky lies flat too, but in many colours that run into each other.
        main = flat_colours(flat_ones, apart=3, least=0.005)
        if not 0 < len(main) <= 20:
            return False
        colours, counts = distinct(flat_ones)
        _, distance = nearest_rgb(colours, main)
        covered = counts[distance < 3].sum()
        return bool(covered > 0.9 * counts.sum())

    @cached_property
    def suggested_yarns(self) -> int:
        """How many yarns it asks for: the flat colours it really has; six for a photograph."""
        if not self.looks_flat:
            return PHOTO_YARNS
        colours = flat_colours(flat_pixels(self.pixels))
        return min(len(colours), MOST_COLOURS_IN_A_PICTURE)

    def rows_for(self, stitches: int, aspect: float) -> int:
        """Chart rows that show the whole picture, to the nearest.

        `aspect` is the height of a chart row ÷ the width of a stitch.
        """
        height, width = self.pixels.shape[:2]
        stitches = check_size(stitches, "stitches")
        rows = stitches * height / width / float(aspect)
        return max(1, round(rows))

    def box(
        self,
        stitches: int,
        rows: int,
        aspect: float,
        *,
        across: float = 0.5,
        up: float = 0.5,
        zoom: float = 1,
    ) -> Box:
        """The part of the picture that the piece shows, in pixels: left, top, right, bottom.

        It has the piece's shape and is the largest such box ÷ `zoom`. `across` and `up` place it,
        from 0, at the left and at the bottom, to 1.
        """
        aspect = float(aspect)
        check_number(aspect, "The height of a chart row over the width of a stitch", above=0)
        check_number(across, "The place across in the picture", most=1)
        check_number(up, "The place up in the picture", most=1)
        check_number(zoom, "The zoom", least=1, most=1000)
        piece_width = check_size(stitches, "stitches")
        piece_height = check_size(rows, "rows") * aspect
        shape = piece_width / piece_height
        height, width = self.pixels.shape[:2]
        # As wide as the picture, unless its height allows less.
        widest = min(width, height * shape)
        highest = min(height, widest / shape)
        wide = widest / zoom
        high = highest / zoom
        left = across * (width - wide)
        top = (1 - up) * (height - high)
        # Rounding may not carry the box over the picture's edge.
        right = min(left + wide, width)
        bottom = min(top + high, height)
        return left, top, right, bottom


@dataclass(frozen=True, eq=False)
class ChartedPicture:
    """A picture as a chart.

    `cells` are rows × columns, row 0 the bottom row, of places in `palette` (#rrggbb), −1 a
    no-stitch cell. `shown` is the picture's mean colour in each cell, rows × columns × 3 of 8-bit
    sRGB.
    """

    cells: Numbers
    palette: tuple[str, ...]
    shown: Rgb
    notes: tuple[str, ...]

    @property
    def difference(self) -> Numbers:
        """ΔE*ab between each cell's yarn and the picture there, rows × columns.

        It is 0 for no-stitch cells.
        """
        yarns = lab_of(from_hex(self.palette))
        yarn_there = yarns[self.cells]
        apart = delta_e(lab_of(self.shown), yarn_there)
        worked = self.cells >= 0
        return np.where(worked, apart, 0)

    def chart(self, letters: Sequence[str] = ascii_uppercase) -> Chart:
        """The chart, its yarns lettered in the palette's order; unused letters are left out."""
        yarns = len(self.palette)
        if len(letters) < yarns:
            raise PlanError(
                f"The picture has {yarns} yarns but only {len(letters)} letters were given."
            )
        names = [*letters[:yarns], NO_STITCH]  # no stitch is last, where −1 finds it
        top_first = self.cells[::-1]
        rows = np.array(names, dtype=object)[top_first]
        return Chart.from_rows(rows.tolist(), source="The picture's chart")


def check_size(count: int, what: str) -> int:
    """The number of stitches or rows of a chart, if it can be one."""
    sentence = f"The chart has {count!r} {what}"
    return check_count(count, sentence, most=MOST_STITCHES if what == "stitches" else MOST_ROWS)


def stitches_for(width: float, gauge: Gauge, unit: str = "cm") -> int:
    """Stitches for a width, rounded to the nearest."""
    width_cm = to_cm(width, unit, "The width")
    return max(1, round(gauge.stitches_in(width_cm)))


def open_artwork(data: bytes, name: str) -> Artwork:
    """The picture in a PNG, JPEG, WebP or GIF file, upright, in sRGB, on white where transparent.

    Large ones are reduced; of several in one file it is the first. Raises a PlanError where the
    file is no such picture, is damaged, or says that it is too large.
    """
    check_amount(len(data), name, most=MOST_BYTES_OF_A_PICTURE)
    reader = _reader_for(data, name)
    try:
        with reader(io.BytesIO(data)) as image:
            width, height = image.size
            longest = max(width, height)
            if width * height <= MOST_PIXELS and longest <= MOST_PIXELS_A_SIDE:
                return _read(image, name)
    except Exception as error:  # a broken file makes Pillow raise nearly anything
        raise PlanError(
            f"{name} is damaged or was cut short ({error}). Save it once more, or copy it again."
        ) from error
    millions = MOST_PIXELS // 10**6
    raise PlanError(
        f"{name} says it is {width:,} × {height:,} pixels, more than {millions} million or than "
        f"{MOST_PIXELS_A_SIDE:,} a side. It was not opened. "
        "Make it smaller in a picture program: 3,000 pixels across are plenty for a chart."
    )


def _reader_for(data: bytes, name: str) -> type[ImageFile]:
    for first_bytes, reader in READERS.items():
        if data.startswith(first_bytes):
            return reader
    what = "is not a PNG, JPEG, WebP or GIF picture, whatever its name says" if data else "is empty"
    raise PlanError(f"{name} {what}. Save or export the picture as PNG or JPEG, and load that.")


def _read(file: ImageFile, name: str) -> Artwork:
    """The picture of an open file; the steps note what they do."""
    size = file.size
    notes: list[str] = []
    pictures = getattr(file, "n_frames", 1)
    if pictures > 1:
        notes.append(f"the first of {pictures} pictures in the file")
    if isinstance(file, JpegImageFile):
        # Decoded at a half, a quarter or an eighth of its size, which saves most of the time.
        fine = _too_fine(file)
        width = max(1, file.width // fine)
        height = max(1, file.height // fine)
        file.draft(None, (width, height))
    file.load()
    # What the file says beside its pixels; the steps below lose it.
    orientation = file.getexif().get(EXIF_ORIENTATION, 1)
    profile = file.info.get("icc_profile")

    image = _reduced(_in_plain_channels(file))
    if image.size != size:
        before = "{:,} × {:,}".format(*size)
        after = "{:,} × {:,}".format(*image.size)
        notes.append(f"{before} pixels, reduced to {after}")
    image = _on_white(image, notes)
    image = _in_srgb(image, profile, notes)
    image = _upright(image, orientation, notes)
    pixels = np.array(image)
    pixels.setflags(write=False)
    return Artwork(pixels, name, tuple(notes), carries=str(file.info.get(CARRIED, "")))


def _too_fine(image: Picture) -> int:
    """How many times finer, across and up, the picture is than a chart can use; at least 1."""
    pixels = image.width * image.height
    return max(1, isqrt(pixels // ENOUGH_PIXELS))


def _in_plain_channels(image: Picture) -> Picture:
    """The picture in 8-bit channels, with one of its own for what is transparent."""
    if image.mode.startswith("I"):  # 16-bit grey, which Pillow would clip
        high_byte = np.asarray(image) >> 8
        grey = high_byte.astype(np.uint8)
        image = Image.fromarray(grey)
    if image.mode == "P" or "transparency" in image.info:
        return image.convert("RGBA")
    return image


def _reduced(image: Picture) -> Picture:
    """The picture averaged to fewer pixels, where it has more than a chart can use."""
    fine = _too_fine(image)
    if fine == 1:
        return image
    if image.mode == "1":  # black and white alone cannot be averaged
        image = image.convert("L")
    return image.reduce(fine)


def _on_white(image: Picture, notes: list[str]) -> Picture:
    """The picture laid on white where it is transparent."""
    if "A" not in image.mode:
        return image
    image = image.convert("RGBA")
    opacity = np.asarray(image.getchannel("A"))
    if opacity.min() < 255:
        notes.append("transparent parts are taken as white")
    white = Image.new("RGBA", image.size, "white")
    return Image.alpha_composite(white, image).convert("RGB")


def _in_srgb(image: Picture, profile: bytes | None, notes: list[str]) -> Picture:
    """The picture in sRGB, by its own colour profile where it has one that can be used."""
    if profile and image.mode in ("RGB", "CMYK"):
        try:
            image = _by_profile(image, profile, notes)
        except (ImageCms.PyCMSError, OSError):
            notes.append("its colour profile cannot be used, so colours may be a little off")
    if image.mode == "CMYK":
        notes.append("made for print (CMYK), so colours may be a little off")
    return image.convert("RGB")


def _by_profile(image: Picture, profile: bytes, notes: list[str]) -> Picture:
    own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
    called = ImageCms.getProfileDescription(own)
    if "sRGB" in called:
        return image
    srgb = ImageCms.createProfile("sRGB")
    changed = ImageCms.profileToProfile(image, own, srgb, outputMode="RGB")
    notes.append(f"colours by the picture's own profile, {called.strip()}")
    return changed or image  # a new picture: None is for those changed in place


def _upright(image: Picture, orientation: int, notes: list[str]) -> Picture:
    """The picture turned as the camera noted (Exif 2.32, 4.6.4: 1 is upright, 2 to 8 are not)."""
    if orientation not in range(2, 9):
        return image
    image.getexif()[EXIF_ORIENTATION] = orientation
    notes.append("turned upright, as the camera noted")
    return ImageOps.exif_transpose(image)


def chart_picture(
    art: Artwork,
    stitches: int,
    rows: int,
    aspect: float,
    *,
    yarns: Sequence[str] = (),
    count: int | None = None,
    flat: bool | None = None,
    **crop: Unpack[Crop],
) -> ChartedPicture:
    """The picture as a chart of `stitches` × `rows` chart rows, each `aspect` stitch widths high.

    In the `yarns` given (#rrggbb), else in `count` colours picked from it, else in as many as it
    suggests. `flat`: as flat art, by the vote of each stitch's pixels, or as a photograph, by
    their average; what it looks like, unless said. `across`, `up` and `zoom` place the piece in
    the picture, as in `Artwork.box`.
    """
    box = art.box(stitches, rows, aspect, **crop)
    check_chart(stitches, rows, "The picture's chart")
    if flat is None:
        flat = art.looks_flat
    resized = Image.fromarray(art.pixels).resize(
        (stitches, rows),
        Image.Resampling.BOX,
        box=box,
    )
    shown = np.asarray(resized)
    if len(yarns) > 0:
        palette = from_hex(yarns)
    else:
        # The yarns of flat art stand for its own pixels, a photograph's for the stitches.
        part = _within(art.pixels, box)
        colours = flat_pixels(part) if flat else shown.reshape(-1, 3)
        wanted = art.suggested_yarns if count is None else count
        palette = pick_colours(colours, wanted, flat=flat)
    if flat:
        cells = _vote(
            art.pixels,
            palette,
            box=box,
            stitches=stitches,
            rows=rows,
        )
    else:
        cells, _ = nearest_rgb(shown, palette)
    # A picture begins at the top, a chart at the bottom.
    return ChartedPicture(
        cells=cells[::-1].astype(np.int16),
        palette=to_hex(palette),
        shown=shown[::-1].copy(),
        notes=art.notes,
    )


def _within(pixels: Rgb, box: Box) -> Rgb:
    """The pixels in a box, at least one each way."""
    left, top, right, bottom = box
    columns = _whole_pixels(left, right)
    rows = _whole_pixels(top, bottom)
    return pixels[rows, columns]


def _whole_pixels(start: float, stop: float) -> slice:
    first = int(start)
    after = round(stop)
    return slice(first, max(first + 1, after))


def _vote(
    pixels: Rgb,
    palette: Rgb,
    *,
    box: Box,
    stitches: int,
    rows: int,
) -> Numbers:
    """The colour of the palette that most pixels of each cell are nearest to, the first of equals.

    Rows × stitches, top first, of places in the palette. Pixels are taken as they are, at evenly
    spaced places, so that none is blended: every pixel where a cell has a whole number of them,
    at most 12 a side.
    """
    left, top, right, bottom = box
    # Large charts take fewer samples a cell, so that memory stays bounded.
    affordable = isqrt(2 * ENOUGH_PIXELS // (stitches * rows))
    most = min(SAMPLES, max(3, affordable))
    columns = _Samples.over(left, right, cells=stitches, most=most)
    lines = _Samples.over(top, bottom, cells=rows, most=most)
    height, width = pixels.shape[:2]
    x = columns.pixels(width)
    y = lines.pixels(height)
    yarn = _nearest_yarns(pixels[np.ix_(y, x)], palette)
    by_cell = yarn.reshape(rows, lines.a_cell, stitches, columns.a_cell)
    counts = []
    for place in range(len(palette)):
        votes = by_cell == place
        counts.append(votes.sum(axis=(1, 3)))
    return np.argmax(counts, axis=0)


@dataclass(frozen=True)
class _Samples:
    """The places, across or down a picture, at which its cells are looked at."""

    start: float
    cell: float  # pixels across
    cells: int
    a_cell: int  # how many places there are in each

    @classmethod
    def over(
        cls,
        start: float,
        stop: float,
        *,
        cells: int,
        most: int,
    ) -> _Samples:
        """Places for so many cells, at most so many a cell."""
        cell = (stop - start) / cells
        # Every pixel of a large cell; six places are fair to cells of 1, 1.5 and 2 pixels.
        enough = ceil(cell - 1e-6) if cell >= 3 else 6
        return cls(
            start=start,
            cell=cell,
            cells=cells,
            a_cell=min(most, enough),
        )

    def pixels(self, limit: int) -> Numbers:
        """The pixels, below the limit, that lie under the places."""
        count = self.cells * self.a_cell
        steps = np.arange(count) + 0.5
        along = steps * self.cell / self.a_cell
        places = self.start + along
        return np.clip(places.astype(int), 0, limit - 1)


def _nearest_yarns(pixels: Rgb, palette: Rgb) -> Numbers:
    """The place in the palette of the colour nearest to each pixel.

    Each different colour is compared once, however many pixels have it.
    """
    codes = codes_of(pixels)
    met = np.zeros(ALL_COLOURS, dtype=bool)
    met[codes] = True
    different = np.flatnonzero(met)
    colours = rgb_of_codes(different)
    place, _ = nearest_rgb(colours, palette)
    place_of = np.zeros(ALL_COLOURS, dtype=np.int16)
    place_of[different] = place
    return place_of[codes]
