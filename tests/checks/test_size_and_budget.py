"""Triangles and real size against the order row first and the rule's limits otherwise, both sides of each."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.support.mesh_props import box_part, findings, mesh_file, part, prop
from tidegate.model.amounts import figures
from tidegate.model.check import Scope
from tidegate.model.mesh import MeshPart
from tidegate.model.order_row import OrderRow

CUBE = box_part()  # 12 triangles, a metre a side


def box_of(wide: float, high: float, deep: float) -> MeshPart:
    cube = box_part()
    return replace(cube, positions=cube.positions * [wide, high, deep])


@pytest.mark.parametrize(("most", "told"), [(11, True), (12, False)])
def test_both_sides_of_the_triangles(most: int, told: bool) -> None:
    found = findings("triangles-over-budget", CUBE, most=most)
    assert bool(found) is told
    if told:
        assert (found[0].measured, found[0].wanted, found[0].place.role) == (12, 11, "model")
        assert "allowed are 11" in found[0].message and "take out 1 triangle" in found[0].help


@pytest.mark.parametrize(("ordered", "told"), [(11, True), (12, False)])
@pytest.mark.parametrize("most", [1, 100, None])
def test_the_ordered_triangles_stand_before_the_limit(ordered: int, told: bool, most: int | None) -> None:
    row = OrderRow("crate", triangles=(("model", ordered),))
    found = findings("triangles-over-budget", CUBE, order=row, most=most)
    assert bool(found) is told
    assert not told or "ordered are 11" in found[0].message


def test_each_role_has_its_own_budget_and_parts_of_one_role_are_added_up() -> None:
    level = box_part(mesh="hull_lod1", role="lod1")
    whole = mesh_file(CUBE, box_part(mesh="lid", role="model"), level)
    row = OrderRow("crate", triangles=(("lod1", 12), ("model", 23)))
    (found,) = findings("triangles-over-budget", whole, order=row)
    assert (found.place.role, found.measured) == ("model", 24)
    assert len(findings("triangles-over-budget", whole, most=12)) == 1
    assert findings("triangles-over-budget", whole, most=12, scope=Scope(role=("lod1",))) == []
    assert findings("triangles-over-budget", whole) == []


@pytest.mark.parametrize(
    ("longest", "told"), [(0.0999, True), (0.1, False), (6.0, False), (6.001, True), (180.0, True)]
)
def test_both_sides_of_a_believable_size(longest: float, told: bool) -> None:
    found = findings("unlikely-size", box_of(longest, longest / 2, longest / 4), smallest_m=0.1, largest_m=6.0)
    assert bool(found) is told
    assert not told or found[0].measured == pytest.approx(longest)


def test_the_unit_that_was_meant_is_suspected() -> None:
    # A bench 1.8 m long, written in centimetres and read as metres.
    (found,) = findings("unlikely-size", box_of(180, 45, 40), smallest_m=0.1, largest_m=6.0)
    assert "180 m x 45 m x 40 m" in found.message and "read as centimetres it would be 1.8 m" in found.message
    # A crate 70 cm long whose numbers are metres, in a file that is read as centimetres.
    (found,) = findings("unlikely-size", box_of(0.007, 0.005, 0.004), smallest_m=0.1, largest_m=6.0)
    assert found.message.endswith("; if its numbers were metres, exported as centimetres, it is 70 cm")


@pytest.mark.parametrize(("longest", "told"), [(0.3999, True), (0.4001, False), (9.999, False), (10.001, True)])
def test_an_ordered_size_stands_before_what_is_believable(longest: float, told: bool) -> None:
    # Ordered is a height of 2 m; a fifth of it and five times as much are still believed.
    row = OrderRow("crate", size_m=(1.0, 2.0, 0.5))
    thing = box_of(longest, 0.3, 0.3)
    assert bool(findings("unlikely-size", thing, order=row)) is told
    assert bool(findings("unlikely-size", thing, order=row, smallest_m=50.0, largest_m=60.0)) is told


def test_a_size_beyond_all_sense_is_written_short() -> None:
    (found,) = findings("unlikely-size", box_of(3.4e38, 1.0, 0.0), smallest_m=0.1, largest_m=6.0)
    assert found.message == "the prop measures 3.4e38 m x 1 m x 0 m; believable are 10 cm to 6 m"
    assert figures(found.measured, found.wanted, found.unit) == "measured 3.4e38 m, wanted 0.1 to 6 m"


def test_a_prop_without_size_has_no_unlikely_one() -> None:
    assert findings("unlikely-size", part([[0, 0, 0]] * 3, [[0, 1, 2]])) == []


@pytest.mark.parametrize(
    ("size", "told"),
    [
        ((1.0, 2.0, 0.5), []),
        ((1.0499, 2.0, 0.5), []),
        ((1.0501, 2.0, 0.5), ["width"]),
        ((0.9501, 2.0, 0.5), []),
        ((0.9499, 2.0, 0.5), ["width"]),
        ((1.0, 2.11, 0.47), ["height", "depth"]),
    ],
)
def test_both_sides_of_each_ordered_side(size: tuple[float, float, float], told: list[str]) -> None:
    found = findings("size-off-order", box_of(*size), order=OrderRow("crate", size_m=(1.0, 2.0, 0.5)), tolerance=0.05)
    assert [one.message.split()[0] for one in found] == told
    assert all(one.exact for one in found)


def test_without_a_row_or_a_size_in_it_nothing_is_off() -> None:
    assert findings("size-off-order", CUBE) == findings("size-off-order", CUBE, order=OrderRow("crate")) == []


def test_only_the_model_is_as_large_as_ordered() -> None:
    hull = box_part(4.0, mesh="hull_collision", role="collision")
    both = prop(mesh_file(CUBE, hull))
    assert findings("size-off-order", both, order=OrderRow("crate", size_m=(1.0, 1.0, 1.0))) == []
