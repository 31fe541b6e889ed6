"""Says in words what a file is that is no picture read here: a pointer text, a web page, an archive, another picture."""

from __future__ import annotations

import re

_KNOWN = (
    (b"PK\x03\x04", "this is a ZIP archive"),
    (b"%PDF", "this is a PDF document"),
    (b"glTF", "this is a GLB model"),
    (b"Kaydara FBX", "this is an FBX model"),
    (b"\x1f\x8b", "this is a gzip archive"),
    (b"7z\xbc\xaf\x27\x1c", "this is a 7z archive"),
    (b"Rar!", "this is a RAR archive"),
    (b"\xabKTX 11", "this is a picture in KTX version 1, which is not read here"),
    (b"#?RADIANCE", "this is a Radiance HDR picture, which is not read here"),
    (b"#?RGBE", "this is a Radiance HDR picture, which is not read here"),
    (b"\x00\x00\x00\x0cjP  ", "this is a JPEG 2000 picture, which is not read here"),
    (b"\x00\x00\x00\x0cJXL ", "this is a JPEG XL picture, which is not read here"),
    (b"\xff\x0a", "this is a JPEG XL picture, which is not read here"),
    (b"SQLite format 3\0", "this is a SQLite database"),
)
_POINTER = re.compile(rb"\Aversion https?://\S+\r?\n(?:[^\r\n]*\r?\n)*?oid \S+\r?\n(?:[^\r\n]*\r?\n)*?size (\d+)")
_ANNEX = re.compile(rb"\A(?:\.\./)*(?:\.git)?/annex/objects/\S+\s*\Z")


def pointer_text(head: bytes) -> str:
    """What the pointer text of a large-file store stands for, "" when it is none. head: the first bytes of the file."""
    found = _POINTER.match(head)
    if found:
        return f"this is the pointer text of a large-file store; the picture itself ({int(found[1]):,} bytes) was not fetched"
    if _ANNEX.match(head):
        return "this is the pointer text of a large-file store; the picture itself was not fetched"
    return ""


def described(head: bytes) -> str:
    """A sentence for files that are something else, "" when the bytes say nothing."""
    for signature, words in _KNOWN:
        if head.startswith(signature):
            return words
    if head[4:8] == b"ftyp":
        kind = {b"avif": "an AVIF picture", b"heic": "a HEIC picture"}.get(head[8:12], "a film or HEIF file")
        return f"this is {kind}, which is not read here"
    if re.match(rb"P[1-7]\s+(#[^\n]*\n\s*)*\d+\s", head):
        return "this is a portable anymap (PNM) picture, which is not read here"
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    start = text[:100].lower()
    if start.startswith((b"<!doctype html", b"<html", b"<head", b"<body")):
        return "this is a web page (HTML), as a failed download leaves behind"
    if b"<svg" in head.lower():
        return "this is an SVG drawing, which has no pixels"
    if start.startswith(b"<?xml"):
        return "this is an XML text"
    if _is_text(head):
        return "this is a plain text"
    return ""


def _is_text(head: bytes) -> bool:
    """Only printable letters and line ends. Cut bytes of the last letter do not count against it."""
    if not head.strip() or re.search(rb"[\x00-\x08\x0b\x0c\x0e-\x1a\x1c-\x1f\x7f]", head):
        return False
    try:
        head.decode("utf-8")
    except UnicodeDecodeError as error:
        return error.start >= len(head) - 3 and error.start > 0 and len(head) >= 512
    return True
