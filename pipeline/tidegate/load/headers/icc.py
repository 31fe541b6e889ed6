"""The description of an ICC profile (ICC.1:2010, 7.2 and 9.2.41)."""

from __future__ import annotations

import struct


def described(profile: bytes) -> str:
    """The profile's own description, or its length in words when it has none that can be read."""
    try:
        (count,) = struct.unpack_from(">I", profile, 128)
        for entry in range(min(count, 100)):
            name, offset, length = struct.unpack_from(">4sII", profile, 132 + 12 * entry)
            if name == b"desc" and offset + length <= len(profile):
                text = _text(profile[offset : offset + length])
                if text:
                    return text
    except struct.error:
        pass
    return f"{len(profile):,} bytes"


def _text(tag: bytes) -> str:
    if tag[:4] == b"desc":  # textDescriptionType of version 2 profiles
        (length,) = struct.unpack_from(">I", tag, 8)
        raw = tag[12 : 12 + length].decode("latin-1")
    elif tag[:4] == b"mluc":  # multiLocalizedUnicodeType of version 4 profiles; the first language is the default
        length, offset = struct.unpack_from(">II", tag, 20)
        raw = tag[offset : offset + length].decode("utf-16-be", "replace")
    else:
        return ""
    return "".join(letter for letter in raw if letter.isprintable()).strip()[:80]
