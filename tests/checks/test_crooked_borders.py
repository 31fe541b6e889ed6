"""Borders that nearly run along the axes, or are nearly straight."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.support.laid_props import Sheet, laid, sheet
from tests.support.mesh_props import findings

CHECK = "crooked-borders"


def leaning(by: float, long: float = 400) -> list[Sheet]:
    """A board whose lower right corner is `by` texels too low, beside five straight ones."""
    board = sheet(100, 500, 100 + long, 600)
    board.uv[1, 1] -= by / 1024
    return [board, *(sheet(10 + 110 * k, 10, 110 + 110 * k, 110) for k in range(5))]


@pytest.mark.parametrize(("by", "told"), [(0.0, False), (0.499, False), (0.501, True), (1.999, True), (2.001, False)])
def test_both_sides_of_least_and_most(by: float, told: bool) -> None:
    found = findings(CHECK, laid(*leaning(by)))
    assert bool(found) is told
    if told:
        assert found[0].measured == pytest.approx(by, abs=1e-4)
        assert found[0].place.islands == (2,)  # boxes in order of u: the first small board starts left of it
        assert "1 border of 24" in found[0].message


@pytest.mark.parametrize(("limit", "told"), [(400.001, True), (400.002, False)])
def test_both_sides_of_the_shortest(limit: float, told: bool) -> None:
    # One texel down over 400 across is 400.00125 long.
    assert bool(findings(CHECK, laid(*leaning(1.0)), shortest_texels=limit, straight_share=0.0)) is told


@pytest.mark.parametrize(("degrees", "told"), [(0.1432, False), (0.1433, True)])
def test_both_sides_of_the_slant(degrees: float, told: bool) -> None:
    # One texel over 400 leans by 0.143239 degrees.
    assert bool(findings(CHECK, laid(*leaning(1.0)), degrees=degrees)) is told


@pytest.mark.parametrize(("share", "told"), [(0.9583, True), (0.9584, False)])
def test_where_the_layout_runs_free_nothing_was_meant_straight(share: float, told: bool) -> None:
    # 23 of 24 borders run along the axes: 0.958333
    assert bool(findings(CHECK, laid(*leaning(1.0)), straight_share=share)) is told


def bowed(by: float) -> list[Any]:
    board = sheet(100, 500, 500, 600, cells=(8, 1))
    board.uv[:9, 1] -= by * np.sin(np.linspace(0, np.pi, 9)) / 1024
    return [board, *leaning(0.0)[1:]]


@pytest.mark.parametrize(("by", "told"), [(0.499, False), (0.501, True), (1.999, True), (2.001, False)])
def test_a_bow_counts_as_a_lean_does(by: float, told: bool) -> None:
    found = findings(CHECK, laid(*bowed(by)))
    assert bool(found) is told
    if told:
        assert found[0].measured == pytest.approx(by, abs=1e-3)


def test_a_turned_island_was_meant_so() -> None:
    assert findings(CHECK, laid(sheet(300, 300, 700, 500, turn=30.0), *leaning(0.0)[1:])) == []


@pytest.mark.parametrize(
    ("turn", "told"), [(0.0, False), (0.05, False), (0.1, True), (-0.5, True), (4.99, True), (5.01, False)]
)
def test_an_island_turned_as_a_whole(turn: float, told: bool) -> None:
    # Its longer borders are 400 texels: at 0.05 degrees they stray by 0.35, at 0.1 by 0.7 texels.
    found = findings(CHECK, laid(sheet(300, 300, 700, 500, turn=turn), *leaning(0.0)[1:]))
    assert bool(found) is told
    if told:
        (one,) = found
        assert one.measured == pytest.approx(400 * np.sin(np.radians(abs(turn))), abs=1e-3)
        assert one.place.islands == (4,)  # counted by u: boards start at 10, 120 and 230, then 340
        assert f"lean by {abs(turn):.2g} degrees" in one.message
        assert (" clockwise" in one.help) is (turn > 0)  # it is turned back


def test_a_taper_was_meant_so() -> None:
    # A leg whose two long borders lean by one degree each way: 7 texels over 400, and no island that was turned.
    leg = sheet(300, 300, 400, 700)
    leg.uv[2:, 0] += np.array([7, -7]) / 1024
    assert findings(CHECK, laid(leg, *leaning(0.0)[1:])) == []
