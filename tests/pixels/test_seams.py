from dataclasses import replace

import numpy as np
import pytest

from tests.pixels.scenes import seam_scene
from tidegate.pixels.seam_points import SeamEdges
from tidegate.pixels.seams import seam_differences, seams

SIZE = (192, 96)


def worst(scene, **how):
    return seams(scene.edges, seam_differences(scene.image, scene.edges, scene.labels, **how), SIZE, 0.02)[0]


def two_squares(left, right, turned=False):
    """32 x 16 texels: A is the left square, B the right; A's right side meets B's left (or, turned, B's upper) side."""
    image = np.zeros((16, 32, 3), np.uint8)
    image[:, :16], image[:, 16:] = left, right
    a = np.array([[[16 / 32, 0.25], [16 / 32, 0.75]]])
    b = a.copy() if not turned else np.array([[[20 / 32, 1.0], [28 / 32, 1.0]]])
    inner_b = np.array([[24 / 32, 0.5]])
    one = np.zeros(1, np.int32)
    return image, SeamEdges(a, b, np.array([[8 / 32, 0.5]]), inner_b, one, one + 1)


@pytest.mark.parametrize("turned", [False, True])
def test_two_flat_colours_differ_by_their_difference(turned):
    image, edges = two_squares((100, 50, 10), (151, 50, 61), turned)
    found = seam_differences(image, edges)
    # 51 / 255 in the first and the third channel; flat paint changes nothing by itself
    assert found.points.tolist() == [8]
    assert found.difference[0] == pytest.approx(0.2)
    assert found.own[0] == 0
    assert found.middle[0] == pytest.approx([-0.2, 0, -0.2])
    assert found.scatter[0] == pytest.approx(0, abs=1e-12)
    assert found.share[0] == 1.0
    seam = seams(edges, found, (32, 16), 0.02)[0]
    assert seam.deliberate
    assert seam.box_a == (16, 4, 17, 12)  # from V 0.75 to V 0.25: rows 4 to 12
    assert seam.box_b == ((20, 0, 28, 1) if turned else (16, 4, 17, 12))


@pytest.mark.parametrize(("step", "deliberate"), [(38, False), (39, True)])  # 0.15 x 255 = 38.25
def test_both_sides_of_a_deliberate_step(step, deliberate):
    image, edges = two_squares((100, 100, 100), (100 + step,) * 3)
    assert seams(edges, seam_differences(image, edges), (32, 16), 0.02)[0].deliberate == deliberate


@pytest.mark.parametrize("step", [38, 39, 120])
def test_a_step_where_an_island_meets_itself_is_never_deliberate(step):
    """A sheet rolled into a pipe is one piece on both sides of its cut."""
    image, edges = two_squares((100, 100, 100), (100 + step,) * 3)
    rolled = replace(edges, island_b=edges.island_a)
    (seam,) = seams(rolled, seam_differences(image, rolled), (32, 16), 0.02)
    assert (seam.islands, seam.deliberate) == ((0, 0), False)
    assert seam.excess == pytest.approx(step / 255)


def slope(step):
    """Two squares as above whose paint grows by 2 codes a texel from left to right, and B lighter by `step` codes."""
    image, edges = two_squares((0, 0, 0), (0, 0, 0))
    image[:] = (60 + 2 * np.arange(32, dtype=np.uint8))[None, :, None]
    image[:, 16:] += np.uint8(step)
    return image, edges


@pytest.mark.parametrize(("step", "lifted"), [(0, 0), (4, 0), (5, 1), (30, 26)])
def test_a_lighter_side_beyond_twice_what_the_paint_changes(step, lifted):
    """Lines lie two texels apart, 4 codes on the slope: across the seam 4 + step, less 2 x 4."""
    image, edges = slope(step)
    (seam,) = seams(edges, seam_differences(image, edges), (32, 16), 0.02)
    assert seam.lifted == pytest.approx(lifted / 255)


def test_a_lighter_side_between_edges_that_stand_either_way_round():
    """The step keeps its sign where an edge lists its sides the other way; 20 + 4 - 8 codes."""
    image, one = slope(20)
    both = [np.concatenate(pair) for pair in ((one.a, one.b), (one.b, one.a), (one.inner_a, one.inner_b))]
    inner = np.concatenate([one.inner_b, one.inner_a])
    edges = SeamEdges(*both, inner, np.array([1, 2], np.int32), np.array([2, 1], np.int32))
    (seam,) = seams(edges, seam_differences(image, edges), (32, 16), 0.02)
    assert seam.lifted == pytest.approx(16 / 255)


@pytest.mark.parametrize(("deep", "told"), [(5, False), (6, True)])
def test_narrow_islands_show_too_few_lines_to_say_that_one_is_lighter(deep, told):
    """Lines 1, 3, 5 and 7 texels inside give three steps a side; four are wanted: 6 texels deep give two a side, 5 do too few."""
    image, edges = two_squares((100, 100, 100), (120, 120, 120))
    labels = np.full((16, 32), -1, np.int32)
    labels[:, 16 - deep : 16], labels[:, 16 : 16 + deep] = 0, 1
    (seam,) = seams(edges, seam_differences(image, edges, labels), (32, 16), 0.02)
    assert seam.lifted == pytest.approx(20 / 255 if told else 0)


def test_lively_paint_hides_a_step_at_its_points_and_not_in_means_along_it():
    lit, clean = (
        [worst(seam_scene(np.random.default_rng(seed), "spectrum", step=step)) for seed in range(20)]
        for step in (0.08, 0.0)
    )
    assert sum(one.lifted > 0.03 for one in clean) == 0
    assert sum(one.lifted > 0.03 for one in lit) >= 10
    assert sum(one.excess > 0.06 and one.share >= 0.5 for one in lit) <= 2


def test_two_paints_of_other_contrast_that_meet_are_not_one_that_is_lighter():
    rng = np.random.default_rng(3)
    image, edges = two_squares((100, 100, 100), (120, 120, 120))
    image[:, :16] += rng.integers(0, 40, (16, 16, 1)).astype(np.uint8)
    (seam,) = seams(edges, seam_differences(image, edges), (32, 16), 0.02)
    assert seam.lifted == 0  # one side is plain, the other lively


def test_the_ground_beside_an_island_is_not_read():
    image, edges = two_squares((80, 80, 80), (80, 80, 80))
    image[:, 15:17] = 0  # one texel on either side of the seam belongs to no island ...
    labels = np.full((16, 32), -1, np.int32)
    labels[:, :15], labels[:, 17:] = 0, 1
    found = seam_differences(image, edges, labels)
    assert found.points.tolist() == [0]  # ... so nothing may be said
    assert seams(edges, found, (32, 16), 0.02) == []


@pytest.mark.parametrize("kind", ["smooth", "spectrum", "noisy"])
@pytest.mark.parametrize("seed", range(6))
def test_paint_that_goes_on_has_hardly_any_excess_and_a_lighter_side_has_more(kind, seed):
    clean = worst(seam_scene(np.random.default_rng(seed), kind))
    assert clean.excess < 0.02
    if kind == "noisy":
        return  # noise of that contrast hides a lighter side
    lit = worst(seam_scene(np.random.default_rng(seed), kind, step=0.08))
    assert lit.excess > clean.excess + 0.01
    assert not lit.deliberate


@pytest.mark.parametrize("normals", [False, True])
def test_displaced_paint_shows(normals):
    clean, displaced = [], []
    for seed in range(12):
        for shift, into in ((0, clean), (31, displaced)):
            scene = seam_scene(
                np.random.default_rng(seed), "noisy" if normals else "smooth", normals=normals, shift=shift
            )
            into.append(worst(scene, normals=normals).excess)
    # Turned and mirrored islands are among them: a wrong frame would make the clean ones as bad as the displaced.
    assert np.quantile(clean, 0.8) < 0.02
    assert np.median(displaced) > 3 * np.quantile(clean, 0.8)
    assert np.median(displaced) > 0.03


def test_a_normal_that_leans_across_the_seam_keeps_leaning():
    # B lies turned by 180 degrees: what is right in A is left in B. A leans to the right (x = 0.6), so B must lean left.
    a = np.array([[[0.5, 0.25], [0.5, 0.75]]])
    b = np.array([[[1.0, 0.75], [1.0, 0.25]]])
    edges = SeamEdges(
        a, b, np.array([[0.25, 0.5]]), np.array([[0.75, 0.5]]), np.zeros(1, np.int32), np.ones(1, np.int32)
    )
    image = np.zeros((16, 32, 3), np.uint8)
    image[:, :16], image[:, 16:] = (204, 128, 230), (51, 128, 230)
    assert seam_differences(image, edges, normals=True).difference[0] < 0.01
    image[:, 16:] = (204, 128, 230)
    assert seam_differences(image, edges, normals=True).difference[0] == pytest.approx(0.6, abs=0.01)
    # Along the seam: green up in A is green down in B.
    image[:, :16], image[:, 16:] = (128, 204, 230), (128, 51, 230)
    for green_up in (True, False):
        assert seam_differences(image, edges, normals=True, green_up=green_up).difference[0] < 0.01


def test_worst_pair_first_whichever_way_round_and_bad_numbers_are_left_out():
    image, one = two_squares((100, 100, 100), (110, 110, 110))
    none = np.full((1, 2, 2), np.nan)
    edges = SeamEdges(
        np.concatenate([one.a, one.b, none, one.a]),
        np.concatenate([one.b, one.a, none, one.a]),
        np.concatenate([one.inner_a, one.inner_b, none[0, :1], one.inner_a]),
        np.concatenate([one.inner_b, one.inner_a, none[0, :1], one.inner_a]),
        np.array([3, 1, 3, 2], np.int32),
        np.array([1, 3, 1, 2], np.int32),
    )
    found = seam_differences(image, edges)
    assert found.points.tolist() == [8, 8, 0, 8]
    listed = seams(edges, found, (32, 16), 0.02)
    assert [s.islands for s in listed] == [(1, 3), (2, 2)]
    assert listed[0].points == 16
    assert listed[0].step == pytest.approx(10 / 255)  # turned round, the step keeps its sign
    assert listed[1].excess == 0
