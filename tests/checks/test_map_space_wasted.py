"""How much of a map is covered."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.support.laid_props import laid, sheet
from tests.support.mesh_props import findings

CHECK = "map-space-wasted"


@pytest.mark.parametrize(("side", "told"), [(511, True), (512, False)])
def test_both_sides_of_the_least(side: int, told: bool) -> None:
    found = findings(CHECK, laid(sheet(0, 0, side, side)), least=0.25)
    assert bool(found) is told
    if told:
        assert found[0].measured == pytest.approx(side**2 / 1024**2, abs=1e-6)


def test_stacks_count_once() -> None:
    stack = [sheet(0, 0, 400, 400) for _ in range(4)]
    (found,) = findings(CHECK, laid(*stack), least=0.25)
    assert found.measured == pytest.approx(400**2 / 1024**2, abs=1e-6)


def test_what_repeats_is_never_map_and_what_is_assumed_wastes_nothing() -> None:
    assert findings(CHECK, laid(sheet(1000, 0, 1100, 100))) == []
    assert findings(CHECK, replace(laid(sheet(0, 0, 10, 10)), maps=(), bindings=())) == []
