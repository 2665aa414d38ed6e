"""Pictures from a tablet's camera: taken in with care, made smaller, kept without what the camera wrote into them."""

from __future__ import annotations

import asyncio
import io
from collections.abc import Awaitable, Callable
from concurrent.futures import Future, ThreadPoolExecutor
from functools import lru_cache
from typing import Any, ParamSpec, TypeVar

from nicegui import app, events
from PIL import Image, ImageOps
from starlette.requests import Request
from starlette.responses import Response

from heldtrue.errors import InputError
from heldtrue.records import Photo
from heldtrue.web import texts
from heldtrue.web.desk import Desk
from heldtrue.web.frame import file_button, in_words

P = ParamSpec("P")
R = TypeVar("R")
LARGEST_PICTURE = 12_000_000
"""Bytes a picture may have as it comes from the camera."""
MOST_PIXELS = 50_000_000
"""Points a JPEG may have: it is unpacked no larger than it is needed (at 50 million some 100 MB)."""
MOST_WHOLE_PIXELS = 16_000_000
"""Points any other picture may have, which is unpacked whole whatever its file weighs (at 16 million some 300 MB)."""
MOST_WAITING = 12
"""Pictures that wait to be unpacked, each up to 12 MB as it came."""
KINDS = ("JPEG", "PNG", "WEBP")
KEPT_EDGE, SMALL_EDGE = 1600, 220
"""Longer edge of a photo as it is kept, and as a history shows it."""
MEGA = 1_000_000
# One at a time, in a thread of their own: the memory of one is what a picture costs, and nothing else waits for it.
_UNPACKER = ThreadPoolExecutor(1, thread_name_prefix="picture")
_asked: set[Future[Any]] = set()
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
                content, kind = await in_turn(_small, content), "image/jpeg"
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


async def in_turn(work: Callable[P, R], *arguments: P.args, **more: P.kwargs) -> R:
    """Unpack a picture when it is its turn. Raises: what ``work`` raises, ``InputError`` where too many wait."""
    if len(_asked) > MOST_WAITING:
        raise InputError(texts.PICTURES_WAIT)
    future = _UNPACKER.submit(work, *arguments, **more)
    _asked.add(future)
    future.add_done_callback(_asked.discard)
    return await asyncio.wrap_future(future)


def opened(content: bytes, edge: int) -> Image.Image:
    """A picture, upright, no edge longer than ``edge`` points.

    Raises: ``InputError`` for what is no picture, or a picture too large to be unpacked.
    """
    if len(content) > LARGEST_PICTURE:
        raise InputError(texts.PICTURE_TOO_LARGE.format(most=LARGEST_PICTURE // MEGA))
    try:
        image = Image.open(io.BytesIO(content), formats=KINDS)
        smaller = image.format == "JPEG" and image.mode in ("RGB", "L")
        most = (MOST_PIXELS if smaller else MOST_WHOLE_PIXELS) // MEGA
        pixels = -(-image.width * image.height // MEGA)
        if pixels > most:
            raise InputError(texts.PICTURE_TOO_WIDE.format(pixels=pixels, most=most))
        image.draft("RGB", (edge, edge))  # a JPEG is unpacked no larger than it is needed
        image.load()
        small = image if image.mode in ("RGB", "RGBA", "L", "LA") else image.convert("RGB")
        del image
        small.thumbnail((edge, edge))  # before it is copied, which a large one must not be
        upright = ImageOps.exif_transpose(small).convert("RGB")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:  # its limit is above ours
        raise InputError(texts.PICTURE_TOO_WIDE.format(pixels="too many", most=MOST_PIXELS // MEGA)) from error
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError) as error:  # what the decoders raise on nonsense
        raise InputError(texts.NO_PICTURE) from error
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
