"""A prop's name as part of a file name."""

from __future__ import annotations


def file_stem(prop: str) -> str:
    """The prop's name as part of a file name: what cannot stand in one everywhere becomes a hyphen."""
    safe = "".join(c if c.isalnum() or c in "._-" else "-" for c in prop).strip(".- ") or "prop"
    return safe[:120]
