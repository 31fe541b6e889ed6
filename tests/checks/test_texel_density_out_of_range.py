"""Density against what is wanted, and its spread on one map. Sheets have 512 px/m unless they say otherwise."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.support.laid_props import collapsed, laid, sheet
from tests.support.mesh_props import findings
from tidegate.model.check import Scope
from tidegate.model.order_row import OrderRow
from tidegate.model.prop import Prop

CHECK = "texel-density-out-of-range"


def of(density: float, x0: float = 100) -> object:
    return sheet(x0, 100, x0 + 100, 200, metres=(100 / density, 100 / density))


@pytest.mark.parametrize(("density", "told"), [(383.9, "under"), (384.1, ""), (639.9, ""), (640.1, "over")])
def test_both_sides_of_both_edges(density: float, told: str) -> None:
    found = findings(CHECK, laid(of(density)), wanted=512, tolerance=0.25)
    assert bool(found) is bool(told)
    if told:
        assert f"1 island of 1 {told}" in found[0].message
        assert (found[0].measured, found[0].wanted, found[0].unit) == (pytest.approx(density, abs=1e-3), 512, "px/m")


def test_off_until_somebody_says_what_is_wanted() -> None:
    assert findings(CHECK, laid(of(3.0))) == []


@pytest.mark.parametrize(("density", "told"), [(1023, False), (1025, True)])
def test_both_sides_of_the_spread(density: float, told: bool) -> None:
    found = findings(CHECK, laid(of(512), of(density, 300)), spread=2.0)
    assert bool(found) is told
    if told:
        assert found[0].place.islands == (1, 2) and found[0].measured == pytest.approx(density / 512, rel=1e-5)


def test_doubling_the_map_doubles_it() -> None:
    assert findings(CHECK, laid(of(512), size=(2048, 2048)), wanted=1024, tolerance=0.0001) == []


def test_a_map_that_is_not_square_counts_both_sides() -> None:
    # 512 px/m one way and 1024 the other: the root of their product is 724.08
    (found,) = findings(CHECK, laid(of(512), size=(2048, 1024)), wanted=512, tolerance=0.25)
    assert found.measured == pytest.approx(512 * 2**0.5, abs=1e-3)


def test_points_of_color_have_no_density_and_are_told_elsewhere() -> None:
    assert findings(CHECK, laid(sheet(500, 500, 900, 900), collapsed(sheet(400, 400, 500, 500))), wanted=512) == []


def test_a_place_on_the_map_without_a_surface_cannot_be_told() -> None:
    nothing = sheet(300, 100, 400, 200, metres=(0.0, 0.0))
    (found,) = findings(CHECK, laid(of(512), nothing), wanted=512)
    assert (found.certain, found.level, found.place.islands) == (False, "note", (2,))


def test_scope_leaves_others_alone() -> None:
    assert findings(CHECK, laid(of(99)), wanted=512, scope=Scope(material=("brass",))) == []
    assert len(findings(CHECK, laid(of(99)), wanted=512, scope=Scope(material=("oa*",)))) == 1


def unpainted(*sheets: object) -> Prop:
    """Laid out for a map that is not there: measured at 2048, where the sheets of this page have twice their densities."""
    return replace(laid(*sheets), maps=(), bindings=())


@pytest.mark.parametrize(("density", "told"), [(191.9, True), (192.1, False), (319.9, False), (320.1, True)])
def test_before_there_is_a_map_its_size_is_a_guess_and_the_finding_a_note(density: float, told: bool) -> None:
    found = findings(CHECK, unpainted(of(density)), wanted=512, tolerance=0.25)
    assert bool(found) is told
    if told:
        assert (found[0].level, found[0].certain, found[0].wanted) == ("note", False, 512)
        assert found[0].measured == pytest.approx(2 * density, abs=1e-2)
        assert "(no map, 2048 assumed)" in found[0].message and found[0].message.startswith("cannot tell")


@pytest.mark.parametrize(
    ("densities", "told"),
    [
        ((512, 512), "a map of 1024 would bring 2 of 2 within"),  # 1024 px/m at 2048
        ((64, 60, 300), "a map of 8192 would bring 2 of 3 within"),  # 128, 120 and 600: four times as much for two
        ((170,), "no size of map brings any within"),  # 340 px/m: 680 at the next size
    ],
)
def test_the_size_that_would_fit_is_named(densities: tuple[float, ...], told: str) -> None:
    sheets = [of(density, 10 + 110 * k) for k, density in enumerate(densities)]
    (found,) = findings(CHECK, unpainted(*sheets), wanted=512, tolerance=0.25)
    assert told in found.message


def test_a_size_that_was_ordered_is_no_guess() -> None:
    thing = unpainted(of(512))
    assert findings(CHECK, thing, order=OrderRow("crate", map_sizes=(("", 1024),)), wanted=512) == []
    (found,) = findings(CHECK, thing, order=OrderRow("crate", map_sizes=(("base_color", 2048), ("", 1024))), wanted=512)
    assert (found.level, found.certain, found.measured) == ("", True, 1024)
    assert "(no map, 2048 ordered)" in found.message


def test_the_spread_does_not_hang_on_the_size_of_the_map() -> None:
    (found,) = findings(CHECK, unpainted(of(512), of(1030, 300)), spread=2.0)
    assert (found.level, found.certain) == ("", True)


def test_the_spread_is_no_news_beside_islands_that_are_told_to_be_off() -> None:
    limits = {"wanted": 512, "tolerance": 0.25, "spread": 2.0}
    (one,) = findings(CHECK, laid(of(512), of(200, 300)), **limits)
    assert "under 384 px/m" in one.message
    # All are off: scaling the map would leave the spread. And a spread narrower than what the range allows says more.
    assert len(findings(CHECK, laid(of(300), of(100, 300)), **limits)) == 2
    assert len(findings(CHECK, laid(of(512), of(200, 300)), **{**limits, "spread": 1.6})) == 2
