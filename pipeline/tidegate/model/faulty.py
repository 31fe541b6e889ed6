"""Faults of many meshes drawn together: one finding a mesh file and role, however many meshes show the fault."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from tidegate.model.check import Scope
from tidegate.model.finding import Place
from tidegate.model.selection import COLLISION
from tidegate.model.wording import count

if TYPE_CHECKING:
    from tidegate.model.facts import Facts, PartFacts

BODY_SCOPE = frozenset({"role", "mesh", "node"})


class Faulty(NamedTuple):
    """total: faults in all. place: the mesh, or of several the file, with the point to look at first. where: the meshes in
    words, for a sentence."""

    total: int
    place: Place
    where: str


def bodies_in(facts: Facts, scope: Scope, *, collision: bool = False) -> Iterator[Any]:
    """Every body the scope takes. Collision meshes only where asked for or named by the scope."""
    for body in facts.topology:
        if body.role == COLLISION and not collision and not scope.names_role():
            continue
        if scope.takes(role=body.role, mesh=body.mesh, node=body.node):
            yield body


def named(thing: Any) -> str:
    """How a sentence names a mesh: by its own name, its node's or its file's."""
    return f"mesh `{thing.mesh or thing.node or thing.file}`"


def place_of(thing: Any, point: tuple[float, float, float] | None = None) -> Place:
    """The place of a body or part."""
    return Place(
        file=thing.file,
        role=thing.role,
        node=thing.node,
        mesh=thing.mesh,
        material=getattr(thing, "material", ""),
        point=point,
    )


def faulty(things: Iterable[tuple[Any, Any]]) -> Iterator[Faulty]:
    """things: bodies or parts, each with its spots (total, point). Those without a fault are left out."""
    groups: dict[tuple[str, str], list[tuple[Any, Any]]] = {}
    for thing, spots in things:
        if spots.total:
            groups.setdefault((thing.file, thing.role), []).append((thing, spots))
    for (file, role), members in sorted(groups.items(), key=lambda group: group[0]):
        total = sum(spots.total for _, spots in members)
        worst, spots = max(members, key=lambda member: member[1].total)  # the first of equals
        names = {(one.node, one.mesh) for one, _ in members}
        if len(names) == 1:
            yield Faulty(total, place_of(worst, spots.point), named(worst))
        else:
            where = f"{count(len(names), 'mesh', 'meshes')}, most of them in {named(worst)}"
            yield Faulty(total, Place(file=file, role=role, node=worst.node, mesh=worst.mesh, point=spots.point), where)


def faulty_bodies(
    facts: Facts, scope: Scope, spots: Callable[[Any], Any], *, collision: bool = False
) -> Iterator[Faulty]:
    """spots: of a body, the ones that are faults."""
    return faulty((body, spots(body)) for body in bodies_in(facts, scope, collision=collision))


def faces_of(facts: Facts, scope: Scope, fault: str, place: Place) -> tuple[tuple[int, int, int], ...]:
    """Runs of triangles (part, first, stop) that show a fault, in all bodies of the place's file and role.

    fault: "doubled", "back_to_back" or "turned".
    """
    bodies = [body for body in bodies_in(facts, scope) if (body.file, body.role) == (place.file, place.role)]
    return tuple(run for body in bodies for run in body.faces_of(fault))


def faulty_parts(facts: Facts, parts: Iterable[tuple[int, PartFacts]], spots: Callable[[Any], Any]) -> Iterator[Faulty]:
    """spots: of a part's shading, the ones that are faults."""
    return faulty((part, spots(facts.shading[index])) for index, part in parts)
