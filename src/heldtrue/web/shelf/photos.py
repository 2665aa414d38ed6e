"""Pictures from a tablet's camera: taken in with care, made smaller, kept without what the camera wrote into them."""

from __future__ import annotations

import io
from collections.abc import Awaitable, Callable
from functools import lru_cache

from nicegui import app, events
from PIL import Image, ImageOps
from starlette.requests import Request
from starlette.responses import Response

from heldtrue.errors import InputError
from heldtrue.records import Photo
from heldtrue.web import texts
from heldtrue.web.desk import Desk
from heldtrue.web.frame import file_button, in_words

LARGEST_PICTURE = 12_000_000
"""Bytes a picture may have as it comes from the camera."""
MOST_PIXELS = 50_000_000
"""Points a picture may have before it is unpacked: a small file can unpack to more than the machine holds."""
KINDS = ("JPEG", "PNG", "WEBP")
KEPT_EDGE, SMALL_EDGE = 1600, 220
"""Longer edge of a photo as it is kept, and as a history shows it."""
MEGA = 1_000_000
BEGINS = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))
ID_LENGTH = 64


def register(desk: Desk) -> None:
    """The route ``/photo/{id}``; ``?small`` for the picture of a list."""

    @app.get("/photo/{id}", include_in_schema=False)
    async def photo(id: str, request: Request) -> Response:
        found = await desk.remember(desk.store.events, Photo, id=id) if len(id) == ID_LENGTH else ()
        content = found[0].content if found else b""
        kind = kind_of(content)
        if not kind:  # nothing there, or something that was put in as a picture and is none
            return Response(status_code=404)
        if "small" in request.query_params:
            try:
                content, kind = await desk.remember(_small, content), "image/jpeg"
            except InputError:
                return Response(status_code=404)
        return Response(content, media_type=kind, headers={
            "Cache-Control": "private, max-age=86400, immutable", "Content-Disposition": "inline",
            "Content-Security-Policy": "default-src 'none'",
        })  # fmt: skip


def kind_of(content: bytes) -> str:
    """The media type of a picture by how it begins; empty for anything else."""
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return next((kind for begin, kind in BEGINS if content.startswith(begin)), "")


def opened(content: bytes, edge: int) -> Image.Image:
    """A picture, upright, no edge longer than ``edge`` points.

    Raises: ``InputError`` for what is no picture, or a picture too large to be unpacked.
    """
    if len(content) > LARGEST_PICTURE:
        raise InputError(texts.PICTURE_TOO_LARGE.format(most=LARGEST_PICTURE // MEGA))
    try:
        image = Image.open(io.BytesIO(content), formats=KINDS)
        if image.width * image.height > MOST_PIXELS:
            pixels, most = image.width * image.height // MEGA, MOST_PIXELS // MEGA
            raise InputError(texts.PICTURE_TOO_WIDE.format(pixels=pixels, most=most))
        image.draft("RGB", (edge, edge))  # a JPEG is unpacked no larger than it is needed
        image.load()
        upright = ImageOps.exif_transpose(image).convert("RGB")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:  # its limit is above ours
        raise InputError(texts.PICTURE_TOO_WIDE.format(pixels="too many", most=MOST_PIXELS // MEGA)) from error
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError) as error:  # what the decoders raise on nonsense
        raise InputError(texts.NO_PICTURE) from error
    upright.thumbnail((edge, edge))
    return upright


def shrunk(content: bytes, edge: int = KEPT_EDGE) -> bytes:
    """The picture as a JPEG of a sane size, with nothing in it but the picture: no place, no time, no camera.

    Raises: as ``opened``.
    """
    image, out = opened(content, edge), io.BytesIO()
    image.info.clear()
    image.save(out, "JPEG", quality=85, optimize=True)
    return out.getvalue()


@lru_cache(maxsize=256)
def _small(content: bytes) -> bytes:
    return shrunk(content, SMALL_EDGE)


def picture_boxes(words: str, work: Callable[[bytes], Awaitable[None]], mark: str, *, main: bool = False) -> None:
    """Two buttons: one opens the tablet's camera, the other takes a picture that is there; ``work`` gets its bytes."""

    @in_words
    async def come(event: events.UploadEventArguments) -> None:
        if event.file.size() > LARGEST_PICTURE:
            raise InputError(texts.PICTURE_TOO_LARGE.format(most=LARGEST_PICTURE // MEGA))
        await work(await event.file.read())

    refused = texts.REJECTED.format(most=LARGEST_PICTURE // MEGA)
    for label, camera, name in ((words, True, mark), (texts.CHOOSE_PICTURE, False, f"{mark}-file")):
        made = file_button(label, come, accept="image/*", most=LARGEST_PICTURE, mark=f"{name}-upload",
                           refused=refused, camera=camera, main=main and camera)  # fmt: skip
        made.mark(name)
