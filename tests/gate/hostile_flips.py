"""One bit of a good GLB turned over, anywhere. A plain reading (`plain_glb`) says whether it matters and what must be told;
where it does not, the drop must end as the whole one does."""

from __future__ import annotations

import json
import math
import random
import re
import struct
from collections.abc import Iterator

from tests.gate.hostile_case import Case, crate, drop_of
from tests.gate.plain_glb import Read, chunks, read, with_json

WHOLE = "furniture_whole"
LOST = {"POSITION": "doubtful-mesh-data", "NORMAL": "normals-missing", "TEXCOORD_0": "uvs-missing"}
FEWEST = {"same": 10, "unjudged": 30, "returned": 15}
MOST = 30


def whole_drop() -> Case:
    """The drop that the harmless ones are held against."""
    return drop_of(WHOLE.removeprefix("furniture_"), ".", crate().glb())


def flip_cases() -> Iterator[Case]:
    yield whole_drop()
    yield from _in_the_json()
    yield from _in_the_numbers()


def _in_the_json() -> Iterator[Case]:
    data = crate().glb()
    text, blob = chunks(data)
    good = read(text, blob)
    rng = random.Random(19)
    count = dict.fromkeys(FEWEST, 0)
    for at, bit in sorted({(rng.randrange(len(text)), rng.randrange(8)) for _ in range(360)}):
        flipped = bytearray(text)
        flipped[at] ^= 1 << bit
        says = _outcome(bytes(flipped), blob, good)
        if says is None or count[says[0]] == MOST:
            continue
        verdict, told = says
        count[verdict] += 1
        name = f"flipjson{at:04d}bit{bit}"
        glb = with_json(data, bytes(flipped))
        if verdict == "same":
            yield _harmless(name, glb)
        else:
            yield drop_of(name, told, glb, verdict)
    assert all(count[verdict] >= least for verdict, least in FEWEST.items()), count


def _outcome(text: bytes, blob: bytes, good: Read) -> tuple[str, str] | None:
    """(verdict, what must be told); verdict "same" where nothing was changed that matters. None: stored values are read from
    another place, which only their looks tell."""
    try:
        found = read(text, blob)
    except (json.JSONDecodeError, UnicodeDecodeError):
        return "unjudged", "^unreadable-file: .*JSON"
    except (LookupError, TypeError, ValueError) as problem:
        lost = [LOST[name] for name in LOST if repr(name) == str(problem)]
        if str(problem) == "'scenes'":
            return None  # without scenes a reader may show every node or none (3.5.1)
        if str(problem) == "'uri'":
            return "returned", "^missing-texture-file: .*holds no readable bytes"
        return ("returned", f"^{lost[0]}: ") if lost else ("unjudged", "^unreadable-file: ")
    if found == good:
        return "same", ""
    if found.image and found.image != good.image:
        other = found.image.lower() == good.image.lower()
        return "returned", f"^{'wrong-case-reference' if other else 'missing-texture-file'}: .*{re.escape(found.image)}"
    if not found.image:
        return "returned", "^missing-map: .*no base_color"
    gone = [name for name in good.columns if name not in found.columns]
    if gone:
        return "returned", f"^{LOST[gone[0]]}: "
    if found.material != good.material:
        return "returned", f"^missing-map: material `{re.escape(str(found.material.get('name', '')))}"
    return None


def _in_the_numbers() -> Iterator[Case]:
    """Every stored number is one of position, normal, UV (binary32, IEEE 754) or index (16 bit). Bit 0 of a float is 2^-23 of
    it, less than any of our limits; bit 30 multiplies by 2^128 or divides by it."""
    build = crate()
    root = build.json
    attributes = root["meshes"][0]["primitives"][0]["attributes"]
    rng = random.Random(29)
    for name, accessor in attributes.items():
        view = root["bufferViews"][root["accessors"][accessor]["bufferView"]]
        for number in range(10):
            at = view["byteOffset"] + 4 * rng.randrange(view["byteLength"] // 4)
            bit = 0 if number < 4 else 30
            damaged = crate()
            before = struct.unpack_from("<f", damaged.blob, at)[0]
            damaged.blob[at + bit // 8] ^= 1 << (bit % 8)
            after = struct.unpack_from("<f", damaged.blob, at)[0]
            case = f"flip{name.lower().replace('_', '')}{number}at{at:04d}bit{bit}"
            if bit == 0:
                assert math.isclose(before, after, rel_tol=1e-6, abs_tol=1e-40)
                # A corner that moved, however little, no longer is the one of the two faces beside it: two of its edges part.
                crack = (
                    r"^cracked-surface: .*\b2 edges where two borders lie within 1 mm of each other and are not welded"
                )
                yield drop_of(case, crack, damaged.glb()) if name == "POSITION" else _harmless(case, damaged.glb())
            else:
                yield drop_of(case, _of_number(name, after), damaged.glb())


def _of_number(name: str, value: float) -> str:
    if name == "POSITION":  # +-0.5 became +-1.7e38
        assert math.isfinite(value) and abs(value) > 1e37
        return "^unlikely-size: the prop measures"
    if name == "NORMAL":  # +-1 became infinite, 0 became 2
        if math.isfinite(value):
            return "^normals-off-length: "
        return "^doubtful-mesh-data: .* 1 of 24 vertices have a normal that is not a number"
    assert math.isfinite(value) and value > 1e36  # a UV between 0 and 1
    return "^uvs-missing: [12] triangles? in .* tiles away"


def _harmless(name: str, glb: bytes) -> Case:
    return drop_of(name, ".", glb, like=WHOLE)
