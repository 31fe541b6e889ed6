"""Bytes written into a text: RFC 2397 data URIs, as glTF embeds buffers and images."""

from __future__ import annotations

import base64
import binascii
from urllib.parse import unquote_to_bytes


def is_data_uri(uri: str) -> bool:
    """Whether the text is a data URI and names no file."""
    return uri[:5].lower() == "data:"


def data_uri_head(uri: str) -> str:
    """The part that says what the data is, without the data: fit for a report."""
    return uri.partition(",")[0] + ","


def data_uri_mime(uri: str) -> str:
    """The stated media type, "" when there is none."""
    return uri[5:].partition(",")[0].partition(";")[0].strip().lower()


def decode_data_uri(uri: str) -> bytes:
    """The bytes. Raises ValueError when there is no comma or the Base64 is damaged."""
    head, comma, body = uri.partition(",")
    if not comma:
        raise ValueError("the data URI has no comma")
    if not head.lower().rstrip().endswith(";base64"):
        return unquote_to_bytes(body)
    packed = unquote_to_bytes(body) if "%" in body else body.encode("ascii", "replace")
    packed = packed.translate(None, b" \t\r\n")
    packed += b"=" * (-len(packed) % 4)  # padding that some writers leave out
    try:
        return base64.b64decode(packed, validate=True)
    except binascii.Error as fault:
        raise ValueError(f"the Base64 of the data URI is damaged: {fault}") from fault
