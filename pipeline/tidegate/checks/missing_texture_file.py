"""A texture or buffer that a mesh names and that is not there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.references import is_gone, users_of


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for mesh in facts.prop.meshes:
        for number, reference in enumerate(mesh.references):
            if not is_gone(reference) or reference.kind == "buffer":
                continue
            slots, materials = users_of(mesh, number)
            users = [(m, s) for m, s in zip(materials, slots, strict=True) if scope.takes(material=m, slot=s)]
            if slots and not users:
                continue
            what = "material library" if reference.kind == "material library" else "texture"
            for_whom = f", wanted as {users[0][1]} of material `{users[0][0]}`" if users else ""
            how = "holds no readable bytes" if reference.status == "unreadable" else "is not in the drop"
            yield Finding(
                check="missing-texture-file",
                level="",
                message=f"{mesh.path} names the {what} `{reference.text or reference.name}`, which {how}{for_whom}",
                place=Place(
                    file=mesh.path,
                    material=users[0][0] if users else "",
                    slot=users[0][1] if users else "",
                    map=reference.text,
                ),
                measured="missing",
                wanted="present",
                help="put the file beside the mesh under exactly that name, or export with the name the file has",
            )


CHECK = Check(
    name="missing-texture-file",
    group="files and names",
    stage=20,
    needs=frozenset({"files", "meshes"}),
    looks_at="every texture and material library a mesh file names: whether that file is in the drop or in a library folder",
    why="a texture that was not saved or not sent shows as blank or pink for everyone but the artist",
    put_right="save the map under the name the mesh uses, or export again so that the mesh uses the name of the map",
    blind_spots="a file that is there under the right name may still hold the wrong picture",
    scope=frozenset({"material", "slot"}),
    run=run,
)
