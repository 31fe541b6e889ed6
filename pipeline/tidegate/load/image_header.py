"""Header facts of a picture file, whatever its format: which format it is, and what is wrong with the file."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from pathlib import Path, PurePosixPath

from ..errors import UnreadableFile
from ..model.image_header import ImageHeader
from .headers import bmp, dds, exr, gif, jpeg, ktx2, openraster, png, psd, tga, tiff, webp
from .headers.window import Facts, Window, Wrong
from .not_a_picture import described, pointer_text

SUFFIX_FORMATS = {
    "png": "png",
    "jpg": "jpeg",
    "jpeg": "jpeg",
    "jpe": "jpeg",
    "jfif": "jpeg",
    "tga": "tga",
    "targa": "tga",
    "tif": "tiff",
    "tiff": "tiff",
    "bmp": "bmp",
    "dib": "bmp",
    "webp": "webp",
    "psd": "psd",
    "psb": "psd",
    "exr": "exr",
    "ktx2": "ktx2",
    "dds": "dds",
    "gif": "gif",
    "ora": "openraster",
}

_READERS: dict[str, Callable[[Window, Facts], None]] = {
    "png": png.read,
    "jpeg": jpeg.read,
    "tga": tga.read,
    "tiff": tiff.read,
    "bmp": bmp.read,
    "webp": webp.read,
    "psd": psd.read,
    "exr": exr.read,
    "ktx2": ktx2.read,
    "dds": dds.read,
    "gif": gif.read,
    "openraster": openraster.read,
}

_SIGNATURES = (
    (png.SIGNATURE, "png"),
    (jpeg.SIGNATURE, "jpeg"),
    *((signature, "tiff") for signature in tiff.SIGNATURES),
    *((signature, "psd") for signature in psd.SIGNATURES),
    (exr.SIGNATURE, "exr"),
    (ktx2.SIGNATURE, "ktx2"),
    (dds.SIGNATURE, "dds"),
    *((signature, "gif") for signature in gif.SIGNATURES),
)

# For a file broken off before its format can be seen, where a signature alone does not settle it: how it must begin,
# and how many bytes it takes.
_OPENINGS = {
    "webp": (b"RIFF", 12),
    "bmp": (b"BM", 18),
    "openraster": (b"PK\x03\x04", openraster.OPENING_LENGTH),
}

# What a reader may trip over in a file made to trip it, beyond what it names itself.
_TRIPS = (struct.error, zlib.error, ValueError, LookupError, OverflowError, EOFError)


def suffix_format(name: str) -> str:
    """The format that a file name promises, "" for none that is a picture."""
    return SUFFIX_FORMATS.get(PurePosixPath(name.replace("\\", "/")).suffix.lower().lstrip("."), "")


def read_header(source: Path | bytes, name: str) -> ImageHeader:
    """What a picture file says of itself, from a few reads and without decoding a pixel.

    source: a path, or the bytes of an embedded picture. name: file name, for the promise of its suffix; "" for none.
    A bad file is described by `problem` and `problem_detail`. A problem of the disk itself, or a file that is not
    there, raises UnreadableFile. Bytes behind the end of a whole picture are no problem.
    """
    promised = suffix_format(name)
    try:
        with Window(source) as file:
            return _read(file, promised)
    except OSError as error:
        raise UnreadableFile(
            "cannot be opened",
            path=name or str(source if isinstance(source, Path) else "embedded picture"),
            came=str(error.strerror or error),
            help="see that the file is there and that it may be read",
        ) from error


def _read(file: Window, promised: str) -> ImageHeader:
    facts: Facts = {}
    found = ""
    problem = detail = ""
    try:
        found = _format(file, promised)
        _READERS[found](file, facts)
    except Wrong as wrong:
        problem, detail = wrong.problem, wrong.detail
    except _TRIPS as error:
        problem, detail = "damaged", f"the {found} header does not hold together ({type(error).__name__}: {error})"
    return ImageHeader(
        format=found, bytes=file.size, suffix_format=promised, problem=problem, problem_detail=detail, **facts
    )


def _format(file: Window, promised: str) -> str:
    """The format by content; TGA, which has no signature, by promise, footer or exact length. Raises Wrong."""
    if file.size == 0:
        raise Wrong("zero-byte", "the file is empty")
    head = file.upto(0, 512)
    for signature, name in _SIGNATURES:
        if head.startswith(signature):
            return name
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return "webp"
    if bmp.plausible(head):
        return "bmp"
    if head.startswith(b"PK\x03\x04") and openraster.named(head):
        return "openraster"
    stands_for = pointer_text(head)
    if stands_for:
        raise Wrong("pointer-text", stands_for)
    if tga.has_footer(file) or tga.exact_size(file):
        return "tga"
    return _without_signature(file, head, promised)


def _without_signature(file: Window, head: bytes, promised: str) -> str:
    what = described(head)
    if promised == "tga" and not what:
        return "tga"
    opening, needed = _OPENINGS.get(promised, (b"", 0))
    cut = file.size < needed and head[: len(opening)] == opening[: len(head)]
    if cut or any(name == promised and signature.startswith(head) for signature, name in _SIGNATURES):
        return promised  # broken off inside its first bytes; the reader says so
    if not head.strip(b"\0"):
        raise Wrong("damaged", f"the first {len(head)} bytes are all zero, as in a copy that was never finished")
    raise Wrong("not-an-image", what or "the first bytes are those of no picture format that is read here")
