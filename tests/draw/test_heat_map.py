"""Heat maps: values in real units, and a picture that tells high from low."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from tests.draw.laid_out import Panel, panel_facts
from tidegate.draw.heat_map import heat_map, heat_maps, island_means
from tidegate.draw.heat_scale import figure, scale_words, ticks, wanted_on
from tidegate.draw.heat_values import density_values, stretch_values
from tidegate.draw.marks import Mark, marks_on
from tidegate.draw.palette import PAPER
from tidegate.draw.placed import place
from tidegate.draw.ramp import ramp
from tidegate.draw.sidecars import draw_sidecars
from tidegate.geometry.beyond_numbers import beyond_numbers
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Shown
from tidegate.model.letters import lettered
from tidegate.model.picture_places import places_in
from tidegate.model.selection import island_place
from tidegate.model.view import layout_view

# 0.4 of a map of 1000 on 1 m: 400 px/m; on 0.25 m: 1600 px/m.
COARSE, FINE = Panel(0.05, 0.1, 0.45, 0.5, metres=(1, 1)), Panel(0.55, 0.1, 0.95, 0.5, metres=(0.25, 0.25))


def test_density_is_texels_per_metre() -> None:
    facts = panel_facts(COARSE, FINE, size=(1000, 1000))
    placed = place(facts, facts.pictures[0], layout_view(facts, facts.pictures[0], 300))
    values = density_values(placed, facts.pictures[0])
    assert values.value == pytest.approx([400, 400, 1600, 1600])
    assert (values.low, values.high) == (pytest.approx(400), pytest.approx(1600))
    assert facts.islands is not None
    assert island_means(values, placed, 2) == pytest.approx(facts.islands.density, rel=1e-5)


def test_even_density_is_the_middle_of_the_scale() -> None:
    facts = panel_facts(COARSE, size=(1000, 1000))
    placed = place(facts, facts.pictures[0], layout_view(facts, facts.pictures[0], 300))
    values = density_values(placed, facts.pictures[0])
    assert values.high / values.low == pytest.approx(2)
    assert values.low * values.high == pytest.approx(400**2)


def test_stretch_is_longer_to_shorter_side_of_a_texel() -> None:
    # 0.4 by 0.4 of the map on 2 m by 0.5 m: 4 to 1. On a map twice as wide as high, 2 to 1.
    panel = Panel(0.1, 0.1, 0.5, 0.5, metres=(2, 0.5))
    for size, wanted in (((100, 100), 4.0), ((200, 100), 2.0)):
        facts = panel_facts(panel, size=size)
        placed = place(facts, facts.pictures[0], layout_view(facts, facts.pictures[0], 300))
        assert stretch_values(placed, facts.pictures[0]).value == pytest.approx([wanted, wanted])


def test_surface_without_area_has_no_value() -> None:
    facts = panel_facts(COARSE, Panel(0.6, 0.6, 0.9, 0.9, metres=(0.0, 0.3)), size=(100, 100))
    placed = place(facts, facts.pictures[0], layout_view(facts, facts.pictures[0], 300))
    for values in (density_values(placed, facts.pictures[0]), stretch_values(placed, facts.pictures[0])):
        assert np.isnan(values.value).tolist() == [False, False, True, True]
        assert 0 < values.low < values.high < np.inf
    assert len(heat_maps(facts, density_values, 300)) == 1


@pytest.mark.parametrize(("metres", "known"), [(1e200, False), (1e-9, True)])
def test_surfaces_of_absurd_size_have_a_scale(metres: float, known: bool) -> None:
    """(1e200 m)^2 is infinite and has no density; 30 texels on 1e-9 m are 3e10 px/m."""
    with beyond_numbers():
        facts = panel_facts(COARSE, Panel(0.6, 0.6, 0.9, 0.9, metres=(metres, metres)), size=(100, 100))
        placed = place(facts, facts.pictures[0], layout_view(facts, facts.pictures[0], 300))
        values = density_values(placed, facts.pictures[0])
        assert len(heat_maps(facts, density_values, 300)) == 1
    assert 0 < values.low < values.high < np.inf
    assert values.value == pytest.approx([40, 40, *([3e10] * 2 if known else [np.nan] * 2)], nan_ok=True)


def test_the_picture_shows_low_dark_and_high_light() -> None:
    facts = panel_facts(COARSE, FINE, size=(1000, 1000))
    (sheet,) = heat_maps(facts, density_values, 400)
    view = layout_view(facts, facts.pictures[0], 400)

    def at(u: float, v: float) -> tuple[int, ...]:
        x, y = view.pixel(u, v)
        return sheet.getpixel((view.left + round(x), view.top + round(y)))

    assert at(0.1, 0.15) == tuple(ramp()[0])
    assert at(0.6, 0.15) == tuple(ramp()[-1])


STRETCHED = Panel(0.1, 0.1, 0.5, 0.5, metres=(2, 0.5))


@pytest.mark.parametrize(
    ("kinds", "drawn"),
    [
        (("fault_sheet",), ["fault_sheet.1", "stretch_map.1"]),
        (("stretch_map", "fault_sheet"), ["stretch_map.1", "fault_sheet.1"]),
        (("density_map",), ["density_map.1"]),
        ((), []),
    ],
)
def test_a_finding_brings_its_map_along_once_beside_a_fault_sheet(kinds: tuple[str, ...], drawn: list[str]) -> None:
    facts = panel_facts(STRETCHED)
    place = island_place(facts, facts.pictures[0], np.array([0]))
    found = lettered([Finding("stretched-islands", "error", "x", place, shown=Shown(heat="stretch_map"))])
    made = draw_sidecars(facts, found, kinds)
    assert [name for name, _ in made] == [f"fish_crate.tidegate.{kind}.png" for kind in drawn]
    assert {name.split(".")[2]: set(places_in(data)) for name, data in made} == {
        kind.split(".")[0]: {"", "A"} if not kind.startswith("density") else set() for kind in drawn
    }
    assert draw_sidecars(facts, (), ("fault_sheet",)) == ()


def test_of_several_pictures_the_one_the_finding_lies_on_is_drawn() -> None:
    facts = panel_facts(STRETCHED, Panel(1.1, 0.1, 1.5, 0.5), tiles=(1001, 1002))
    place = island_place(facts, facts.pictures[1], facts.pictures[1].islands)
    found = lettered([Finding("stretched-islands", "error", "x", place, shown=Shown(heat="stretch_map"))])
    made = draw_sidecars(facts, found, ("fault_sheet",))
    assert [name.split(".")[2] for name, _ in made] == ["fault_sheet", "stretch_map"]
    wanted = heat_map(facts, facts.pictures[1], stretch_values, marks=marks_on(facts, facts.pictures[1], found))
    assert np.array_equal(np.asarray(Image.open(io.BytesIO(made[1][1]))), np.asarray(wanted))


def wants(facts: Facts, wanted: float, unit: str = "px/m") -> list[Mark]:
    place = island_place(facts, facts.pictures[0], np.array([0]))
    shown = Shown(heat="density_map")
    found = Finding("texel-density-out-of-range", "error", "x", place, 400.0, wanted, unit, exact=True, shown=shown)
    return marks_on(facts, facts.pictures[0], lettered([found]))


def test_the_scale_reaches_what_is_wanted_and_says_so() -> None:
    facts = panel_facts(COARSE, FINE, size=(1000, 1000))
    placed = place(facts, facts.pictures[0], layout_view(facts, facts.pictures[0], 300))
    plain = density_values(placed, facts.pictures[0])
    assert (plain.low, plain.high) == (pytest.approx(400), pytest.approx(1600))
    for wanted, low, high in ((100.0, 100, 1600), (512.0, 400, 1600), (2048.0, 400, 2048)):
        values = wanted_on(plain, wants(facts, wanted))
        assert (values.low, values.high) == (pytest.approx(low), pytest.approx(high))
    assert wanted_on(plain, wants(facts, 0.05, "share")).low == plain.low  # no figure of this scale
    words = scale_words(plain, island_means(plain, placed, 2), facts.pictures[0], wants(facts, 512.0), 16, 400)
    assert [line.text for line in words] == [
        "A error texel-density-out-of-range",
        "measured 400 px/m, wanted about 512 px/m",
        "",
        "1600 px/m: island 2",
        "400 px/m: island 1",
    ]


def test_equal_figures_are_told_once_and_of_many_the_ends() -> None:
    panels = [
        Panel(k / 10, 0.1, k / 10 + 0.05, 0.15, metres=(0.1 / (1 + k // 2), 0.1 / (1 + k // 2))) for k in range(10)
    ]
    facts = panel_facts(*panels[:4], size=(1000, 1000))
    wider = panel_facts(*panels, *(Panel(k / 10, 0.5, k / 10 + 0.05, 0.55, metres=(0.01 * k,) * 2) for k in (3, 4, 6)))
    for prop, told in (
        # 50 texels on 0.1 m and on 0.05 m, two islands each
        (facts, ["1000 px/m: islands 3-4", "500 px/m: islands 1-2"]),
        (wider, None),
    ):
        picture = prop.pictures[0]
        placed = place(prop, picture, layout_view(prop, picture, 300))
        values = density_values(placed, picture)
        words = [
            line.text
            for line in scale_words(values, island_means(values, placed, len(prop.islands)), picture, (), 16, 400)
        ]
        assert told is None or words == told
    # 500, 1000 .. 2500 px/m, and 50 texels on 0.03, 0.04 and 0.06 m: eight figures, two of them between
    assert len(words) == 7 and words[3] == "and 2 figures between"


def test_what_is_wanted_is_on_the_picture_and_nothing_is_cut_off() -> None:
    facts = panel_facts(COARSE, size=(1000, 100))  # so low a map that the words below the scale need more room than it
    plain = heat_map(facts, facts.pictures[0], density_values, 400)
    marked = heat_map(facts, facts.pictures[0], density_values, 400, wants(facts, 512.0))
    assert marked.height > plain.height
    rows = np.flatnonzero((np.asarray(marked) != PAPER).any(axis=(1, 2)))
    assert rows[-1] < marked.height - 8


def test_figures_are_dark_on_light_islands_and_light_on_dark_ones() -> None:
    facts = panel_facts(COARSE, FINE, size=(1000, 1000))
    sheet = np.asarray(heat_map(facts, facts.pictures[0], density_values, 1024))
    view = layout_view(facts, facts.pictures[0], 1024)
    x, y = view.pixel(0.75, 0.3)
    about = sheet[
        view.top + round(y) - 12 : view.top + round(y) + 12, view.left + round(x) - 30 : view.left + round(x) + 30
    ]
    assert about.min() < 60  # dark ink on the light island
    x, y = view.pixel(0.25, 0.3)
    about = sheet[
        view.top + round(y) - 12 : view.top + round(y) + 12, view.left + round(x) - 30 : view.left + round(x) + 30
    ]
    assert about.min(axis=2).max() > 240  # light ink on the dark one


@pytest.mark.parametrize(("low", "high"), [(1.0, 2.0), (400.0, 1600.0), (0.003, 9e5), (537.0, 1074.0)])
def test_ticks_are_round_and_inside(low: float, high: float) -> None:
    found = ticks(low, high)
    assert found == sorted(found) and found[0] == low and found[-1] == high
    assert len(found) >= 3


@pytest.mark.parametrize(
    ("value", "told"), [(1024.4, "1024"), (100.0, "100"), (99.96, "100"), (48.26, "48.3"), (1.754, "1.75")]
)
def test_figures_are_those_of_the_report(value: float, told: str) -> None:
    assert figure(value) == told
