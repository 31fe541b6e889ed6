"""Layout and maps against the version delivered before."""

from __future__ import annotations

import copy
from typing import Any

from tidegate.report.previous import against_previous


def record(box: tuple[float, float, float, float] = (0.1, 0.1, 0.4, 0.4), color: str = "a" * 64) -> dict[str, Any]:
    return {
        "files": [{"path": "bench_base_color.png", "sha256": color}, {"path": "bench.glb", "sha256": "f" * 64}],
        "facts": {
            "islands": [{"uv_layer": 0, "tile": 1001, "triangles": 2, "bounds": list(box)}],
            "maps": [{"path": "bench_base_color.png"}],
        },
    }


def names(before: dict[str, Any], now: dict[str, Any]) -> list[tuple[str, str]]:
    return [(finding.check, finding.level) for finding in against_previous(before, now)]


def test_a_moved_island_under_the_same_map_is_told() -> None:
    assert names(record(), record(box=(0.2, 0.1, 0.5, 0.4))) == [("layout-changed-maps-not", "warning")]


def test_a_repaint_on_the_same_layout_is_a_note() -> None:
    assert names(record(), record(color="b" * 64)) == [("maps-changed-layout-not", "note")]


def test_nothing_is_said_when_both_changed_or_neither() -> None:
    assert names(record(), record()) == []
    assert names(record(), record((0.2, 0.1, 0.5, 0.4), "b" * 64)) == []


def test_a_mesh_change_alone_is_no_layout_change() -> None:
    now = record()
    now["files"][1]["sha256"] = "0" * 64
    assert names(record(), now) == []


def test_a_new_map_beside_the_old_one_counts_as_maps_changed() -> None:
    now = record((0.2, 0.1, 0.5, 0.4))
    now["files"].append({"path": "bench_normal.png", "sha256": "c" * 64})
    now["facts"]["maps"].append({"path": "bench_normal.png"})
    assert names(record(), now) == []


def test_a_report_that_was_tampered_with_costs_only_the_comparison() -> None:
    for broken in ({}, {"facts": None, "files": []}, {"facts": {"islands": [{}]}, "files": [{}]}):
        assert against_previous(broken, record()) == ()
    before = copy.deepcopy(record())
    before["files"][0]["sha256"] = ""
    assert names(before, record(color="b" * 64)) == []
