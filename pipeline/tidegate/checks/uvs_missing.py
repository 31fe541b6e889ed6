"""Faces that have no place on the map, or one beyond any sense."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.selection import PART_SCOPE, parts_in
from tidegate.model.wording import count, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for _, part in parts_in(facts, scope):
        for layer in range(limits["layers"]):
            worn = f"material `{part.material}`" if part.material else "no material"
            where = f"mesh `{part.mesh or part.node}` ({worn})"
            place = Place(
                file=part.file, role=part.role, node=part.node, mesh=part.mesh, material=part.material, uv_layer=layer
            )
            if layer not in part.uv_layers:
                yield Finding(
                    check="uvs-missing",
                    level="",
                    message=f"{where} in {part.file} has no UV layer {layer}",
                    place=place,
                    measured=len(part.uv_layers),
                    wanted=limits["layers"],
                    unit="UV layers",
                    help="lay the mesh out and export with UVs",
                )
                continue
            without, bad = part.without_uv.get(layer, 0), part.bad_uv.get(layer, 0)
            if without:
                yield Finding(
                    check="uvs-missing",
                    level="",
                    message=f"{count(without, 'triangle')} of {part.triangles:,} in {where} without UVs on layer {layer}",
                    place=place,
                    measured=without,
                    wanted=0,
                    unit="triangles",
                    help="select the faces that lie on nothing and lay them out",
                )
            if bad:
                yield Finding(
                    check="uvs-missing",
                    level="",
                    message=f"{count(bad, 'triangle')} in {where} with UVs that are no finite numbers on layer {layer}",
                    place=place,
                    measured=bad,
                    wanted=0,
                    unit="triangles",
                    help="lay these faces out anew; the export wrote not-a-number or infinity for them",
                )
            if far := part.far_uv.get(layer):
                yield Finding(
                    check="uvs-missing",
                    level="",
                    message=(
                        f"{count(far.triangles, 'triangle')} in {where} with UVs up to {far.farthest:.4g} tiles away on "
                        f"layer {layer}"
                    ),
                    place=place,
                    measured=rounded(far.farthest),
                    wanted=far.allowed,
                    unit="tiles",
                    help="lay these faces out anew; so far from the tile, stored UVs cannot say where a texel lies",
                )


CHECK = Check(
    name="uvs-missing",
    group="UV layout",
    stage=50,
    needs=frozenset({"files", "meshes", "headers", "islands"}),
    looks_at="whether every face of every mesh that is seen has finite UVs, not absurdly far off, on each wanted layer",
    why="a face without UVs shows one color of the map or nothing",
    put_right="lay these faces out and export with UVs",
    blind_spots="faces that have UVs, but all in one point, are told by other checks",
    limits=(
        Limit("layers", "integer", 1, "UV layers", "UV layers that every mesh needs, counted from 0", low=0, high=8),
    ),
    scope=PART_SCOPE,
    run=run,
)
