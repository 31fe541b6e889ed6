from __future__ import annotations

from collections.abc import Iterator

from tests.support.laid_props import laid, sheet
from tests.support.mesh_props import SETTINGS
from tidegate.measure.islands import measure_islands
from tidegate.measure.pictures import pictures_of
from tidegate.measure.strangers import MOST, Strangers
from tidegate.model.prop import Prop


def test_props_beyond_the_layouts_that_are_tried_are_not_even_asked_for() -> None:
    """One picture a prop: the prop's own counts, so MOST - 1 others are tried; a drop may hold hundreds."""
    own = laid(sheet(100, 100, 300, 300))
    asked = []

    def others() -> Iterator[tuple[str, Prop]]:
        for number in range(MOST + 6):
            asked.append(number)
            yield f"prop {number}", laid(sheet(100, 100, 300, 300 + 20 * number))

    parts, columns, layouts = measure_islands(own, SETTINGS, upright=False)
    strangers = Strangers(columns, pictures_of(parts, columns, layouts), layouts, others, SETTINGS)
    assert sorted(strangers.bands((0,), (1024, 1024))) == sorted(f"prop {number}" for number in range(MOST - 1))
    assert asked == list(range(MOST - 1))
