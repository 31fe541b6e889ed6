"""A map painted for another layout that is at hand: another material's, another prop's, an older version's."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import Sheet, apart, sheet
from tests.support.mesh_props import SETTINGS, mesh_file, part
from tests.support.painted_props import Pictures, header_of, paint, pictures_of, wearing
from tidegate import checks
from tidegate.measure.measure import measure
from tidegate.model.check import Scope
from tidegate.model.finding import Finding
from tidegate.model.limit_value import accepted
from tidegate.model.mesh import Material
from tidegate.model.prop import Binding, Prop, TextureMap

CHECK = "painted-for-another-layout"
OWN = ((100, 100, 400, 400), (600, 200, 900, 700))
OTHER = ((60, 500, 540, 980), (620, 40, 960, 260), (700, 500, 820, 940))


def laid(boxes: Iterable[tuple[int, int, int, int]]) -> tuple[Sheet, ...]:
    return tuple(sheet(*box) for box in boxes)


def told(prop: Prop, pictures: Pictures, *others: tuple[str, Prop]) -> list[Finding]:
    known = checks.get(CHECK)
    facts = measure(prop, known.needs, SETTINGS, None, pictures, lambda: others)
    return list(known.run(facts, {one.name: accepted(one, one.default) for one in known.limits}, Scope()))


def prop_with(image: np.ndarray) -> tuple[Prop, Pictures]:
    return wearing({"base_color": image}, *laid(OWN)), pictures_of({"base_color": image})


STRANGE = paint(OTHER, bleed=6, ground=20)
OTHER_PROP = wearing({"base_color": STRANGE}, *laid(OTHER))


def test_the_map_of_another_prop_is_named() -> None:
    (one,) = told(*prop_with(STRANGE), ("tide_lamp", OTHER_PROP))
    assert (one.certain, one.level, one.place.map) == (True, "warning", "oak_base_color.png")
    assert "100 % of those of tide_lamp: it is painted for another layout" in one.message
    assert one.help.endswith("that of tide_lamp")


def test_without_the_other_layout_at_hand_it_is_only_a_suspicion() -> None:
    (one,) = told(*prop_with(STRANGE))
    assert not one.certain
    assert "may be painted for another layout" in one.message


def test_a_right_map_is_not_held_against_others() -> None:
    prop, pictures = prop_with(paint(OWN, bleed=6, ground=20))

    def never() -> list[tuple[str, Prop]]:
        raise AssertionError("asked for other layouts though the map fits its own")

    known = checks.get(CHECK)
    facts = measure(prop, known.needs, SETTINGS, None, pictures, never)
    assert list(known.run(facts, {one.name: one.default for one in known.limits}, Scope())) == []


def test_props_that_share_a_map_are_left_alone() -> None:
    """Both layouts lie on one map, the other has more of it: this one's islands are painted, so nothing is wrong."""
    boxes = ((20, 20, 200, 200),)
    image = paint((*boxes, (300, 300, 980, 980)), bleed=6, ground=20)
    prop = wearing({"base_color": image}, *laid(boxes))
    other = wearing({"base_color": image}, *laid(((300, 300, 980, 980),)))
    assert told(prop, pictures_of({"base_color": image}), ("tide_lamp", other)) == []


@pytest.mark.parametrize("swapped", [False, True])
def test_maps_of_two_materials_swapped(swapped: bool) -> None:
    first, second = paint(OWN, bleed=6, ground=20), STRANGE
    if swapped:
        first, second = second, first
    files = {"oak": first, "iron": second}
    meshes = []
    for number, boxes in enumerate((OWN, OTHER)):
        whole = apart(*laid(boxes))
        meshes.append(part(whole.points, whole.triangles, uv=whole.uv, material=number, mesh=f"mesh{number}"))
    prop = Prop(
        name="crate",
        meshes=(mesh_file(*meshes, path="a.glb", materials=(Material("oak"), Material("iron"))),),
        maps=tuple(TextureMap(f"{n}_base_color.png", "", header_of(files[n]), ("base_color",)) for n in sorted(files)),
        bindings=tuple(Binding("a.glb", n, "base_color", f"{n}_base_color.png", "name", "rgb") for n in sorted(files)),
    )
    found = told(prop, Pictures({f"{name}_base_color.png": image for name, image in files.items()}))
    assert [one.certain for one in found] == [True, True] * swapped
    assert all("of this prop" in one.message for one in found)


def test_an_older_layout_is_named_as_what_it_is() -> None:
    older = replace(OTHER_PROP, name="crate")
    (one,) = told(*prop_with(STRANGE), ("the version delivered before", older))
    assert "the version delivered before" in one.message and one.certain
