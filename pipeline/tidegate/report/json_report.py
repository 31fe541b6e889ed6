"""The sidecar report as JSON text."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any


def json_text(record: Mapping[str, Any]) -> str:
    """The record as JSON: two spaces, one island and one file a line, keys in the record's order, ends with a newline.

    Lone surrogates (names that are no valid UTF-8 on the disk) are escaped, so the text always encodes.
    """
    lines = ["{"]
    keys = list(record)
    for key in keys:
        comma = "" if key == keys[-1] else ","
        lines.append(f"  {json.dumps(key)}: {_block(record[key], '  ')}{comma}")
    lines.append("}")
    return "\n".join(lines) + "\n"


def _block(value: Any, indent: str) -> str:
    """Lists of objects one a line; `facts` one level deeper; everything else on its own line."""
    inner = indent + "  "
    if isinstance(value, list) and value and isinstance(value[0], dict):
        rows = ",\n".join(inner + _flat(item) for item in value)
        return f"[\n{rows}\n{indent}]"
    if isinstance(value, Mapping) and any(isinstance(v, list) and v and isinstance(v[0], dict) for v in value.values()):
        rows = ",\n".join(f"{inner}{_flat(key)}: {_block(item, inner)}" for key, item in value.items())
        return f"{{\n{rows}\n{indent}}}"
    return _flat(value)


def _flat(value: Any) -> str:
    # Plain ASCII escapes keep every name readable by every parser, also one that is not valid Unicode.
    return json.dumps(value, ensure_ascii=True, allow_nan=False)
