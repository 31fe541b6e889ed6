from __future__ import annotations

import numpy as np
import pytest

from tests.geometry.shapes import Sheet, grid, renumbered
from tidegate.geometry.borders import border_sides
from tidegate.geometry.straightness import (
    Runs,
    axis_offsets,
    border_runs,
    nearly_along_axis,
    nearly_straight,
    straight_stretches,
)


def runs_of(sheet: Sheet, size: float, turn: float = 5.0) -> Runs:
    labels, _ = sheet.labels()
    return border_runs(sheet.uv_columns() * size, sheet.corners(), border_sides(sheet.mates(), labels), labels, turn)


def bent(sheet: Sheet, change: np.ndarray) -> Sheet:
    return sheet._replace(uv=sheet.uv + change)


def test_a_sheet_has_four_straight_runs_along_the_axes() -> None:
    runs = runs_of(grid(6, 4), 512)
    assert sorted(runs.sides.tolist()) == [4, 4, 6, 6]
    assert not runs.bow.any()
    assert not axis_offsets(runs).any()
    assert not nearly_along_axis(runs, 0.05, 4.0).any()
    assert not nearly_straight(runs, 0.05, 4.0).any()


@pytest.mark.parametrize(("texels", "found"), [(0.04, 0), (0.06, 2), (3.9, 2), (4.1, 0)])
def test_both_sides_of_the_limits_of_a_lean(texels: float, found: int) -> None:
    sheet = grid(6, 6)
    # The whole island leans: v grows with u by `texels` over its width of 512.
    leaning = bent(sheet, np.stack([0 * sheet.uv[:, 0], sheet.uv[:, 0] * texels / 512], axis=1))
    assert int(nearly_along_axis(runs_of(leaning, 512), 0.05, 4.0).sum()) == found


def test_a_slant_that_is_meant_is_let_be() -> None:
    sheet = grid(6, 6, uv_size=0.01)  # 5 texels wide: 1 texel over 5 is 11 degrees
    slanted = bent(sheet, np.stack([0 * sheet.uv[:, 0], sheet.uv[:, 0] * 0.2], axis=1))
    assert not nearly_along_axis(runs_of(slanted, 512), 0.05, 4.0).any()
    assert nearly_along_axis(runs_of(slanted, 512), 0.05, 4.0, degrees=12.0).sum() == 2


@pytest.mark.parametrize(("texels", "found"), [(0.04, False), (0.06, True), (3.9, True), (4.1, False)])
def test_both_sides_of_the_limits_of_a_bow(texels: float, found: bool) -> None:
    sheet = grid(8, 8)
    u = sheet.uv[:, 0]
    lower = np.where(sheet.uv[:, 1] == 0.0, -4 * u * (1 - u) * texels / 512, 0.0)
    runs = runs_of(bent(sheet, np.stack([0 * u, lower], axis=1)), 512)
    assert runs.bow.max() == pytest.approx(texels)
    assert bool(nearly_straight(runs, 0.05, 4.0).any()) is found


def disc(sides: int) -> Sheet:
    angle = np.linspace(0, 2 * np.pi, sides + 1)[:-1]
    rim = 0.5 + 0.4 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    uv = np.concatenate([[(0.5, 0.5)], rim])
    step = np.arange(sides)
    triangles = np.stack([0 * step, 1 + step, 1 + (step + 1) % sides], axis=1).astype(np.int32)
    return Sheet(np.column_stack([uv, 0 * uv[:, 0]]), triangles, uv, triangles)


def test_a_circle_is_one_closed_run_and_not_nearly_straight() -> None:
    runs = runs_of(disc(90), 512)
    assert runs.sides.tolist() == [90]
    assert runs.start.tolist() == runs.end.tolist()
    assert runs.bow[0] == pytest.approx(0.8 * 512)
    assert not nearly_straight(runs, 0.05, 1000.0).any()
    # With 60 sides it turns by 6 degrees at each: sixty runs of one.
    assert runs_of(disc(60), 512).sides.tolist() == [1] * 60


@pytest.mark.parametrize("seed", range(3))
def test_renumbering_gives_the_same_runs(seed: int) -> None:
    sheet = grid(7, 5)
    moved, _ = renumbered(sheet, seed)
    runs, other = runs_of(sheet, 100), runs_of(moved, 100)
    key = lambda r: sorted(zip(*r.start.round(6), *r.end.round(6), r.sides.tolist(), strict=True))  # noqa: E731 - a formula with a name
    assert key(runs) == key(other)


def test_no_borders_no_runs() -> None:
    none = border_runs(np.zeros((3, 2, 0)), np.zeros((0, 3), np.int32), np.zeros(0, np.int64), np.zeros(0, np.int32))
    assert len(none.bow) == 0


def test_stretches_hold_the_borders_in_few_segments() -> None:
    sheet = grid(40, 30)
    labels, _ = sheet.labels()
    sides = border_sides(sheet.mates(), labels)
    start, end, island = straight_stretches(sheet.uv_columns() * 512, sheet.corners(), sides, labels)
    assert start.shape == end.shape == (2, 4)
    assert island.tolist() == [0] * 4
    assert np.hypot(*(end - start)).sum() == pytest.approx(2 * (512 + 384))
    # A bow of a hundredth of a texel is kept side by side, one of a ten-thousandth is not.
    for texels, wanted in ((0.01, 40 + 3), (0.0001, 4)):
        u = sheet.uv[:, 0]
        lower = np.where(sheet.uv[:, 1] == 0.0, -4 * u * (1 - u) * texels / 512, 0.0)
        bowed = bent(sheet, np.stack([0 * u, lower], axis=1))
        assert straight_stretches(bowed.uv_columns() * 512, bowed.corners(), sides, labels)[0].shape[1] == wanted


def test_a_circle_keeps_all_of_its_sides() -> None:
    sheet = disc(90)
    labels, _ = sheet.labels()
    sides = border_sides(sheet.mates(), labels)
    assert straight_stretches(sheet.uv_columns() * 512, sheet.corners(), sides, labels)[0].shape == (2, 90)
