"""Typed looks into the JSON of a glTF file: every value is checked before it is used.

The errors raised here carry no path; `read_gltf` adds it. `where` is the place in the file in JSON words, such as
`accessors[3]`.
"""

from __future__ import annotations

import math
from typing import Any

from tidegate.errors import LimitExceeded, UnreadableFile

Json = dict[str, Any]


def wrong(where: str, what: str, *, expected: str = "", came: str = "", help: str = "") -> UnreadableFile:
    """The error for a value that glTF does not allow."""
    return UnreadableFile(
        f"{where} {what}",
        expected=expected,
        came=came,
        help=help or "export the mesh again, or prove the file with a glTF validator",
    )


def integer(holder: Json, key: str, where: str, *, default: int | None = None, low: int = 0) -> int:
    """A whole number, at least `low`. 3.0 counts as whole, as in JSON Schema."""
    value = holder.get(key, default)
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, bool) or not isinstance(value, int):
        raise wrong(f"{where}.{key}", "is no whole number", came=_shown(value))
    if value < low or value > 2**53:
        raise wrong(f"{where}.{key}", "is out of range", expected=f"at least {low}", came=_shown(value))
    return value


def index(holder: Json, key: str, where: str, count: int, *, default: int | None = None) -> int:
    """A number of something in a list of `count`; `default` is returned as it is when the key is absent."""
    if key not in holder and default is not None:
        return default
    value = integer(holder, key, where)
    if value >= count:
        raise wrong(f"{where}.{key}", "names something that is not there", expected=f"below {count}", came=str(value))
    return value


def indices(holder: Json, key: str, where: str, count: int) -> list[int]:
    """A list of such numbers, [] when absent."""
    values = array(holder, key, where)
    return [index({"at": value}, "at", f"{where}.{key}[{i}]", count) for i, value in enumerate(values)]


def numbers(holder: Json, key: str, where: str, default: tuple[float, ...]) -> tuple[float, ...]:
    """As many finite numbers as `default` holds."""
    if key not in holder:
        return default
    values = holder[key]
    good = isinstance(values, list) and len(values) == len(default)
    if not good or not all(_is_number(value) for value in values):
        raise wrong(f"{where}.{key}", f"does not hold {len(default)} finite numbers", came=_shown(values))
    return tuple(float(value) for value in values)


def number(holder: Json, key: str, where: str, default: float) -> float:
    """One finite number."""
    value = holder.get(key, default)
    if not _is_number(value):
        raise wrong(f"{where}.{key}", "is no finite number", came=_shown(value))
    return float(value)


def text(holder: Json, key: str, where: str, default: str = "") -> str:
    """A text, kept as it is."""
    value = holder.get(key, default)
    if not isinstance(value, str):
        raise wrong(f"{where}.{key}", "is no text", came=_shown(value))
    return value


def mapping(holder: Json, key: str, where: str) -> Json:
    """A JSON object, {} when absent."""
    value = holder.get(key, {})
    if not isinstance(value, dict):
        raise wrong(f"{where}.{key}", "is no JSON object", came=_shown(value))
    return value


def array(holder: Json, key: str, where: str) -> list[Any]:
    """A JSON array, [] when absent."""
    value = holder.get(key, [])
    if not isinstance(value, list):
        raise wrong(f"{where}.{key}", "is no JSON array", came=_shown(value))
    return value


def objects(holder: Json, key: str, where: str, limit: int) -> list[Json]:
    """An array of JSON objects, at most `limit` of them, [] when absent."""
    values = array(holder, key, where)
    if len(values) > limit:
        raise LimitExceeded(f"the file holds too many {key}", expected=f"at most {limit:,}", came=f"{len(values):,}")
    for i, value in enumerate(values):
        if not isinstance(value, dict):
            raise wrong(f"{where}.{key}[{i}]" if where else f"{key}[{i}]", "is no JSON object", came=_shown(value))
    return values


def extension(holder: Json, name: str, where: str) -> Json | None:
    """The body of an extension on this object, None when it does not carry it."""
    extensions = mapping(holder, "extensions", where)
    return mapping(extensions, name, f"{where}.extensions") if name in extensions else None


def _is_number(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def _shown(value: Any) -> str:
    if value is None:
        return "nothing"
    shown = repr(value) if not isinstance(value, int) or abs(value) < 2**64 else "a number of very many digits"
    return shown if len(shown) <= 60 else shown[:57] + "..."
