"""JSON of a glTF file: UTF-8, of bounded size and depth, no key twice, no NaN (glTF 2.0 section 2.7)."""

from __future__ import annotations

import json
from typing import Any

from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.model.reference import ReadNote

from .limits import ReadLimits

_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


def parse_json(data: bytes, limits: ReadLimits, notes: list[ReadNote]) -> dict[str, Any]:
    """The JSON object in `data`. Adds to `notes`. Raises UnreadableFile and LimitExceeded, both without a path."""
    if len(data) > limits.json_bytes:
        raise LimitExceeded(
            "the JSON is larger than the limits allow",
            expected=f"at most {limits.json_bytes:,} bytes",
            came=f"{len(data):,} bytes",
        )
    if data.startswith(_BYTE_ORDER_MARK):
        data = data[len(_BYTE_ORDER_MARK) :]
        notes.append(
            ReadNote(
                "byte-order-mark",
                "warning",
                "the JSON starts with a byte order mark, which glTF forbids and some readers refuse",
                help="export again, or save the text as UTF-8 without a byte order mark",
            )
        )
    try:
        words = data.decode("utf-8")
    except UnicodeDecodeError as fault:
        raise UnreadableFile(
            "the JSON is not UTF-8",
            expected="UTF-8 without a byte order mark",
            came=f"byte 0x{data[fault.start]:02x} at {fault.start}",
            help="export again; names must be written as UTF-8",
        ) from fault
    twice: list[str] = []

    def unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        built = dict(pairs)
        if len(built) != len(pairs):
            seen: dict[str, Any] = {}
            for key, value in pairs:
                if key in seen and seen[key] != value:
                    raise UnreadableFile(
                        f"the JSON holds the key {key[:60]!r} twice with different values",
                        expected="every key once in its object",
                        help="export again; nobody can tell which of the two was meant",
                    )
                if key in seen:
                    twice.append(key)
                seen[key] = value
        return built

    try:
        root = json.loads(words, object_pairs_hook=unique, parse_constant=_refuse_constant)
    except RecursionError as fault:
        raise _too_deep(limits) from fault
    except json.JSONDecodeError as fault:
        raise UnreadableFile(
            f"the JSON is damaged: {fault.msg.lower()}",
            came=f"line {fault.lineno}, column {fault.colno} of {len(data):,} bytes",
            help="the file may be cut off; copy or export it again",
        ) from fault
    except ValueError as fault:  # a whole number of thousands of digits
        raise UnreadableFile(f"the JSON holds a number that cannot be read: {str(fault)[:80]}") from fault
    if not isinstance(root, dict):
        raise UnreadableFile("the JSON is no glTF", expected="a JSON object", came=f"a {type(root).__name__}")
    _check_depth(root, limits)
    if twice:
        shown = ", ".join(repr(key) for key in sorted(set(twice))[:5])
        notes.append(
            ReadNote(
                "key-twice", "warning", f"the JSON holds keys twice, each with one value: {shown}", help="export again"
            )
        )
    return root


def _refuse_constant(name: str) -> float:
    raise UnreadableFile(
        f"the JSON holds {name}, which is no JSON number",
        help="clean values that are not numbers from the mesh and its materials, then export again",
    )


def _check_depth(root: dict[str, Any], limits: ReadLimits) -> None:
    level: list[Any] = [root]
    for _ in range(limits.json_depth):
        inner: list[Any] = []
        for value in level:
            children = value.values() if isinstance(value, dict) else value
            inner += [child for child in children if isinstance(child, (dict, list))]
        if not inner:
            return
        level = inner
    raise _too_deep(limits)


def _too_deep(limits: ReadLimits) -> LimitExceeded:
    return LimitExceeded(
        "the JSON is nested too deeply", expected=f"at most {limits.json_depth} levels", help="remove nested extras"
    )
