"""What no renumbering, splitting, moving or doubling may change, over the whole chain of a small prop."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.geometry.shapes import Sheet, grid, renumbered, split_apart, together
from tidegate.geometry import areas, stretch, texel_density
from tidegate.geometry.borders import border_sides
from tidegate.geometry.islands import label_islands
from tidegate.geometry.outlines import outlines
from tidegate.geometry.overlap import measure_overlap
from tidegate.geometry.raster import texel_columns
from tidegate.geometry.spacing import island_gaps
from tidegate.geometry.stacks import exact_stacks
from tidegate.geometry.straightness import straight_stretches
from tidegate.geometry.upright import island_upright
from tidegate.geometry.winding import island_winding

FACTS = (
    "triangles",
    "uv_area",
    "surface",
    "u0",
    "v0",
    "u1",
    "v1",
    "sign",
    "folded",
    "density",
    "ratio",
    "l2",
    "degrees",
    "certainty",
    "gap",
    "own",
    "grouped",
    "stacked",
)


def prop() -> Sheet:
    """A turned sheet, a mirrored one, two that overlap, and a stack of two; each standing at a place of its own."""
    c, s = np.cos(0.3), np.sin(0.3)
    sheets = [
        grid(3, 2, (0.05, 0.05), 0.2),
        grid(2, 2, (0.4, 0.05), 0.15),
        grid(4, 4, (0.05, 0.4), 0.2),
        grid(3, 3, (0.15, 0.5), 0.2),
        grid(2, 4, (0.6, 0.6), 0.25),
        grid(2, 4, (0.6, 0.6), 0.25),
    ]
    sheets = [x._replace(positions=x.positions * 0.2 + np.array([0, 0, 2.0 * k])) for k, x in enumerate(sheets)]
    sheets[0] = sheets[0]._replace(uv=sheets[0].uv @ np.array([[c, s], [-s, c]]) + np.array([0.05, 0.0]))
    sheets[1] = sheets[1]._replace(uv=np.array([0.95, 0.0]) + sheets[1].uv * np.array([-1.0, 1.0]))
    return together(*sheets)


def facts(sheet: Sheet, width: int = 256, height: int = 256) -> np.ndarray:
    """(islands, facts), islands in the order of their place and then of their height in the model."""
    welded = sheet.corners()
    labels, count = label_islands(welded)
    mates = sheet.mates()
    uv, xyz = sheet.uv_columns(), sheet.xyz_columns()
    boxes = areas.island_boxes(uv, labels, count)
    centre = areas.island_centres(xyz, areas.surface_areas(xyz), labels, count)
    order = np.lexsort((*boxes.T.round(9), centre[:, 2].round(6)))
    labels = np.argsort(order).astype(np.int32)[labels]
    boxes = boxes[order]
    signed, surface = areas.uv_areas(uv), areas.surface_areas(xyz)
    winding = island_winding(signed, areas.flat_in_tile(uv, signed), labels, count)
    uv_area, world = (areas.island_sums(values, labels, count) for values in (np.abs(signed), surface))
    larger, smaller = stretch.singular_values(uv, xyz, width, height)
    pulled = stretch.island_stretch(larger, smaller, np.abs(signed) * width * height, surface, labels, count)
    up = island_upright(uv, xyz, labels, count, width=width, height=height)
    texels = texel_columns(uv, width, height)
    shared = measure_overlap(texels, labels, count, width, height)
    sides = border_sides(mates, labels)
    group = np.where(shared.group >= 0, shared.group, 1000 + np.arange(count)).astype(np.int32)
    gaps = island_gaps(*straight_stretches(texels, welded, sides, labels), count, 500.0, group)
    stack = exact_stacks(outlines(uv, welded, sides, labels, count), boxes, uv_area, 1e-5)
    return np.column_stack(
        [
            np.bincount(labels, minlength=count),
            uv_area,
            world,
            boxes,
            winding.sign,
            winding.folded,
            texel_density.texel_density(uv_area, world, width, height),
            pulled.ratio,
            pulled.l2,
            up.degrees,
            up.certainty,
            gaps.gap,
            shared.own,
            shared.group >= 0,
            stack,
        ]
    )


def column(table: np.ndarray, name: str) -> np.ndarray:
    return table[:, FACTS.index(name)]


def test_the_prop_shows_what_it_was_built_to_show() -> None:
    table = facts(prop())
    assert column(table, "triangles").tolist() == [12, 8, 32, 18, 16, 16]
    assert column(table, "sign").tolist() == [1, -1, 1, 1, 1, 1]
    assert column(table, "grouped").tolist() == [0, 0, 1, 1, 1, 1]
    assert column(table, "stacked").tolist() == [0, 1, 2, 3, 4, 4]
    np.testing.assert_allclose(column(table, "degrees"), [90 + np.degrees(0.3), 90, 90, 90, 90, 90])
    # 0.2 of the tile over 3 x 0.2 m at 256 texels: 85.33 texels per metre.
    assert column(table, "density")[0] == pytest.approx(256 * 0.2 / 0.6)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_renumbering_changes_no_fact(seed: int) -> None:
    np.testing.assert_allclose(facts(renumbered(prop(), seed)[0]), facts(prop()), rtol=1e-9, atol=1e-9)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_splitting_vertices_changes_no_fact(seed: int) -> None:
    which = np.flatnonzero(np.random.default_rng(seed).random(102) < 0.5)
    assert np.array_equal(facts(split_apart(prop(), which)), facts(prop()))


def test_doubling_the_map_doubles_densities_and_gaps_and_nothing_else() -> None:
    plain, double = facts(prop()), facts(prop(), 512, 512)
    for name in FACTS:
        scale = {"density": 2.0, "gap": 2.0}.get(name, 1.0)
        np.testing.assert_allclose(column(double, name), scale * column(plain, name), rtol=1e-6, atol=1e-6)


def test_mirroring_the_layout_turns_signs_and_directions_and_nothing_else() -> None:
    sheet = prop()
    plain = facts(sheet)
    mirrored = facts(sheet._replace(uv=np.array([1.0, 0.0]) + sheet.uv * np.array([-1.0, 1.0])))
    for name in ("triangles", "uv_area", "surface", "density", "ratio", "l2", "certainty", "gap", "grouped", "stacked"):
        np.testing.assert_allclose(column(mirrored, name), column(plain, name), rtol=1e-6, atol=1e-6)
    assert (column(mirrored, "sign") == -column(plain, "sign")).all()
    np.testing.assert_allclose(column(mirrored, "degrees"), 180.0 - column(plain, "degrees"))


def test_scaling_the_model_changes_densities_only() -> None:
    sheet = prop()
    plain, large = facts(sheet), facts(sheet._replace(positions=sheet.positions * 4.0))
    np.testing.assert_allclose(column(large, "density"), column(plain, "density") / 4.0)
    for name in ("uv_area", "ratio", "l2", "degrees", "certainty", "gap", "grouped", "stacked", "sign"):
        np.testing.assert_allclose(column(large, name), column(plain, name), rtol=1e-9, atol=1e-9)
