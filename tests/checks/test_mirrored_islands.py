"""Mirrored islands: never, on an unmirrored twin, or freely."""

from __future__ import annotations

import pytest

from tests.support.laid_props import laid, sheet
from tests.support.mesh_props import findings

CHECK = "mirrored-islands"
RIGHT = sheet(100, 100, 200, 200)
TWIN = sheet(100, 100, 200, 200, mirrored=True)
ALONE = sheet(300, 100, 400, 200, mirrored=True)


@pytest.mark.parametrize(("allow", "bad"), [("never", 2), ("stacked", 1), ("freely", 0)])
def test_each_permission(allow: str, bad: int) -> None:
    found = findings(CHECK, laid(RIGHT, TWIN, ALONE), allow=allow)
    assert sum(f.measured for f in found) == bad
    if allow == "stacked":
        assert found[0].place.islands == (3,) and "without an unmirrored twin" in found[0].message


def test_two_mirrored_ones_on_each_other_have_no_unmirrored_twin() -> None:
    (found,) = findings(CHECK, laid(TWIN, TWIN, RIGHT._replace(uv=RIGHT.uv + 0.5)), allow="stacked")
    assert found.measured == 2


def test_a_twin_shifted_by_a_texel_is_none() -> None:
    shifted = sheet(101, 100, 201, 200, mirrored=True)
    assert findings(CHECK, laid(RIGHT, shifted), allow="stacked")[0].measured == 1


def test_turning_is_not_mirroring() -> None:
    for degrees in (30, 90, 180, 270):
        assert findings(CHECK, laid(sheet(100, 100, 200, 200, turn=degrees))) == []


def test_when_all_are_mirrored_the_export_is_suspected() -> None:
    (found,) = findings(CHECK, laid(TWIN, ALONE))
    assert "the export may have turned its UVs over" in found.help
    (found,) = findings(CHECK, laid(RIGHT, ALONE))
    assert "flip these islands" in found.help
