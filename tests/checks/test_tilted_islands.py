"""Which way up islands stand. The marker of an unturned sheet points up, 90 degrees from +U."""

from __future__ import annotations

import numpy as np
import pytest

from tests.support.laid_props import Sheet, collapsed, laid, sheet
from tests.support.mesh_props import facts_of, findings
from tidegate import checks
from tidegate.judge.judge import judge
from tidegate.model.rule_set import Rule, RuleSet

CHECK = "tilted-islands"


def turned(degrees: float) -> object:
    return laid(sheet(400, 400, 500, 500, turn=degrees))


@pytest.mark.parametrize(("degrees", "told"), [(0, False), (9.99, False), (10, False), (10.01, True), (-10.01, True)])
def test_both_sides_of_the_tolerance(degrees: float, told: bool) -> None:
    found = findings(CHECK, turned(degrees), tolerance_degrees=10)
    assert bool(found) is told
    if told:
        assert found[0].measured == pytest.approx(abs(degrees), abs=1e-3)
        way = "clockwise" if degrees > 0 else "counter-clockwise"
        assert f"turn island 1 by {abs(degrees):.3g} degrees {way}" in found[0].help


@pytest.mark.parametrize(
    ("allow", "right"),
    [("upright", {0}), ("sideways", {0, 90, 270}), ("any", {0, 90, 180, 270})],
)
def test_what_may_stand_how(allow: str, right: set[int]) -> None:
    for degrees in (0, 90, 180, 270):
        assert (findings(CHECK, turned(degrees), allow=allow) == []) is (degrees in right)


def hinged(low_left: tuple[float, float]) -> Sheet:
    """A square metre above a level edge and one below it, in one plane; the upper is laid out upright on texels 400 to 500,
    the lower one joined to it with its lower left corner at `low_left`, so its up runs from there to (400, 400)."""
    x, y = low_left
    points = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0, -1, 0], [1, -1, 0]], float)
    texels = np.array([[400, 400], [500, 400], [500, 500], [400, 500], [x, y], [x + 100, y]], float)
    return Sheet(points, np.array([[0, 1, 2], [0, 2, 3], [4, 5, 1], [4, 1, 0]]), texels / 1024)


# The lower square is sheared by 45 degrees: ups of 90 and 135 degrees over equal surfaces give 112.5 degrees with a
# certainty of cos(22.5 degrees) = 0.92388.
@pytest.mark.parametrize(("limit", "sure"), [(0.9238, True), (0.9240, False)])
def test_both_sides_of_the_certainty(limit: float, sure: bool) -> None:
    (found,) = findings(CHECK, laid(hinged((500, 300))), certainty=limit)
    assert found.certain is sure
    if sure:
        assert found.measured == pytest.approx(22.5, abs=1e-3)
    else:
        assert found.level == "note" and found.measured == pytest.approx(0.92388, abs=1e-5)


def test_ups_that_cancel_out_are_a_note_and_points_of_color_are_not_asked() -> None:
    folded_over = hinged((400, 500))  # up runs down there
    (found,) = findings(CHECK, laid(folded_over, sheet(520, 520, 1020, 1020), collapsed(sheet(100, 600, 200, 700))))
    assert (found.certain, found.level, found.place.islands) == (False, "note", (2,))
    assert findings(CHECK, laid(folded_over), allow="any") == []  # any way up is right, so nothing has to be told


def flipped(*sheets: Sheet, how: str = "top to bottom") -> list[Sheet]:
    """The layout as a whole in a mirror: V turned over, U turned over, or U and V swapped."""
    turn = {
        "top to bottom": lambda uv: np.stack([uv[:, 0], 1 - uv[:, 1]], 1),
        "left to right": lambda uv: np.stack([1 - uv[:, 0], uv[:, 1]], 1),
        "swapped": lambda uv: uv[:, ::-1],
        "swapped and turned over": lambda uv: 1 - uv[:, ::-1],
    }[how]
    return [one._replace(uv=turn(one.uv)) for one in sheets]


FOUR = [sheet(100 + 200 * k, 100, 200 + 200 * k, 200, turn=8.0 * (k % 2)) for k in range(4)]


@pytest.mark.parametrize(
    ("how", "told"),
    [
        ("top to bottom", "by being mirrored top to bottom"),
        ("left to right", ""),
        ("swapped", "by being mirrored over the diagonal"),
        ("swapped and turned over", "by being mirrored over the diagonal"),
    ],
)
def test_a_layout_mirrored_as_a_whole_has_one_cause(how: str, told: str) -> None:
    thing = laid(*flipped(*FOUR, how=how))
    verdict, found = judge(
        facts_of(thing, *checks.get(CHECK).needs, *checks.get("mirrored-islands").needs),
        RuleSet("s", "s", tuple(rule(name) for name in (CHECK, "mirrored-islands")), "0" * 64),
        checks.get,
    )
    assert verdict == "returned"
    assert [(f.check, f.cause) for f in found] == [("mirrored-islands", "")] + [(CHECK, "mirrored-islands")] * bool(
        told
    )
    assert told in found[-1].message and found[-1].place.islands == (1, 2, 3, 4)


def rule(check: str, **limits: object) -> Rule:
    return Rule(check, "error", {one.name: limits.get(one.name, one.default) for one in checks.get(check).limits})


def test_where_mirrors_are_let_be_their_tilt_stands_by_itself() -> None:
    thing = laid(*flipped(*FOUR))
    for rules in ((rule(CHECK),), (rule(CHECK), rule("mirrored-islands", allow="freely"))):
        needs = {need for one in rules for need in checks.get(one.check).needs}
        _, found = judge(facts_of(thing, *needs), RuleSet("s", "s", rules, "0" * 64), checks.get)
        assert [(f.check, f.cause, f.measured) for f in found] == [(CHECK, "", 180.0)]
        assert "turn none" in found[0].help


@pytest.mark.parametrize(("turn", "righted"), [(9.99, True), (10.01, False)])
def test_a_mirrored_island_that_would_be_tilted_all_the_same_has_two_faults(turn: float, righted: bool) -> None:
    (found,) = findings(CHECK, laid(FOUR[0], *flipped(sheet(500, 500, 600, 600, turn=turn))))
    assert (found.cause == "mirrored-islands") is righted
    assert ("mirrored" in found.message) is righted and found.place.islands == (2,)


def test_one_island_swapped_among_others_is_no_mirrored_layout() -> None:
    (found,) = findings(CHECK, laid(FOUR[0], *flipped(sheet(500, 400, 600, 500), how="swapped")))
    assert found.cause == "" and found.measured == 90.0


def test_righted_and_tilted_islands_of_one_map_are_told_apart() -> None:
    thing = laid(FOUR[0], *flipped(sheet(500, 500, 600, 600)), sheet(700, 700, 800, 800, turn=30))
    mirrored, tilted = findings(CHECK, thing)
    assert (mirrored.place.islands, mirrored.measured, mirrored.cause) == ((2,), 180.0, "mirrored-islands")
    assert (tilted.place.islands, tilted.measured, tilted.cause) == ((3,), 30.0, "")
    assert "turn island 3 by 30 degrees clockwise" in tilted.help
