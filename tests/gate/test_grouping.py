"""Which loose files are one drop."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.gate.grouping import by_name, drops_in
from tidegate.gate.scan import look
from tidegate.gate.settings import GateRules, Questions

MESHES = (".obj", ".glb")


def test_references_then_stems_then_first_fields() -> None:
    names = ["crate.mtl", "crate.obj", "crate_base_color.png", "net_a.png", "net_b.png", "sign.png", "wood.png"]
    assert by_name(names, MESHES, {"crate.obj": ("wood.png", "not_there.png")}) == [
        ["crate.mtl", "crate.obj", "crate_base_color.png", "wood.png"],
        ["net_a.png", "net_b.png"],
        ["sign.png"],
    ]


def test_the_longest_stem_wins() -> None:
    """A mesh whose name begins with another's stem is its level of detail or part: they come as one drop."""
    names = ["crate.obj", "crate_lid.obj", "crate_lid_normal.png"]
    assert by_name(names, MESHES, {}) == [names]


def test_meshes_of_unrelated_stems_stay_apart_and_share_by_reference() -> None:
    names = ["bench.obj", "bench_normal.png", "sign.obj", "sign_normal.png", "wood.png"]
    assert by_name(names, MESHES, {}) == [
        ["bench.obj", "bench_normal.png"],
        ["sign.obj", "sign_normal.png"],
        ["wood.png"],
    ]
    shared = {"bench.obj": ("wood.png",), "sign.obj": ("wood.png",)}
    assert by_name(names, MESHES, shared) == [names]


def test_a_stem_must_end_at_a_field() -> None:
    assert by_name(["net.obj", "network_normal.png"], MESHES, {}) == [["net.obj"], ["network_normal.png"]]


@given(st.lists(st.from_regex(r"[ab]{1,2}(_[ab])?\.(obj|png)", fullmatch=True), unique=True), st.randoms())
@settings(max_examples=60, deadline=None)
def test_every_file_is_in_one_group_whatever_the_order(names: list[str], random) -> None:
    groups = by_name(names, MESHES, {})
    assert sorted(name for group in groups for name in group) == sorted(names)
    random.shuffle(names)
    assert by_name(names, MESHES, {}) == groups


def test_archives_folders_and_loose_files_are_drops(tmp_path: Path) -> None:
    for name in ("set/a.obj", "set/a.png", "vendor.tar.gz", "vendor.obj", "vendor.png"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"x")
    drops = drops_in(look(tmp_path, GateRules()), GateRules(), Questions(), lambda file: ())
    assert [(drop.kind, drop.name, [file.path for file in drop.files]) for drop in drops] == [
        ("archive", "vendor", ["vendor.tar.gz"]),
        ("folder", "set", ["set/a.obj", "set/a.png"]),
        ("loose", "vendor", ["vendor.obj", "vendor.png"]),
    ]
