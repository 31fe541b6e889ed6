"""The node tree of a glTF file: who places what, where (glTF 2.0 section 3.5)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tidegate.errors import UnreadableFile
from tidegate.model.mesh import Node

from . import matrices
from .gltf_document import GltfDocument
from .gltf_values import Json, extension, index, indices, mapping, numbers, text, wrong
from .matrices import Matrix

_AFFINE_SLACK = 1e-6  # what rounding may leave in the last row of a matrix
_SHEAR_SLACK = 1e-4  # cosine between two axes of a matrix; exporters store float32
_UNIT_SLACK = 1e-3  # how far a quaternion's length may be from 1 before it is worth a note
_INSTANCING = "EXT_mesh_gpu_instancing"


@dataclass(frozen=True, slots=True, eq=False)
class NodeTree:
    """nodes: one record a node of the file, in file order. world: their matrices. placed: numbers of the nodes that
    the scene shows, in the order of a walk through it."""

    nodes: tuple[Node, ...]
    world: tuple[Matrix, ...]
    placed: tuple[int, ...]


def read_nodes(document: GltfDocument, mesh_names: tuple[str, ...]) -> NodeTree:
    """Raises UnreadableFile for a node with two parents, a cycle, or values that are no transform."""
    children = [indices(node, "children", f"nodes[{i}]", len(document.nodes)) for i, node in enumerate(document.nodes)]
    parents = _parents(children)
    order = _parents_first(children, parents)
    joints = _joints(document)
    local = [_Local(document, node, f"nodes[{i}]") for i, node in enumerate(document.nodes)]
    world: list[Matrix] = [matrices.IDENTITY] * len(local)
    for number in order:
        parent, own = parents[number], local[number].matrix
        world[number] = own if parent < 0 else matrices.product(world[parent], own)
    nodes = []
    for i, node in enumerate(document.nodes):
        mesh = index(node, "mesh", f"nodes[{i}]", len(document.meshes), default=-1)
        nodes.append(
            Node(
                name=text(node, "name", f"nodes[{i}]"),
                parent=parents[i],
                mesh=mesh_names[mesh] if mesh >= 0 else "",
                translation=local[i].translation,
                rotation=local[i].rotation,
                scale=local[i].scale,
                world_determinant=matrices.determinant(world[i]),
                holds=_held(node, mesh, i in joints),
                sheared=local[i].sheared,
            )
        )
    placed = _placed(document, children, parents, order)
    return NodeTree(tuple(nodes), tuple(world), placed)


def _parents(children: list[list[int]]) -> list[int]:
    parents = [-1] * len(children)
    for parent, below in enumerate(children):
        for child in below:
            if parents[child] >= 0:
                raise UnreadableFile(
                    f"nodes[{child}] has two parents",
                    expected="a tree: every node at one place",
                    came=f"nodes[{parents[child]}] and nodes[{parent}] both name it",
                    help="export the mesh again",
                )
            parents[child] = parent
    return parents


def _parents_first(children: list[list[int]], parents: list[int]) -> list[int]:
    """Every node after its parent. What cannot be reached from a root is in or below a cycle."""
    order = [i for i, parent in enumerate(parents) if parent < 0]
    for number in order:  # the list grows while it is walked
        order += children[number]
    if len(order) < len(children):
        first = min(set(range(len(children))) - set(order))
        raise UnreadableFile(
            f"nodes[{first}] is its own ancestor, or below a node that is",
            expected="a tree of nodes",
            came=f"{len(children) - len(order):,} nodes in or below a cycle",
            help="export the mesh again",
        )
    return order


def _placed(document: GltfDocument, children: list[list[int]], parents: list[int], order: list[int]) -> tuple[int, ...]:
    roots = [i for i, parent in enumerate(parents) if parent < 0]
    if document.scenes:
        scene = index(document.json, "scene", "the file", len(document.scenes), default=0)
        roots = indices(document.scenes[scene], "nodes", f"scenes[{scene}]", len(children))
        if len(document.scenes) > 1:
            document.note(
                "several-scenes",
                "warning",
                f"the file holds {len(document.scenes)} scenes; scenes[{scene}] was read",
                help="export one prop in one scene",
            )
    listed = dict.fromkeys(roots)
    if len(listed) < len(roots):
        document.note("node-listed-twice", "warning", "the scene lists a node twice; it was placed once")
    below: set[int] = set()  # nodes with a listed one above them
    for number in order:
        if parents[number] in listed or parents[number] in below:
            below.add(number)
    inner = [number for number in listed if number in below]
    if inner:
        document.note(
            "scene-lists-child",
            "warning",
            "the scene lists a node that another node of it already holds; it was placed once, by its parent",
            place=f"nodes[{inner[0]}]",
        )
    stack = [number for number in reversed(listed) if number not in below]
    walk = []
    while stack:
        number = stack.pop()
        walk.append(number)
        stack += reversed(children[number])
    if any(parents[number] >= 0 for number in listed if number not in below):
        document.note("scene-lists-child", "warning", "the scene lists a node whose parent it does not show")
    return tuple(walk)


def _joints(document: GltfDocument) -> set[int]:
    skins = document.json.get("skins")
    joints: set[int] = set()
    for i, skin in enumerate(skins if isinstance(skins, list) else ()):
        if isinstance(skin, dict):
            joints.update(indices(skin, "joints", f"skins[{i}]", len(document.nodes)))
    return joints


def _held(node: Json, mesh: int, is_joint: bool) -> str:
    if mesh >= 0:
        return "mesh"
    if "camera" in node:
        return "camera"
    if "KHR_lights_punctual" in mapping(node, "extensions", "node"):
        return "light"
    return "skin" if is_joint else ""


class _Local:
    """A node's own transform, as matrix and as translation, rotation and scale."""

    __slots__ = ("matrix", "rotation", "scale", "sheared", "translation")

    def __init__(self, document: GltfDocument, node: Json, where: str) -> None:
        if extension(node, _INSTANCING, where) is not None:
            document.note(
                "instancing",
                "warning",
                f"{_INSTANCING} is not read: the mesh is measured once, at its node",
                place=where,
            )
        self.sheared = False
        if "matrix" in node:
            if any(key in node for key in ("translation", "rotation", "scale")):
                document.note(
                    "two-transforms", "warning", "a node states a matrix and parts; the matrix counts", place=where
                )
            stated = numbers(node, "matrix", where, (0.0,) * 16)
            self.matrix = matrices.from_columns(stated)
            last = self.matrix[3]
            if max(abs(last[0]), abs(last[1]), abs(last[2]), abs(last[3] - 1.0)) > _AFFINE_SLACK:
                raise wrong(
                    f"{where}.matrix", "is no transform of space", expected="a last row of 0 0 0 1", came=str(last)
                )
            self._take_apart()
            if self.sheared:
                document.note(
                    "sheared-node",
                    "warning",
                    "a node's matrix shears, which no translation, rotation and scale can give",
                    place=where,
                    help="apply the transform to the mesh before export",
                )
        else:
            t = numbers(node, "translation", where, (0.0, 0.0, 0.0))
            r = numbers(node, "rotation", where, (0.0, 0.0, 0.0, 1.0))
            s = numbers(node, "scale", where, (1.0, 1.0, 1.0))
            self.translation, self.scale = (t[0], t[1], t[2]), (s[0], s[1], s[2])
            self.rotation = _unit(document, (r[0], r[1], r[2], r[3]), where)
            self.matrix = matrices.from_parts(self.translation, self.rotation, self.scale)
        if not all(math.isfinite(value) for row in self.matrix for value in row):
            raise wrong(where, "has a transform that is not finite")

    def _take_apart(self) -> None:
        m = self.matrix
        axes = [(m[0][i], m[1][i], m[2][i]) for i in range(3)]
        lengths = [math.sqrt(x * x + y * y + z * z) for x, y, z in axes]
        if matrices.determinant(m) < 0:
            lengths[0] = -lengths[0]
        self.translation = (m[0][3], m[1][3], m[2][3])
        self.scale = (lengths[0], lengths[1], lengths[2])
        if 0.0 in lengths:
            self.rotation = (0.0, 0.0, 0.0, 1.0)
            return
        units = [(x / n, y / n, z / n) for (x, y, z), n in zip(axes, lengths, strict=True)]
        for a, b in ((0, 1), (0, 2), (1, 2)):
            cosine = sum(p * q for p, q in zip(units[a], units[b], strict=True))
            self.sheared = self.sheared or abs(cosine) > _SHEAR_SLACK
        self.rotation = _quaternion(units)


def _unit(
    document: GltfDocument, rotation: tuple[float, float, float, float], where: str
) -> tuple[float, float, float, float]:
    x, y, z, w = rotation
    length = math.sqrt(x * x + y * y + z * z + w * w)
    if abs(length - 1.0) <= _UNIT_SLACK:
        return rotation  # as stored: rounding is not ours to mend
    document.note("rotation-not-unit", "warning", "a rotation is no unit quaternion; it was made one", place=where)
    if not length or not math.isfinite(length):
        return 0.0, 0.0, 0.0, 1.0
    return x / length, y / length, z / length, w / length


def _quaternion(axes: list[tuple[float, float, float]]) -> tuple[float, float, float, float]:
    """Of a rotation given by its three columns. The largest component first, so nothing is divided by nearly zero."""
    (a, d, g), (b, e, h), (c, f, i) = axes
    fours = (1 + a - e - i, 1 - a + e - i, 1 - a - e + i, 1 + a + e + i)
    largest = max(range(4), key=fours.__getitem__)
    half = math.sqrt(max(fours[largest], 0.0)) / 2
    if not half:
        return 0.0, 0.0, 0.0, 1.0
    q = 4 * half
    if largest == 0:
        return half, (b + d) / q, (c + g) / q, (h - f) / q
    if largest == 1:
        return (b + d) / q, half, (f + h) / q, (c - g) / q
    if largest == 2:
        return (c + g) / q, (f + h) / q, half, (d - b) / q
    return (h - f) / q, (c - g) / q, (d - b) / q, half
