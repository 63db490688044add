"""Artwork: a picture file read into pixels, and made into a chart of the piece's shape.

Flat art gives each stitch the yarn that most of its pixels are nearest to; a photograph is averaged stitch by stitch, then
each stitch gets the nearest yarn. No dithering: every speckle would be a strand.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import isqrt
from string import ascii_uppercase

import numpy as np
from PIL import Image, ImageCms, ImageOps
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile

from planner.charts.palette import (
    MOST_YARNS,
    coded,
    decoded,
    distinct,
    flat_colours,
    flat_pixels,
    from_hex,
    has_few,
    lab_of,
    lies_flat,
    nearest,
    pick_colours,
    to_hex,
)
from planner.errors import PlanError
from planner.piece import NO_STITCH, Chart, Gauge
from planner.units import check_number, to_cm

# Read by these two classes and nothing else, so that a file cannot choose its reader, and Pillow's own warning of large
# pictures, a setting of the whole process, is not needed: the size is checked below before anything is decoded.
READERS = {b"\x89PNG\r\n\x1a\n": PngImageFile, b"\xff\xd8\xff": JpegImageFile}
MOST_PIXELS = 200_000_000  # what a file may say it has
ENOUGH_PIXELS = 4_000_000  # more than a chart can use; larger pictures are reduced
MOST_STITCHES = 2_000  # across, and rows
SAMPLES = 12  # a side of each stitch in flat art, at most
PHOTO_YARNS = 6  # for a photograph, until the knitter says how many


@dataclass(frozen=True, eq=False)
class Artwork:
    """A picture: `pixels` are rows (top first) × columns × 3 of 8-bit sRGB; `notes` say what was done to it when it was read."""

    pixels: np.ndarray
    name: str
    notes: tuple[str, ...] = ()

    @cached_property
    def looks_flat(self) -> bool:
        """Whether it is drawn in a few flat colours (a guess): it has few in all, or most of it lies flat and at most twenty
        colours make nearly all of that."""
        if has_few(self.pixels, 32):
            return True
        flat = self.pixels[lies_flat(self.pixels)]
        if flat.size < 0.6 * self.pixels.size:
            return False
        main, (colours, counts) = flat_colours(flat, apart=3, least=0.005), distinct(flat)
        covered = (
            nearest(lab_of(colours), lab_of(main))[1] < 3
            if 0 < len(main) <= 20
            else np.zeros(len(colours), dtype=bool)
        )
        return bool(counts[covered].sum() > 0.9 * counts.sum())

    @cached_property
    def suggested_yarns(self) -> int:
        """How many yarns it asks for: the flat colours it really has; for a photograph, six to begin with."""
        return (
            min(len(flat_colours(flat_pixels(self.pixels))), MOST_YARNS)
            if self.looks_flat
            else PHOTO_YARNS
        )

    def rows_for(self, stitches: int, aspect: float) -> int:
        """Chart rows that show the whole picture, to the nearest. `aspect`: height of a chart row ÷ width of a stitch."""
        height, width = self.pixels.shape[:2]
        return max(1, round(check_size(stitches, "stitches") * height / width / float(aspect)))

    def box(
        self,
        stitches: int,
        rows: int,
        aspect: float,
        *,
        across: float = 0.5,
        up: float = 0.5,
        zoom: float = 1,
    ):
        """The part of the picture that the piece shows, in pixels: left, top, right, bottom.

        It has the piece's shape and is the largest such box ÷ `zoom`; `across` and `up` place it, from 0, at the left and
        at the bottom, to 1.
        """
        height, width = self.pixels.shape[:2]
        check_number(float(aspect), "The height of a chart row over the width of a stitch", above=0)
        for place, what in ((across, "across"), (up, "up")):
            check_number(place, f"The place {what} in the picture", most=1)
        check_number(zoom, "The zoom", least=1, most=1000)
        shape = check_size(stitches, "stitches") / (check_size(rows, "rows") * float(aspect))
        wide = min(width, height * shape)
        high = min(height, wide / shape)
        wide, high = wide / zoom, high / zoom
        left, top = across * (width - wide), (1 - up) * (height - high)
        return left, top, min(left + wide, width), min(top + high, height)


@dataclass(frozen=True, eq=False)
class ChartedPicture:
    """A picture as a chart. `cells` are rows × columns, row 0 the bottom row, of places in `palette` (#rrggbb), −1 a no-stitch
    cell; `shown` is the picture's mean colour in each cell, rows × columns × 3 of 8-bit sRGB."""

    cells: np.ndarray
    palette: tuple[str, ...]
    shown: np.ndarray
    notes: tuple[str, ...]

    @property
    def difference(self) -> np.ndarray:
        """ΔE*ab between each cell's yarn and the picture there, rows × columns; 0 for no-stitch cells."""
        apart = np.linalg.norm(
            lab_of(self.shown) - lab_of(from_hex(self.palette))[self.cells], axis=-1
        )
        return np.where(self.cells >= 0, apart, 0)

    def chart(self, letters: Sequence[str] = ascii_uppercase) -> Chart:
        """The chart, its yarns lettered in the palette's order; unused letters are left out."""
        if len(letters) < len(self.palette):
            raise PlanError(
                f"The picture has {len(self.palette)} yarns but only {len(letters)} letters were given."
            )
        names = np.array([*letters[: len(self.palette)], NO_STITCH], dtype=object)
        return Chart.from_rows(names[self.cells[::-1]].tolist(), source="The picture's chart")


def check_size(count: int, what: str) -> int:
    """The number of stitches or rows of a chart, if it can be one."""
    if (
        isinstance(count, bool)
        or not isinstance(count, int | np.integer)
        or not 1 <= count <= MOST_STITCHES
    ):
        raise PlanError(
            f"The chart has {count!r} {what}; a whole number from 1 to {MOST_STITCHES:,} was expected."
        )
    return int(count)


def stitches_for(width: float, gauge: Gauge, unit: str = "cm") -> int:
    """Stitches for a width, rounded to the nearest."""
    return max(1, round(gauge.stitches_in(to_cm(width, unit, "The width"))))


def open_artwork(data: bytes, name: str) -> Artwork:
    """The picture in a PNG or JPEG file, upright, on white where it is transparent, in sRGB; large ones are reduced."""
    reader = next((reader for start, reader in READERS.items() if data.startswith(start)), None)
    if reader is None:
        what = "is empty" if not data else "is not a PNG or JPEG picture, whatever its name says"
        raise PlanError(f"{name} {what}. Save or export the picture as PNG or JPEG, and load that.")
    try:
        with reader(io.BytesIO(data)) as image:
            width, height = image.size
            if width * height <= MOST_PIXELS:
                return _read(image, name)
    except Exception as error:  # a broken file makes Pillow raise nearly anything
        raise PlanError(
            f"{name} is damaged or was cut short ({error}). Save it once more, or copy it again."
        ) from error
    raise PlanError(
        f"{name} says it is {width:,} × {height:,} pixels, more than {MOST_PIXELS // 10**6} million. It was not opened. "
        "Make it smaller in a picture program: 3,000 pixels across are plenty for a chart."
    )


def _read(image: Image.Image, name: str) -> Artwork:
    notes, size = [], image.size

    def too_fine(image):
        return max(1, isqrt(image.width * image.height // ENOUGH_PIXELS))

    if isinstance(
        image, JpegImageFile
    ):  # decoded at a half, a quarter or an eighth, which saves most of the time
        image.draft(None, tuple(max(1, side // too_fine(image)) for side in size))
    image.load()
    orientation, profile = image.getexif().get(0x0112, 1), image.info.get("icc_profile")
    if image.mode.startswith("I"):  # 16-bit grey; Pillow would clip it
        image = Image.fromarray((np.asarray(image) >> 8).astype(np.uint8))
    if image.mode == "P" or "transparency" in image.info:
        image = image.convert("RGBA")
    if too_fine(image) > 1:
        image = (image.convert("L") if image.mode == "1" else image).reduce(too_fine(image))
    if image.size != size:
        notes.append(
            f"{size[0]:,} × {size[1]:,} pixels, reduced to {image.width:,} × {image.height:,}"
        )
    if "A" in image.mode:
        image = image.convert("RGBA")
        if image.getextrema()[3][0] < 255:
            notes.append("transparent parts are taken as white")
        image = Image.alpha_composite(Image.new("RGBA", image.size, "white"), image).convert("RGB")
    image = _in_srgb(image, profile, notes)
    if orientation in range(2, 9):
        image.getexif()[0x0112] = orientation
        image = ImageOps.exif_transpose(image)
        notes.append("turned upright, as the camera noted")
    pixels = np.array(image)
    pixels.setflags(write=False)
    return Artwork(pixels, name, tuple(notes))


def _in_srgb(image: Image.Image, profile: bytes | None, notes: list[str]) -> Image.Image:
    """The picture in sRGB, by its own colour profile where it has one that can be used."""
    if profile and image.mode in ("RGB", "CMYK"):
        try:
            own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            if "sRGB" not in ImageCms.getProfileDescription(own):
                image = ImageCms.profileToProfile(
                    image, own, ImageCms.createProfile("sRGB"), outputMode="RGB"
                )
                notes.append(
                    f"colours by the picture's own profile, {ImageCms.getProfileDescription(own).strip()}"
                )
        except (ImageCms.PyCMSError, OSError):
            notes.append("its colour profile cannot be used, so colours may be a little off")
    if image.mode == "CMYK":
        notes.append("made for print (CMYK), so colours may be a little off")
    return image.convert("RGB")


def chart_picture(
    art: Artwork,
    stitches: int,
    rows: int,
    aspect: float,
    *,
    yarns: Sequence[str] = (),
    count: int | None = None,
    flat: bool | None = None,
    across: float = 0.5,
    up: float = 0.5,
    zoom: float = 1,
) -> ChartedPicture:
    """The picture as a chart of `stitches` × `rows` chart rows, each `aspect` stitch widths high.

    In the `yarns` given (#rrggbb), else in `count` colours picked from it, else in as many as it suggests. `flat`: as flat
    art, by the vote of each stitch's pixels, or as a photograph, by their average; what it looks like, unless said.
    `across`, `up` and `zoom` place the piece in the picture, as in `Artwork.box`.
    """
    left, top, right, bottom = box = art.box(
        stitches, rows, aspect, across=across, up=up, zoom=zoom
    )
    flat = art.looks_flat if flat is None else flat
    shown = np.asarray(
        Image.fromarray(art.pixels).resize((stitches, rows), Image.Resampling.BOX, box=box)
    )
    if len(yarns) > 0:
        palette = from_hex(yarns)
    else:
        part = art.pixels[
            int(top) : max(int(top) + 1, round(bottom)),
            int(left) : max(int(left) + 1, round(right)),
        ]
        colours = flat_pixels(part) if flat else shown.reshape(-1, 3)
        palette = pick_colours(colours, art.suggested_yarns if count is None else count, flat=flat)
    cells = (
        _vote(art.pixels, box, stitches, rows, palette)
        if flat
        else nearest(lab_of(shown), lab_of(palette))[0]
    )
    cells, shown = cells[::-1].astype(np.int16), shown[::-1].copy()
    return ChartedPicture(cells, to_hex(palette), shown, art.notes)


def _vote(pixels: np.ndarray, box, stitches: int, rows: int, palette: np.ndarray) -> np.ndarray:
    """The colour of the palette that most pixels of each cell are nearest to, the first of equals; rows × stitches, top first.

    Pixels are taken as they are, at evenly spaced places, so that none is blended: every pixel where a cell has a whole
    number of them, at most 12 a side.
    """
    left, top, right, bottom = box
    most = min(SAMPLES, max(3, isqrt(2 * ENOUGH_PIXELS // (stitches * rows))))
    places = []
    for start, stop, cells, limit in (
        (left, right, stitches, pixels.shape[1]),
        (top, bottom, rows, pixels.shape[0]),
    ):
        a_cell = (stop - start) / cells
        samples = (
            min(most, int(np.ceil(a_cell - 1e-6))) if a_cell >= 3 else min(most, 6)
        )  # 6: fair for 1, 2 and 1.5 pixels
        at = start + (np.arange(cells * samples) + 0.5) * a_cell / samples
        places.append((np.clip(at.astype(int), 0, limit - 1), samples))
    (x, wide), (y, high) = places
    taken = coded(pixels[np.ix_(y, x)])
    met = np.zeros(1 << 24, dtype=bool)
    met[taken] = True
    codes, index = np.flatnonzero(met), np.zeros(1 << 24, dtype=np.int8)
    index[codes] = nearest(lab_of(decoded(codes)), lab_of(palette))[0]
    votes = index[taken].reshape(rows, high, stitches, wide)
    return np.argmax([(votes == i).sum(axis=(1, 3)) for i in range(len(palette))], axis=0)
