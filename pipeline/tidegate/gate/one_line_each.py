"""JSON with a line for each field of the top: as readable as it has to be, and written by the quick encoder."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

_ENCODE = json.JSONEncoder().encode


def one_line_each(data: Mapping[str, Any]) -> bytes:
    """ASCII; names that are not UTF-8 survive as escaped lone surrogates. Names are plain, records in `data` mappings already."""
    lines = ",\n".join([f' "{name}": {_ENCODE(value)}' for name, value in data.items()])
    return f"{{\n{lines}\n}}\n".encode("ascii")


def fields_of(record: Any) -> dict[str, Any]:
    """The fields of a slotted record, not looking into them."""
    return {name: getattr(record, name) for name in record.__slots__}
