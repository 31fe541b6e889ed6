"""The OBJ reader against the plain one, on random files, whatever the size of the blocks it reads."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.support.obj_drop import read_text
from tests.support.plain_obj import PlainFace, PlainObj, read_plainly
from tidegate.load import obj_scan
from tidegate.model.mesh import MeshFile, MeshPart


@pytest.fixture(autouse=True)
def block_size_restored(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(obj_scan, "_BLOCK", obj_scan._BLOCK)


def random_obj(seed: int) -> str:
    """A well-formed file: mixed corners, relative numbers, blanks, comments, continued lines, any order."""
    rng = random.Random(seed)

    def number() -> str:
        value = rng.choice([rng.uniform(-2, 2), rng.uniform(-1e4, 1e4), float(rng.randint(-9, 9))])
        return rng.choice([f"{value:.6f}", f"{value:.3f}", repr(value), f"{value:e}", f"{value:.0f}", f"{value:+.9f}"])

    def gap() -> str:
        return rng.choice([" ", " ", " ", "  ", "\t", " \t ", " \\\n "])

    lines: list[str] = []
    seen = {"v": 0, "vt": 0, "vn": 0}
    for _ in range(rng.randint(1, 4)):
        if rng.random() < 0.4:
            lines.append(f"o thing_{rng.randint(0, 3)}")
        if rng.random() < 0.5:
            lines.append(f"usemtl paint_{rng.randint(0, 2)}")
        block = [("v", 3)] * rng.randint(4, 9) + [("vt", rng.randint(1, 3))] * rng.randint(0, 4)
        block += [("vn", 3)] * rng.randint(0, 3)
        if rng.random() < 0.5:
            rng.shuffle(block)
        for key, width in block:
            lines.append(key + "".join(gap() + number() for _ in range(width)))
            seen[key] += 1
        for _ in range(rng.randint(1, 8)):
            has_uv, has_normal = seen["vt"] and rng.random() < 0.6, seen["vn"] and rng.random() < 0.6
            corners = []
            for v in rng.sample(range(seen["v"]), rng.choice([3, 3, 4])):
                fields = [v + 1, rng.randint(1, seen["vt"] or 1), rng.randint(1, seen["vn"] or 1)]
                if rng.random() < 0.3:
                    fields = [f - seen[key] - 1 for f, key in zip(fields, seen, strict=True)]
                    fields = [f if f else -1 for f in fields]
                form = {
                    (False, False): "{0}",
                    (True, False): "{0}/{1}",
                    (False, True): "{0}//{2}",
                    (True, True): "{0}/{1}/{2}",
                }[bool(has_uv), bool(has_normal)]
                corners.append(form.format(*fields))
            lines.append("f" + "".join(gap() + corner for corner in corners))
            if rng.random() < 0.2:
                lines.append(rng.choice(["", "   ", "# note / 1 2 3", "s off", "\t# f 1 2 3"]))
            if rng.random() < 0.1:
                lines[-1] += rng.choice([" # f 9 9 9", "  ", "\t"]) if not lines[-1].endswith("\\") else ""
    lines = [rng.choice(["", "", "", " ", "\t"]) + line for line in lines]
    return rng.choice(["\n", "\n", "\r\n", "\r"]).join("\n".join(lines).split("\n")) + "\n"


def polygons_of(part: MeshPart) -> Iterator[np.ndarray]:
    """Triangle numbers of each source polygon, in order."""
    numbers = np.arange(len(part.triangles)) if part.polygon is None else part.polygon
    for polygon in range(int(numbers.max()) + 1):
        yield np.flatnonzero(numbers == polygon)


def corner_set(part: MeshPart, triangles: np.ndarray) -> set[tuple[object, ...]]:
    """Every corner of one polygon as numbers: position, UV, normal."""
    found = set()
    layer = part.uv_layers[0] if part.uv_layers else None
    for t in triangles:
        for c in range(3):
            uv = None
            if layer is not None and layer.triangles[t, c] >= 0:
                uv = tuple(layer.uv[layer.triangles[t, c]].tolist())
            normal = None
            if part.normals is not None and part.normal_triangles is not None and part.normal_triangles[t, c] >= 0:
                normal = tuple(part.normals[part.normal_triangles[t, c]].tolist())
            found.add((tuple(part.positions[part.triangles[t, c]].tolist()), uv, normal))
    return found


def plain_corner_set(face: PlainFace, plain: PlainObj) -> set[tuple[object, ...]]:
    uvs = [plain.vt[i] for i in face.vt] if face.vt else [None] * len(face.v)
    normals = [plain.vn[i] for i in face.vn] if face.vn else [None] * len(face.v)
    return set(zip((plain.v[i] for i in face.v), uvs, normals, strict=True))


def assert_same(mesh: MeshFile, plain: PlainObj) -> None:
    wanted: dict[tuple[str, str], list[PlainFace]] = {}
    for face in plain.faces:
        wanted.setdefault((face.mesh, face.material or ""), []).append(face)
    keys = [(part.mesh, mesh.materials[part.material].name if part.material >= 0 else "") for part in mesh.parts]
    assert keys == sorted(wanted)
    for key, part in zip(keys, mesh.parts, strict=True):
        polygons = list(polygons_of(part))
        assert len(polygons) == len(wanted[key])
        for triangles, face in zip(polygons, wanted[key], strict=True):
            assert len(triangles) == len(face.v) - 2
            assert corner_set(part, triangles) == plain_corner_set(face, plain)
    used = {i for face in plain.faces for i in face.v}
    assert mesh.unused_vertices == len(plain.v) - len(used)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32), block=st.sampled_from([1, 64, 500, 1 << 20]))
def test_agrees_with_the_plain_reader(tmp_path: Path, seed: int, block: int) -> None:
    obj_scan._BLOCK = block
    text = random_obj(seed)
    mesh = read_text(tmp_path, text)
    assert_same(mesh, read_plainly(text))
    # Nothing else may be said of a good file than what these files leave out or state in excess.
    assert {note.code for note in mesh.notes} <= {
        "material-not-defined",
        "faces-without-uv",
        "third-uv-value",
        "object-stated-twice",
        "polygon-not-simple",
    }


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32), block=st.integers(1, 300))
def test_the_size_of_the_blocks_changes_nothing(tmp_path: Path, seed: int, block: int) -> None:
    text = random_obj(seed)
    obj_scan._BLOCK = 1 << 20
    whole = read_text(tmp_path, text)
    obj_scan._BLOCK = block
    pieces = read_text(tmp_path, text)
    assert pieces.notes == whole.notes
    for one, other in zip(pieces.parts, whole.parts, strict=True):
        assert one.positions.tobytes() == other.positions.tobytes()
        assert one.triangles.tobytes() == other.triangles.tobytes()
