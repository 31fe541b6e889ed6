"""Where the nodes of a mesh file stand: their local transforms multiplied along the tree. Pure numbers, no arrays."""

from __future__ import annotations

from tidegate.model.mesh import MeshFile, Node

Vector = tuple[float, float, float]
Rows = tuple[Vector, Vector, Vector]

_STILL: tuple[Rows, Vector] = (((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), (0.0, 0.0, 0.0))


def node_places(mesh: MeshFile) -> tuple[Vector, ...]:
    """World position in metres of every node's origin, in the order of `mesh.nodes`.

    A sheared matrix cannot be told by translation, rotation and scale; what hangs below such a node is placed as if it
    were not sheared.
    """
    known: dict[int, tuple[Rows, Vector]] = {-1: _STILL}
    for start in range(len(mesh.nodes)):
        chain = []
        number = start
        while number not in known:
            chain.append(number)
            number = mesh.nodes[number].parent
        for child in reversed(chain):
            known[child] = _under(known[mesh.nodes[child].parent], mesh.nodes[child])
    return tuple(known[number][1] for number in range(len(mesh.nodes)))


def is_still(node: Node, slack: float = 1e-6) -> tuple[bool, bool, bool]:
    """Whether its own translation, rotation and scale change nothing, each."""
    x, y, z, _ = node.rotation
    return (
        all(abs(value) <= slack for value in node.translation),
        max(abs(x), abs(y), abs(z)) <= slack,
        all(abs(value - 1.0) <= slack for value in node.scale),
    )


def _under(parent: tuple[Rows, Vector], node: Node) -> tuple[Rows, Vector]:
    rows, place = parent
    own = _turn_and_scale(node)
    a, b, c = (_row(row, own) for row in rows)
    x, y, z = (_dot(row, node.translation) + offset for row, offset in zip(rows, place, strict=True))
    return (a, b, c), (x, y, z)


def _row(row: Vector, own: Rows) -> Vector:
    x, y, z = (sum(row[k] * own[k][axis] for k in range(3)) for axis in range(3))
    return x, y, z


def _dot(a: Vector, b: Vector) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _turn_and_scale(node: Node) -> Rows:
    x, y, z, w = node.rotation
    sx, sy, sz = node.scale
    return (
        ((1 - 2 * (y * y + z * z)) * sx, 2 * (x * y - w * z) * sy, 2 * (x * z + w * y) * sz),
        (2 * (x * y + w * z) * sx, (1 - 2 * (x * x + z * z)) * sy, 2 * (y * z - w * x) * sz),
        (2 * (x * z - w * y) * sx, 2 * (y * z + w * x) * sy, (1 - 2 * (x * x + y * y)) * sz),
    )
