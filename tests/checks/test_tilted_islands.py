"""Which way up islands stand. The marker of an unturned sheet points up, 90 degrees from +U."""

from __future__ import annotations

import numpy as np
import pytest

from tests.support.laid_props import Sheet, collapsed, laid, sheet
from tests.support.mesh_props import findings

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
        assert f"turn island 1 {abs(degrees):.3g} degrees {way}" in found[0].help


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
