"""A prop's name as part of a file name."""

from __future__ import annotations


def file_stem(prop: str) -> str:
    """The prop's name as part of a file name: what cannot stand in one everywhere becomes a hyphen.

    At most 120 bytes of UTF-8, whole characters: file systems count bytes, and endings have to fit behind it.
    """
    safe = "".join(c if c.isalnum() or c in "._-" else "-" for c in prop).strip(".- ") or "prop"
    return safe.encode("utf-8")[:120].decode("utf-8", "ignore")
