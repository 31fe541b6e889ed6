"""Causes that lie in the faces of a mesh, and what follows from them: told of the same triangles and islands, or not at all."""

from __future__ import annotations

from tidegate.judge.told_of import ToldOf
from tidegate.model.finding import Finding
from tidegate.model.wording import count, numbered

HALF_TURN = 170.0  # degrees, within the tolerance of most rules

# cause -> consequences, as in `causes.EXPLAINS`
OF_FACES: dict[str, tuple[str, ...]] = {
    "negative-scale": ("mirrored-islands", "tilted-islands", "leftover-transform"),
    "inside-out-surface": ("mirrored-islands", "tilted-islands", "normals-facing-away"),
    "turned-faces": ("mirrored-islands", "tilted-islands", "folded-triangles", "normals-facing-away"),
    "doubled-triangles": ("crowded-edges", "overlapping-islands"),
    "back-to-back-triangles": (
        "crowded-edges",
        "overlapping-islands",
        "mirrored-islands",
        "folded-triangles",
        "normals-facing-away",
    ),
}


def follows(told: ToldOf, cause: Finding, other: Finding) -> bool:
    """Whether a finding follows from the faces that the cause was told of."""
    if other.check == "leftover-transform":
        return _same_nodes(cause, other)
    if other.check == "crowded-edges":
        return (cause.place.file, cause.place.role) == (other.place.file, other.place.role)
    if other.check == "overlapping-islands" and not other.each_alone:
        # Islands of nothing but copies or backs, and of what those lie on: one of two goes with the faces.
        return told.whole_islands(cause, other.place.islands)
    if other.check == "tilted-islands" and _upside_down(other):
        return told.whole_islands(cause, other.place.islands)
    if other.place.islands:
        return _could(other) and told.islands(cause).issuperset(other.place.islands)
    return told.all_faces(cause, other)


def with_partial_cause(told: ToldOf, causes: list[Finding], other: Finding) -> str:
    """The help of a finding that no cause explains, with the islands that one does explain put first; else as it is."""
    for cause in causes:
        if other.check in OF_FACES.get(cause.check, ()) and _could(other):
            some = sorted(told.islands(cause).intersection(other.place.islands))
            if some:
                islands = f"{count(len(some), 'island')} ({numbered(some)})"
                return f"first mend {cause.check}, from which {islands} may follow; the others: {other.help}"
    return other.help


def _upside_down(tilted: Finding) -> bool:
    """A top whose faces are turned reads as an underside, which lies the other way up in the tile."""
    return tilted.cause != "mirrored-islands" and isinstance(tilted.measured, float) and tilted.measured >= HALF_TURN


def _could(other: Finding) -> bool:
    """Whether faces can be what is behind it: islands that overlap one another lie so whatever their faces, and an island
    is turned by its faces only where it is mirrored by them."""
    if other.check == "overlapping-islands":
        return other.each_alone
    return other.check != "tilted-islands" or other.cause == "mirrored-islands"


def _same_nodes(cause: Finding, other: Finding) -> bool:
    a, b = cause.place, other.place
    return (a.file, a.node, a.mesh, cause.measured) == (b.file, b.node, b.mesh, other.measured)
