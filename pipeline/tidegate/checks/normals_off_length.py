"""Vertex normals that are not one unit long, or have no direction at all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import faulty_parts
from tidegate.model.finding import Finding
from tidegate.model.selection import PART_SCOPE, parts_in
from tidegate.model.wording import count, number


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    tolerance = limits["tolerance"]
    # glTF states unit length; OBJ and the others leave it open, and most programs make them one on reading.
    strict = {mesh.path for mesh in facts.prop.meshes if mesh.format in ("gltf", "glb")}
    for fault in faulty_parts(facts, parts_in(facts, scope), lambda shading: shading.zero):
        yield Finding(
            check="normals-off-length",
            level="",
            message=f"{fault.where}: {count(fault.total, 'normal')} without a direction",
            place=fault.place,
            measured=fault.total,
            wanted=0,
            unit="normals",
            help="recalculate the normals there; faces without area are a common reason",
        )
    for fault in faulty_parts(facts, parts_in(facts, scope), lambda shading: shading.off_length(tolerance)):
        farthest = max(
            (
                facts.shading[index].farthest_length()
                for index, part in parts_in(facts, scope)
                if (part.file, part.role) == (fault.place.file, fault.place.role)
            ),
            key=lambda length: abs(length - 1.0),
        )
        yield Finding(
            check="normals-off-length",
            level="" if fault.place.file in strict else "note",
            message=(
                f"{fault.where}: {count(fault.total, 'normal')} off one unit of length by more than {number(tolerance)}, the "
                f"farthest {number(farthest)} long"
            ),
            place=fault.place,
            measured=fault.total,
            wanted=0,
            unit="normals",
            help="export with normalised normals",
        )


CHECK = Check(
    name="normals-off-length",
    group="normals and tangents",
    stage=46,
    needs=frozenset({"files", "meshes", "shading"}),
    looks_at="length of every vertex normal as the file stores it",
    why="glTF 2.0, 3.7.2.1 wants unit length; shaders that trust it light such places too bright or too dark",
    put_right="normalise the normals on export",
    blind_spots="unit normals that point the wrong way are another check's; formats that state no length are only noted",
    limits=(
        Limit(
            "tolerance",
            "number",
            0.01,
            "units",
            "how far a length may be from 1; signed bytes miss by up to 0.0068 (sqrt(3) / 2 / 127)",
            low=0,
        ),
    ),
    scope=PART_SCOPE,
    run=run,
)
