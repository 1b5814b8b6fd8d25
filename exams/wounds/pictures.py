"""A photograph drawn anew: only its picture is kept. Pure: bytes in, bytes out.

What the camera writes beside the picture (place, time, its own name) is not copied. Size and kind are refused
before a single pixel is decoded.
"""

import io
from dataclasses import dataclass

from PIL import Image, ImageOps, UnidentifiedImageError

MOST_BYTES = 20 * 2**20
MOST_PIXELS = 40_000_000
# Wide enough to trace a wound of a millimetre; a page stays quick on a telephone.
LONGEST_SIDE = 2000
LEAST_SIDE = 100
_KINDS = ("JPEG", "PNG", "WEBP")
_QUALITY = 85


class PictureRefused(ValueError):
    """A file that is not taken, in words for the person who sent it."""


@dataclass(frozen=True)
class Picture:
    """A JPEG of ours, with its size in pixels."""

    content: bytes
    width: int
    height: int


def drawn_anew(content: bytes) -> Picture:
    """The picture in ``content``, upright, at most ``LONGEST_SIDE`` pixels long, and nothing beside it.

    Raises
    ------
    PictureRefused
        Too large, of another kind, broken, or too small to see anything on.
    """
    if len(content) > MOST_BYTES:
        megabytes = len(content) / 2**20
        raise PictureRefused(
            f"This file has {megabytes:.0f} MB; at most {MOST_BYTES // 2**20} MB are taken. Send the "
            "photograph in a smaller size. What you typed is kept."
        )
    try:
        with Image.open(io.BytesIO(content), formats=_KINDS) as image:
            _refuse_size(*image.size)
            # A JPEG is decoded no larger than needed, which keeps a big one cheap.
            image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            upright = ImageOps.exif_transpose(image).convert("RGB")
    except Image.DecompressionBombError:
        raise PictureRefused(_too_many("far more than 80")) from None
    except UnidentifiedImageError:
        raise PictureRefused(
            "This is not a photograph this service can read. Send it as JPEG, PNG or WebP; a telephone can "
            "be set to take JPEG. What you typed is kept."
        ) from None
    except PictureRefused:
        raise
    except (OSError, ValueError, SyntaxError, EOFError):
        raise PictureRefused(
            "This photograph is damaged and cannot be read to its end. Take or send it again. What you typed "
            "is kept."
        ) from None
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    drawn = io.BytesIO()
    # A new picture from the pixels alone: no field of the old file can travel along.
    fresh = Image.new("RGB", upright.size)
    fresh.paste(upright)
    fresh.save(drawn, "JPEG", quality=_QUALITY)
    return Picture(drawn.getvalue(), fresh.width, fresh.height)


def _refuse_size(width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise PictureRefused(_too_many(f"{width * height / 1e6:.0f}"))
    if min(width, height) < LEAST_SIDE:
        raise PictureRefused(
            f"This picture is only {width} by {height} pixels, too small to see a wound on. Send the "
            "photograph itself. What you typed is kept."
        )


def _too_many(megapixels: str) -> str:
    return (
        f"This photograph has {megapixels} megapixels; at most {MOST_PIXELS // 1_000_000} are taken. Set the "
        "camera to a smaller size, or send a smaller copy. What you typed is kept."
    )
