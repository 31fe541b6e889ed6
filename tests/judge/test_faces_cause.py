"""What lies in the faces of a mesh explains what its islands show, and nothing else: a laid-out cube, spoilt in one way each."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.geometry.shapes import box
from tests.support.laid_props import painted
from tests.support.mesh_props import facts_of, part
from tidegate import checks
from tidegate.judge.causes import EXPLAINS
from tidegate.judge.faces_cause import follows
from tidegate.judge.judge import judge, needs_of
from tidegate.judge.told_of import ToldOf
from tidegate.model.check import Scope
from tidegate.model.finding import Finding, Place, Shown
from tidegate.model.limit_value import accepted
from tidegate.model.mesh import MeshPart, UvLayer
from tidegate.model.prop import Prop
from tidegate.model.rule_set import Rule, RuleSet

LEVELS = {
    "inside-out-surface": "warning",
    "turned-faces": "warning",
    "negative-scale": "warning",
    "doubled-triangles": "warning",
    "back-to-back-triangles": "note",
    "leftover-transform": "note",
    "mirrored-islands": "error",
    "overlapping-islands": "error",
    "folded-triangles": "warning",
    "normals-facing-away": "note",
}
POINTS, FACES = box()
NORMALS = np.array([[0, 0, -1], [0, 0, 1], [0, -1, 0], [0, 1, 0], [-1, 0, 0], [1, 0, 0]], float)  # of the six sides


def cube(
    *turned: int, copied: tuple[int, ...] = (), backed: tuple[int, ...] = (), mirrored: tuple[int, ...] = ()
) -> MeshPart:
    """A cube of six islands, one a side. turned: sides whose faces show their back. copied: sides modelled twice; backed: with
    a second sheet that faces the other way. mirrored: sides laid out as in a mirror."""
    square = np.array([[0.0, 0.0], [0.2, 0.0], [0.2, 0.2], [0.0, 0.2]])
    uv, sides = [], []
    for side in range(6):
        own = square[:, ::-1] if side in mirrored else square
        uv.append(own + np.array([0.05 + 0.3 * (side % 3), 0.05 + 0.4 * (side // 3)]))
        a, b = FACES[2 * side], FACES[2 * side + 1]
        place, spot = np.array([a, b]), np.array([[0, 1, 2], [0, 2, 3]]) + 4 * side
        if side in turned:
            place, spot = place[:, ::-1], spot[:, ::-1]
        sides.append((place, spot, side))
    sides += [sides[side] for side in copied]
    sides += [(sides[side][0][:, ::-1], sides[side][1][:, ::-1], side) for side in backed]
    faces = np.concatenate([place for place, _, _ in sides]).astype(np.int32)
    spots = np.concatenate([spot for _, spot, _ in sides]).astype(np.int32)
    made = part(POINTS, faces, material=0, uv_layers=(UvLayer(0, "TEXCOORD_0", np.concatenate(uv), spots),))
    of_side = np.repeat([[side] * 3 for _, _, side in sides], 2, axis=0)
    return replace(made, normals=NORMALS, normal_triangles=of_side.astype(np.int32))


def told(thing: Prop | MeshPart) -> list[Finding]:
    rules = []
    for name, level in LEVELS.items():
        limits = {limit.name: accepted(limit, limit.default) for limit in checks.get(name).limits}
        rules.append(Rule(name, level, limits))
    rule_set = RuleSet("s", "s", tuple(rules), "0" * 64)
    facts = facts_of(thing if isinstance(thing, Prop) else painted(thing), *needs_of(rule_set, checks.get))
    return list(judge(facts, rule_set, checks.get)[1])


def short(thing: Prop | MeshPart) -> list[tuple[str, str, str, Any]]:
    return [(one.level, one.check, one.cause, one.measured) for one in told(thing)]


def test_a_sound_cube() -> None:
    assert short(cube()) == []


def test_inside_out_explains_every_island() -> None:
    # The faces are turned and the normals are not: all 12 triangles lean away, all 6 islands are mirrored.
    found = told(cube(0, 1, 2, 3, 4, 5))
    assert [(one.level, one.check, one.cause, one.measured) for one in found] == [
        ("error", "inside-out-surface", "", 1),
        ("error", "mirrored-islands", "inside-out-surface", 6),
        ("note", "normals-facing-away", "inside-out-surface", 1.0),
    ]
    assert found[0].help.startswith("turn the faces of these parts round")
    assert found[1].help == "mend inside-out-surface first: this should go with it"


def test_turned_faces_explain_their_own_island() -> None:
    found = told(cube(3))  # 4 edges around the side
    assert [(one.level, one.check, one.cause, one.measured) for one in found] == [
        ("error", "turned-faces", "", 4),
        ("error", "mirrored-islands", "turned-faces", 1),
        ("note", "normals-facing-away", "turned-faces", pytest.approx(2 / 12, abs=1e-6)),
    ]
    assert found[1].place.islands == (2,)  # islands are numbered by their place in the tile: sides 0 3 1 4 2 5


def test_a_mirrored_island_beside_is_not_explained_and_the_help_tells_them_apart() -> None:
    found = told(cube(3, mirrored=(0,)))
    assert [(one.level, one.check, one.cause) for one in found] == [
        ("error", "mirrored-islands", ""),
        ("warning", "turned-faces", ""),
        ("note", "normals-facing-away", "turned-faces"),
    ]
    assert found[0].place.islands == (1, 2)
    assert found[0].help.startswith(
        "first mend turned-faces, from which 1 island (number 2) may follow; the others: flip"
    )


def test_a_mirrored_island_alone_has_no_cause() -> None:
    (one,) = told(cube(mirrored=(2,)))
    assert (one.level, one.check, one.cause) == ("error", "mirrored-islands", "")
    assert one.help.startswith("flip these islands")


def test_half_of_a_cube_turned_is_the_half_that_looks_inwards() -> None:
    # Sides 0, 2 and 4 meet in one corner: three sides against three, of one size.
    found = told(cube(0, 2, 4))
    assert [(one.check, one.cause) for one in found] == [
        ("turned-faces", ""),
        ("mirrored-islands", "turned-faces"),
        ("normals-facing-away", "turned-faces"),
    ]
    assert found[1].place.islands == (1, 4, 5)


def test_copies_explain_islands_that_overlap_themselves() -> None:
    assert [row[:3] for row in short(cube(copied=(1, 4)))] == [
        ("error", "doubled-triangles", ""),
        ("error", "overlapping-islands", "doubled-triangles"),
    ]


def test_many_copies_are_still_one_consequence() -> None:
    # Six islands overlap themselves, and six more of a second cube on a part of the tile of its own: more than are told
    # one by one.
    first = cube(copied=(0, 1, 2, 3, 4, 5))
    away = [replace(layer, uv=layer.uv * [1.0, 0.3] + [0.0, 0.7]) for layer in first.uv_layers]
    second = replace(first, node="lid", mesh="lid", positions=first.positions + 5.0, uv_layers=tuple(away))
    found = told(painted(first, second))
    assert [(one.check, one.cause) for one in found if one.check in ("doubled-triangles", "overlapping-islands")] == [
        ("doubled-triangles", ""),
        ("overlapping-islands", "doubled-triangles"),
    ]


def test_islands_that_overlap_one_another_are_no_work_of_copies() -> None:
    thing = cube(copied=(0,))
    (layer,) = thing.uv_layers
    moved = layer.uv.copy()
    moved[4:8] += np.array([-0.2, 0.0])  # side 1 comes to lie over half of side 0
    found = short(replace(thing, uv_layers=(replace(layer, uv=moved),)))
    assert [row[:3] for row in found] == [
        ("error", "overlapping-islands", ""),
        ("warning", "doubled-triangles", ""),
    ]


def test_copies_laid_out_beside_their_originals_explain_what_they_overlap() -> None:
    # The copy of side 0 lies half a side to the right of it: 0.1 x 0.2 of the tile is shared, and goes when the copy goes.
    thing = cube(copied=(0,))
    (layer,) = thing.uv_layers
    uv = np.concatenate([layer.uv, layer.uv[:4] + np.array([0.1, 0.0])])
    faces = layer.triangles.copy()
    faces[12:] += 24
    apart = replace(thing, uv_layers=(replace(layer, uv=uv, triangles=faces),))
    assert [row[:3] for row in short(apart)] == [
        ("error", "doubled-triangles", ""),
        ("error", "overlapping-islands", "doubled-triangles"),
    ]
    assert told(apart)[1].place.islands == (1, 3)  # side 3 lies above side 0, between the two


def test_backs_explain_their_islands_and_normals() -> None:
    # The back lies mirrored and exactly on its front: islands of its own, and no fold in the front's.
    assert [row[:3] for row in short(cube(backed=(2,)))] == [
        ("error", "back-to-back-triangles", ""),
        ("error", "mirrored-islands", "back-to-back-triangles"),
        ("error", "overlapping-islands", "back-to-back-triangles"),
        ("note", "normals-facing-away", "back-to-back-triangles"),
    ]


def test_a_mirrored_node_explains_the_islands_of_its_own_mesh_only() -> None:
    # The reader turns the faces of a mesh that its node mirrors, so the islands read as mirrored.
    def crate(*, node: int, lid: tuple[int, ...]) -> Prop:
        below = replace(cube(mirrored=lid), node="lid", mesh="lid", positions=POINTS + 5.0)
        away = tuple(replace(layer, uv=layer.uv * [1.0, 0.3] + [0.0, 0.7]) for layer in below.uv_layers)
        thing = painted(cube(mirrored=(0, 1, 2, 3, 4, 5)), replace(below, uv_layers=away))
        (mesh,) = thing.meshes
        nodes = list(mesh.nodes)
        nodes[node] = replace(nodes[node], scale=(-1.0, 1.0, 1.0), world_determinant=-1.0)
        return replace(thing, meshes=(replace(mesh, nodes=tuple(nodes)),))

    assert short(crate(node=0, lid=())) == [
        ("error", "negative-scale", "", 1),
        ("error", "mirrored-islands", "negative-scale", 6),
        ("note", "leftover-transform", "negative-scale", 1),
    ]
    for other in (crate(node=1, lid=()), crate(node=0, lid=(2,))):  # the wrong node; an island of another mesh as well
        assert ("error", "mirrored-islands", "") in [row[:3] for row in short(other)]


def test_no_cause_leads_back_to_itself() -> None:
    def reached(name: str, path: tuple[str, ...]) -> None:
        assert name not in path, f"{' -> '.join(path)} -> {name}"
        for other in EXPLAINS.get(name, ()):
            reached(other, (*path, name))

    for name in EXPLAINS:
        assert name in checks.names()
        reached(name, ())


def test_tops_of_a_part_turned_inside_out_read_as_undersides() -> None:
    # As after mirroring a copy without turning its faces: the layout is not mirrored, and the two flat-lying sides, 2 and 3,
    # stand on their heads, since a top laid out as an underside does.
    thing = cube(0, 1, 2, 3, 4, 5, mirrored=(0, 1, 2, 3, 4, 5))
    tilted = Finding("tilted-islands", "error", "m", Place(islands=(1,)), measured=180.0)
    facts = facts_of(painted(thing), "files", "islands", "topology")
    (cause,) = checks.get("inside-out-surface").run(facts, {"smallest_m": 0.0}, Scope())
    assert follows(ToldOf(facts), cause, tilted)
    assert not follows(ToldOf(facts), cause, replace(tilted, measured=169.0))
    assert not follows(ToldOf(facts), replace(cause, shown=Shown(faces=cause.shown.faces[:0])), tilted)


def test_one_turned_triangle_of_an_island_reads_as_a_fold() -> None:
    thing = cube()
    places, (layer,) = thing.triangles.copy(), thing.uv_layers
    spots = layer.triangles.copy()
    places[4], spots[4] = places[4, ::-1], spots[4, ::-1]
    turned = replace(thing, triangles=places, uv_layers=(replace(layer, triangles=spots),))
    assert [row[:3] for row in short(turned)] == [
        ("warning", "turned-faces", ""),
        ("warning", "folded-triangles", "turned-faces"),
        ("note", "normals-facing-away", "turned-faces"),
    ]
