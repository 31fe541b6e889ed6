"""World positions of nodes against matrices multiplied out by NumPy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.model.mesh import MeshFile, Node
from tidegate.model.node_places import is_still, node_places


def file_of(*nodes: Node) -> MeshFile:
    return MeshFile("crate.glb", "glb", (), nodes=nodes)


def test_a_child_turns_and_grows_with_its_parent() -> None:
    half = math.sqrt(0.5)
    # A quarter turn about y takes +x to -z; scaled by 2, one metre along x ends 2 m behind the parent.
    parent = Node("boom", -1, "", translation=(0, 3, 0), rotation=(0, half, 0, half), scale=(2, 2, 2))
    child = Node("hook", 0, "", translation=(1, 0, 0))
    places = node_places(file_of(parent, child))
    assert places[0] == (0, 3, 0)
    assert places[1] == pytest.approx((0, 3, -2), abs=1e-12)


def test_a_child_may_stand_before_its_parent_in_the_file() -> None:
    places = node_places(
        file_of(Node("hook", 1, "", translation=(1, 0, 0)), Node("boom", -1, "", translation=(0, 1, 0)))
    )
    assert places == ((1, 1, 0), (0, 1, 0))


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_random_chains_agree_with_matrices(seed: int) -> None:
    rng = np.random.default_rng(seed)
    nodes, world, expected = [], [np.eye(4)], []
    for number in range(6):
        q = rng.normal(size=4)
        x, y, z, w = q / np.linalg.norm(q)
        scale, place = rng.uniform(-2, 2, 3), rng.uniform(-5, 5, 3)
        # Rotation by q v q*, written as quaternion products on the three axes.
        turn = np.stack([rotated((x, y, z, w), axis) for axis in np.eye(3)], axis=1)
        local = np.eye(4)
        local[:3, :3], local[:3, 3] = turn * scale, place
        world.append(world[-1] @ local)
        expected.append(world[-1][:3, 3])
        nodes.append(Node(str(number), number - 1, "", tuple(place), (x, y, z, w), tuple(scale)))
    assert np.allclose(node_places(file_of(*nodes)), expected, atol=1e-9)


def rotated(q: tuple[float, float, float, float], v: np.ndarray) -> np.ndarray:
    u, w = np.array(q[:3]), q[3]
    return v + 2.0 * np.cross(u, np.cross(u, v) + w * v)


def test_what_counts_as_still() -> None:
    assert is_still(Node("a", -1, "")) == (True, True, True)
    assert is_still(Node("a", -1, "", rotation=(0, 0, 0, -1))) == (True, True, True)  # the same turn
    assert is_still(Node("a", -1, "", (1e-5, 0, 0), (0, 1, 0, 0), (1, 1, 1.00001))) == (False, False, False)
