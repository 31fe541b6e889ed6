"""Whether the file is of a glTF version read here (glTF 2.0 section 3.2)."""

from __future__ import annotations

import re

from tidegate.errors import UnreadableFile

from .gltf_values import Json, mapping

# The grammar published with glTF 2.0.1 takes leading zeros ("2.00"), the one of 2026 does not. Files of either are
# read: all that counts here is the major number.
_VERSION = re.compile(r"[0-9]{1,10}\.[0-9]{1,10}")


def check_version(root: Json) -> str:
    """The stated version. Raises UnreadableFile when it is missing, malformed, not 2.x, or asks for more than 2.0."""
    asset = mapping(root, "asset", "the file")
    version = _parsed(asset, "version")
    if version is None:
        raise UnreadableFile("asset.version is missing", expected='"2.0"', help="export the mesh as glTF 2.0")
    if version[0] != 2:
        raise UnreadableFile(
            "the file is of another glTF version",
            expected="2.0",
            came=str(asset["version"]),
            help="export the mesh as glTF 2.0",
        )
    least = _parsed(asset, "minVersion")
    if least is not None and least > (2, 0):
        raise UnreadableFile(
            "the file asks for a reader of a later glTF version",
            expected="asset.minVersion 2.0 or none",
            came=str(asset["minVersion"]),
            help="export the mesh as glTF 2.0",
        )
    return str(asset["version"])


def _parsed(asset: Json, key: str) -> tuple[int, int] | None:
    if key not in asset:
        return None
    value = asset[key]
    if not isinstance(value, str) or not _VERSION.fullmatch(value):
        raise UnreadableFile(f"asset.{key} is no version", expected='two numbers, such as "2.0"', came=repr(value)[:60])
    major, minor = value.split(".")
    return int(major), int(minor)
