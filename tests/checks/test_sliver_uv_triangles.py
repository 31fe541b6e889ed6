"""Triangles that are all but lines on the map."""

from __future__ import annotations

import pytest

from tests.support.laid_props import laid, sheet
from tests.support.mesh_props import findings

CHECK = "sliver-uv-triangles"


@pytest.mark.parametrize(("high", "told"), [(8.0, True), (8.002, False)])
def test_both_sides_of_the_thinnest(high: float, told: bool) -> None:
    # Half of a strip 800 x h has its height on the diagonal d: 800 h / d^2, so 0.009999 for 8 of 800 and 0.0100015 for 8.002.
    found = findings(CHECK, laid(sheet(100, 100, 900, 100 + high)), thinnest=0.01)
    assert bool(found) is told
    if told:
        assert (found[0].measured, found[0].place.islands) == (1.0, (1,))
        assert "2 triangles thinner than 1 to 100" in found[0].message


@pytest.mark.parametrize(("share", "told"), [(0.4999, True), (0.5, False)])
def test_both_sides_of_the_share(share: float, told: bool) -> None:
    thing = laid(
        sheet(100, 100, 900, 105), sheet(100, 200, 900, 205, metres=(800 / 512, 5 / 512)), sheet(0, 300, 80, 400)
    )
    # 4000 + 4000 square texels of slivers against 8000 that are none
    assert bool(findings(CHECK, thing, share=share)) is told


def test_it_is_taken_in_texels() -> None:
    thin = sheet(100, 100, 900, 112)
    assert findings(CHECK, laid(thin)) == []  # 12 of 800
    assert len(findings(CHECK, laid(thin, size=(2048, 1024)))) == 1  # 12 of 1600
