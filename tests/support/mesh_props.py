"""Props made from arrays, and what one check says of them, without any file."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from tests.geometry.shapes import box, grid
from tidegate import checks
from tidegate.measure.measure import measure, with_what_they_rest_on
from tidegate.model.check import Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.limit_value import accepted
from tidegate.model.mesh import Material, MeshFile, MeshPart, Node, UvLayer
from tidegate.model.order_row import OrderRow
from tidegate.model.prop import Prop

SETTINGS = {"driving_slots": ("base_color", "normal"), "assumed_map_px": 2048}


def part(
    points: Any, triangles: Any, *, mesh: str = "hull", uv: Any = None, normals: Any = None, **more: Any
) -> MeshPart:
    """A part named `hull` at a node of that name. uv, normals: one a vertex."""
    faces = np.asarray(triangles, np.int32).reshape(-1, 3)
    layers = () if uv is None else (UvLayer(0, "TEXCOORD_0", np.asarray(uv, float), faces),)
    if normals is not None:
        more = {"normals": np.asarray(normals, float), "normal_triangles": faces, **more}
    fields = {"node": mesh, "material": -1, "uv_layers": layers, **more}
    return MeshPart(mesh=mesh, positions=np.asarray(points, float), triangles=faces, **fields)


def box_part(size: float = 1.0, at: tuple[float, float, float] = (0.0, 0.0, 0.0), **more: Any) -> MeshPart:
    """A closed cube of 12 triangles on 8 vertices, centre `at`."""
    points, triangles = box(size)
    return part(points + np.array(at), more.pop("triangles", triangles), **more)


def sheet_part(columns: int, rows: int, **more: Any) -> MeshPart:
    """A flat sheet facing +Z, a metre a cell, laid out over the whole tile."""
    sheet = grid(columns, rows)
    return part(sheet.positions, sheet.triangles, uv=sheet.uv, **more)


def mesh_file(*parts: MeshPart, path: str = "furniture_crate.glb", **more: Any) -> MeshFile:
    """A GLB with these parts; a node for each unless `nodes` are given."""
    if "nodes" not in more:
        more["nodes"] = tuple(Node(one.node, -1, one.mesh, holds="mesh") for one in parts)
        parts = tuple(replace(one, node_number=i) for i, one in enumerate(parts))
    return MeshFile(path=path, format=path.rpartition(".")[2], parts=parts, unit_stated=path.endswith("glb"), **more)


def prop(*files: MeshFile, **more: Any) -> Prop:
    return Prop(name="crate", meshes=files, **more)


def facts_of(thing: Prop | MeshFile | MeshPart, *needs: str, order: OrderRow | None = None) -> Facts:
    whole = thing if isinstance(thing, Prop) else prop(thing if isinstance(thing, MeshFile) else mesh_file(thing))
    return measure(whole, needs, SETTINGS, order)


def findings(
    check: str,
    thing: Prop | MeshFile | MeshPart,
    *,
    order: OrderRow | None = None,
    scope: Scope | None = None,
    **limits: Any,
) -> list[Finding]:
    """What one check says, with its default limits but for those given. Only the groups it names are measured."""
    told = checks.get(check)
    facts = facts_of(thing, *told.needs, order=order)
    assert facts.measured == with_what_they_rest_on(told.needs)
    known = {limit.name: limit for limit in told.limits}
    assert set(limits) <= set(known)
    values = {name: accepted(limit, limits.get(name, limit.default)) for name, limit in known.items()}
    found = list(told.run(facts, values, scope or Scope()))
    for one in found:
        assert one.check == check
        assert one.message and one.help and not one.message.endswith(".")
    return found


def messages(check: str, thing: Prop | MeshFile | MeshPart, **more: Any) -> list[str]:
    return [one.message for one in findings(check, thing, **more)]


def material(name: str, *slots: Any, **more: Any) -> Material:
    return Material(name, slots, **more)
