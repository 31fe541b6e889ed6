"""Folder names the gate makes from names it was given."""

from __future__ import annotations

import os
import unicodedata

from tidegate.errors import PermanentFault

from .faults import shown

LONGEST = 255
"""Bytes a name may have on the common Linux file systems (NAME_MAX)."""


def one_part(text: str, what: str) -> str:
    """The text, proven to be one plain path component. Raises PermanentFault."""
    if text in ("", ".", "..") or "/" in text or "\0" in text or text.startswith(".tidegate-"):
        raise PermanentFault(
            f"{what} is no folder name",
            path=shown(text),
            expected="one path component",
            came=ascii(text),
            done="nothing was handed over under it",
            help="rename the files so that their name fields give plain names",
        )
    return text


def fitted(name: str, ending: str) -> str:
    """`name` and `ending` joined by a hyphen, the name shortened to whole characters so that both fit in 255 bytes."""
    room = LONGEST - 8 - len(os.fsencode(ending)) - 1  # 8: a counter may follow
    while len(os.fsencode(name)) > room:
        name = name[:-1]
    return f"{name}-{ending}"


def same_to_some(name: str) -> str:
    """Key under which names collide on file systems that fold case or normalise (UAX #15, NFC of the case-folded)."""
    if name.isascii():
        return name.lower()
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
