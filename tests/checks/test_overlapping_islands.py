"""Shared texels: how many, by whom, and which stacks are meant."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.support.laid_props import Sheet, collapsed, laid, laid_part, painted, sampled, sheet
from tests.support.mesh_props import findings
from tidegate.geometry import wrapped
from tidegate.model.check import Scope

CHECK = "overlapping-islands"
A = sheet(100, 100, 200, 200)


def one(*sheets: Any, **limits: Any) -> Any:
    (found,) = findings(CHECK, laid(*sheets), **limits)
    return found


def test_islands_side_by_side_share_nothing_even_on_a_common_border() -> None:
    assert findings(CHECK, laid(A, sheet(200, 100, 300, 200), sheet(100, 200, 200, 300))) == []


@pytest.mark.parametrize(("allowed", "told"), [(999, True), (1000, False)])
def test_both_sides_of_the_allowed_texels(allowed: int, told: bool) -> None:
    # 10 columns of 100 texels lie under both
    found = findings(CHECK, laid(A, sheet(190, 100, 330, 200)), allowed_texels=allowed)
    assert bool(found) is told
    if told:
        assert (found[0].measured, found[0].wanted, found[0].unit) == (1000, 999, "texels")
        assert found[0].place.islands == (1, 2)
        assert found[0].place.uv_box == tuple(round(t / 1024, 6) for t in (100, 100, 330, 200))
        assert "2 islands overlap on oak_base_color.png: numbers 1-2" in found[0].message


def test_exact_stacks_pass_only_where_the_rules_let_them() -> None:
    stack = [A, sheet(100, 100, 200, 200), sheet(100, 100, 200, 200, mirrored=True)]
    assert findings(CHECK, laid(*stack), allow_stacks=True) == []
    found = one(*stack)
    assert "3 islands lie exactly on each other" in found.message and found.measured == 10_000


@pytest.mark.parametrize(("off", "near"), [(0.2, True), (4.0, True), (4.01, False)])
def test_a_stack_just_missed_is_told_as_one(off: float, near: bool) -> None:
    found = one(A, sheet(100 + off, 100, 200 + off, 200), allow_stacks=True, near_texels=4.0)
    assert ("nearly lie on each other" in found.message) is near
    assert (f"up to {off:g} texels apart" in found.message) is near


def test_islands_of_other_area_are_no_missed_stack() -> None:
    # the same box, a third of the area: turned by 45 degrees it reaches the same four borders
    inner = sheet(115, 115, 185, 185, turn=45.0)
    assert "nearly" not in one(A, inner, near_texels=4.0).message


def bracket(*, turn: int = 0, mirrored: bool = False, shift: float = 0.0, corner: float = 0.0) -> Any:
    """An L of 100 by 100 texels, a quarter cut out of it: each way round it has the same box and the same area. corner:
    texels by which the inner corner is moved."""
    points = np.array([[0, 0], [100, 0], [100, 50], [50 + corner, 50], [50, 100], [0, 100]], float) - 50
    if mirrored:
        points = points[::-1] * [-1.0, 1.0]
    for _ in range(turn):
        points = points[:, ::-1] * [-1.0, 1.0]
    where = 3 if not mirrored else 2  # the inner corner sees all others
    order = np.roll(np.arange(6), -where)
    triangles = np.array([[order[0], order[k], order[k + 1]] for k in range(1, 5)])
    return Sheet(np.column_stack([points / 512, np.zeros(6)]), triangles, (points + 200 + [shift, 0.0]) / 1024)


@pytest.mark.parametrize(
    ("other", "said"),
    [
        # Laid exactly on it: the twin of an L mirrored over its diagonal is the same L.
        ({}, "lie exactly on each other"),
        ({"turn": 3, "mirrored": True}, "lie exactly on each other"),
        ({"shift": 0.045}, "lie exactly on each other"),  # boxes agree within a twentieth of a texel
        ({"shift": 0.06}, "nearly lie on each other, up to 0.06 texels"),
        ({"turn": 3, "mirrored": True, "shift": 3.0}, "nearly lie on each other, up to 3 texels"),
        ({"corner": 2.0}, "nearly lie on each other"),  # not one shape, and yet meant to be
        # The same box and area, and no stack: its outline lies elsewhere.
        ({"turn": 2}, "of one shape overlap"),
        ({"turn": 1}, "of one shape overlap"),
        ({"shift": 30.0}, "of one shape overlap"),
        ({"turn": 2, "corner": 9.0}, "2 islands overlap"),
    ],
)
def test_stacks_near_stacks_and_accidents_are_told_by_outline(other: dict[str, Any], said: str) -> None:
    pair = laid(bracket(), bracket(**other))
    assert said in findings(CHECK, pair)[0].message
    passes = said.startswith("lie exactly")
    assert bool(findings(CHECK, pair, allow_stacks=True)) is not passes  # near is no stack: it fails where stacks pass


def test_an_island_over_itself() -> None:
    coil = sheet(100, 100, 200, 200, cells=(2, 1))
    # The right half is laid back over the left one: 50 x 100 texels.
    coil.uv[2::3, 0], coil.uv[2::3, 1] = coil.uv[0::3, 0], coil.uv[0::3, 1]
    found = one(coil)
    assert "1 island overlaps itself" in found.message and found.measured == 5_000


def test_a_thousand_stacked_islands_are_one_group() -> None:
    found = one(*[sheet(10, 10, 14, 14) for _ in range(1000)])
    assert len(found.place.islands) == 1000 and found.measured == 16


def test_tiles_of_a_map_that_repeats_lie_over_each_other() -> None:
    beyond = sheet(1024 + 150, 100, 1024 + 250, 200)  # columns 150 to 200 of the same texels
    assert one(A, sheet(400, 400, 410, 410), beyond).measured == 5_000
    # Where half of the islands run past the tile the map is made to repeat: a note.
    assert [f.level for f in findings(CHECK, laid(A, beyond))] == ["note"]
    assert one(A, sheet(400, 400, 410, 410), beyond).level == ""


def test_a_level_of_detail_lies_on_the_texels_of_its_model_on_purpose() -> None:
    both = painted(laid_part(A, role="model"), laid_part(A, role="lod1", mesh="hull_lod1"))
    assert findings(CHECK, both) == []


def test_points_of_color_overlap_nothing() -> None:
    points = [collapsed(sheet(120, 120, 140, 140)) for _ in range(5)]
    assert findings(CHECK, laid(A, sheet(300, 300, 700, 700), *points)) == []


def test_scope_names_islands_that_have_to_be_in_the_group() -> None:
    two = painted(laid_part(A, mesh="hull"), laid_part(sheet(190, 100, 290, 200), mesh="keel"))
    assert len(findings(CHECK, two, scope=Scope(mesh=("keel",)))) == 1
    assert findings(CHECK, two, scope=Scope(mesh=("mast",))) == []


def test_many_stacks_of_one_map_are_one_finding() -> None:
    stacks = [sheet(100 * k, 100, 100 * k + 90, 200) for k in range(9) for _ in range(2)]
    found = one(*stacks)
    assert "18 islands lie exactly on each other in 9 places" in found.message and found.measured == 9 * 9000


@pytest.mark.parametrize(("places", "findings_told"), [(8, 8), (9, 9), (12, 9)])
def test_the_largest_places_are_told_one_by_one_and_the_rest_together(places: int, findings_told: int) -> None:
    pairs = []
    for k in range(places):
        pairs += [sheet(80 * k, 100, 80 * k + 40, 200), sheet(80 * k + 39 - k, 100, 80 * k + 70, 200)]
    found = findings(CHECK, laid(*pairs), near_texels=0)
    assert len(found) == findings_told
    # Place k shares k + 1 columns of 100 texels.
    assert [f.measured for f in found[:8]] == [100 * (places - k) for k in range(8)]
    if places > 8:
        assert f"in {places - 8} smaller place" in found[8].message
        assert found[8].measured == sum(100 * (k + 1) for k in range(places - 8))


def test_what_comes_in_again_over_the_border_counts_by_rule() -> None:
    # 60 columns of the second lie beyond the right border and come in on the left, over 40 of the first.
    across = [sheet(20, 100, 200, 200), sheet(924, 100, 1084, 200), sheet(400, 400, 500, 500)]
    assert findings(CHECK, laid(*across)) == []
    found = one(*across, wrap=True)
    assert (found.measured, found.place.islands) == (4_000, (1, 3))
    assert findings(CHECK, laid(*across), wrap=True, allowed_texels=4_000) == []


@pytest.mark.parametrize("by", [(-20, 0), (0, -20), (-20, -20), (0, 0)])
def test_what_reaches_over_a_border_overlaps_its_neighbour_all_the_same(by: tuple[int, int]) -> None:
    # 30 x 100 texels of the second lie on the first, wherever its other end sticks out of the tile; the third is elsewhere.
    x, y = by
    pair = [sheet(70 + x, 40, 200, 140), sheet(x, y, 100 + x, 140), sheet(400, 400, 500, 500)]
    assert one(*pair).measured == 30 * 100


def test_an_island_larger_than_the_tile_lies_over_itself_by_rule() -> None:
    # 1124 columns on 1024: 100 of them twice, 10 texels high; two tiles and a half up: every texel of it at least twice.
    assert one(sheet(0, 0, 1124, 10), wrap=True).measured == 1_000
    assert one(sheet(0, 0, 100, 2560), wrap=True).measured == 100 * 1024
    assert findings(CHECK, laid(sheet(0, 0, 1024, 1024)), wrap=True) == []
    assert findings(CHECK, laid(sheet(512, 512, 1536, 1536)), wrap=True) == []


def test_what_comes_in_again_does_so_only_where_the_sampler_repeats() -> None:
    # As above, 4,000 texels around the right border; with a sampler that ends the map there, none.
    across = [sheet(20, 100, 200, 200), sheet(924, 100, 1084, 200), sheet(400, 400, 500, 500)]
    ends = ("clamp", "repeat")
    assert findings(CHECK, sampled(ends, *across), wrap=True) == []
    upwards = [Sheet(one.points, one.triangles, one.uv[:, ::-1]) for one in across]
    found = [(one.measured, one.place.islands) for one in findings(CHECK, sampled(ends, *upwards), wrap=True)]
    assert found == [(4_000, (1, 2))]


def test_a_map_repeated_a_million_times_is_counted() -> None:
    # 999 x 999 tiles: every one of 1024 x 1024 texels is met some million times, and shared once.
    found = one(sheet(0, 0, 1024 * 999, 1024 * 999), sheet(5, 5, 9, 9), wrap=True)
    assert (found.measured, found.place.islands, found.level) == (1024 * 1024, (1, 2), "")


def strips(number: int, tiles: int) -> list[Sheet]:
    """Strips 5 texels wide, 5 apart, so many tiles long: two triangles each, of 1024 rows a tile."""
    return [sheet(10 * k, 0, 10 * k + 5, 1024 * tiles) for k in range(number)]


def test_beyond_what_can_be_counted_it_is_said_that_it_cannot_be_told(monkeypatch: pytest.MonkeyPatch) -> None:
    # Four strips of two triangles, ten tiles long: 81,920 rows.
    monkeypatch.setattr(wrapped, "MOST_ROWS", 81_920)
    assert one(*strips(4, 10), wrap=True).measured == 4 * 5 * 1024
    monkeypatch.setattr(wrapped, "MOST_ROWS", 81_919)
    found = one(*strips(4, 10), wrap=True)
    assert (found.certain, found.level) == (False, "note")
    assert "cannot tell what overlaps on oak_base_color.png" in found.message
    # A shorter strip is counted, and what it shares is there.
    found = one(*strips(4, 10), sheet(100, 0, 105, 2048), wrap=True)
    assert found.certain and found.measured == 5 * 1024 and "at least 5,120 texels shared" in found.message


def test_a_meant_stack_passes_over_the_border_too_unless_it_is_larger_than_the_tile() -> None:
    beyond = sheet(1000, 100, 1100, 200)
    assert findings(CHECK, laid(beyond, beyond), wrap=True, allow_stacks=True) == []
    assert one(beyond, beyond, wrap=True).measured == 10_000
    assert one(*[sheet(0, 0, 1124, 10)] * 2, wrap=True, allow_stacks=True).measured == 1024 * 10


def test_a_leaf_seen_from_both_sides_is_a_stack() -> None:
    # Its back lies on the points and UVs of its front: two islands, the second mirrored under the first.
    leaf = sheet(100, 100, 200, 200)
    both = leaf._replace(triangles=np.concatenate([leaf.triangles, leaf.triangles[:, ::-1]]))
    assert findings(CHECK, laid(both), allow_stacks=True) == []
    found = one(both)
    assert "2 islands lie exactly on each other" in found.message and found.measured == 10_000
    assert findings("folded-triangles", laid(both)) == []
    assert [len(f.place.islands) for f in findings("mirrored-islands", laid(both), allow="never")] == [1]
    assert findings("mirrored-islands", laid(both), allow="stacked") == []


def test_the_odd_one_of_a_stack_is_named() -> None:
    # Four lie exactly on each other; the fifth is a texel and a half to the right of them.
    found = one(*[A] * 4, sheet(101.5, 100, 201.5, 200), allow_stacks=True)
    assert "5 islands nearly lie on each other, island 5 up to 1.5 texels off the stack of the others" in found.message
    assert found.help.startswith("lay island 5 exactly on the others")
    assert found.place.islands == (1, 2, 3, 4, 5)
    # Two and two: nobody can say which of them was meant.
    assert "island 3" not in one(A, A, *[sheet(101.5, 100, 201.5, 200)] * 2, allow_stacks=True).message


def test_an_island_that_overlaps_itself_by_a_fold_supposes_the_fold() -> None:
    # Columns of 100 texels; the middle line of points was pushed from 200 to 350, over the right border at 300: the right column
    # lies mirrored on 300-350, 50 x 100 texels, and so does as much of the left one.
    board = sheet(100, 100, 300, 200, cells=(2, 1))
    board.uv[[1, 4], 0] = 350 / 1024
    found = one(board)
    assert (found.cause, found.measured) == ("folded-triangles", 5000)
    # A coil of even winding runs over itself without a fold.
    found = one(coil())
    assert (found.cause, "1 island overlaps itself" in found.message) == ("", True)


def coil() -> Sheet:
    """A strip laid out around a middle by one and a half turns, so that its end lies on its beginning."""
    turns = np.linspace(0.0, 3.0 * np.pi, 25)
    inner = np.stack([np.cos(turns), np.sin(turns)], 1)
    texels = np.concatenate([512 + 100 * inner, 512 + 200 * inner])
    rows = np.arange(24)
    faces = np.concatenate([np.stack([rows, rows + 25, rows + 26], 1), np.stack([rows, rows + 26, rows + 1], 1)])
    points = np.concatenate([np.c_[turns, np.zeros(25), turns * 0], np.c_[turns, np.ones(25), turns * 0]])
    return Sheet(points, faces, texels / 1024)
