"""The daily case: one mended map is dropped again alone."""

from __future__ import annotations

import errno
from datetime import timedelta
from pathlib import Path

import pytest

from tests.gate.bench import NOW, Bench
from tidegate.errors import TransientFault
from tidegate.gate import claim, durable, handed, one_drop, ticket
from tidegate.gate.manifest import faults_in
from tidegate.gate.outcome import Outcome


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    bench = Bench(tmp_path)
    bench.put("net_float/net_float.obj", b"mesh")
    bench.put("net_float/maps/net_float_base_color.png", b"wrong")
    bench.put("net_float/maps/net_float_normal.png", b"normal")
    bench.through()
    assert list(bench.paths.delivery.iterdir()) == [bench.paths.delivery / ".tidegate-staging"]
    return bench


def test_one_mended_map_completes_the_returned_prop(bench: Bench) -> None:
    bench.put("net_float_base_color.png", b"mended")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    story = prepared.context.redrop
    assert story is not None and prepared.context.drop == "net_float"
    assert story.mended == ("maps/net_float_base_color.png",)
    assert story.unchanged == ("maps/net_float_normal.png", "net_float.obj")
    assert (story.new, story.missing) == ((), ())
    files = ("maps/net_float_base_color.png", "maps/net_float_normal.png", "net_float.obj")
    outcome = Outcome("net_float", "approved", files, ("quay",))
    one, two = one_drop.finish(prepared, [outcome], bench.layout, NOW, lambda delivered: None)
    assert {path: (one.at / path).read_bytes() for path in files} == dict(
        zip(files, (b"mended", b"normal", b"mesh"), strict=True)
    )
    assert (two.at / "superseded/maps/net_float_base_color.png").read_bytes() == b"wrong"
    assert faults_in(one.at) == faults_in(two.at) == []
    assert list(bench.paths.returned.glob("net*")) == []


def test_a_new_map_of_the_prop_comes_along_as_new(bench: Bench) -> None:
    bench.put("net_float_height.png", b"new")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    assert prepared.context.redrop is not None
    assert prepared.context.redrop.new == ("net_float_height.png",)
    assert (prepared.root / "maps/net_float_base_color.png").read_bytes() == b"wrong"


@pytest.mark.parametrize("name", ["net_floater_base_color.png", "crate_base_color.png", "float_base_color.png"])
def test_a_foreign_map_completes_nothing(bench: Bench, name: str) -> None:
    bench.put(name, b"x")
    assert [move.to for move in bench.ticket().moves] == [f"drop/{name.split('.')[0]}/{name}"]


def test_a_new_export_of_the_mesh_stands_alone_unless_its_textures_are_missing(bench: Bench) -> None:
    bench.put("net_float.obj", b"mesh 2")
    assert len(bench.ticket().moves) == 1
    bench.missing = ("net_float_normal.png",)
    taken = bench.ticket()
    assert sorted(move.to for move in taken.moves if move.to.startswith("drop/")) == [
        "drop/net_float/maps/net_float_base_color.png",
        "drop/net_float/maps/net_float_normal.png",
        "drop/net_float/net_float.obj",
    ]


@pytest.mark.parametrize("set_back", [timedelta(0), timedelta(hours=1), timedelta(days=4000)])
def test_the_newest_return_wins_whatever_the_clock_says(bench: Bench, set_back: timedelta) -> None:
    """The first came at NOW; the second in the same instant, or after the clock was set back."""
    bench.put("net_float/net_float.obj", b"mesh 2")
    bench.put("net_float/maps/net_float_base_color.png", b"wrong again")
    bench.through(now=NOW - set_back)
    bench.put("net_float_base_color.png", b"mended")
    root = bench.layout.claimed_folder(bench.claim().ticket)
    assert (root / "drop/net_float/net_float.obj").read_bytes() == b"mesh 2"


def test_where_two_props_fit_equally_none_is_taken(bench: Bench) -> None:
    bench.put("other/other.obj", b"wrong")
    bench.put("other/net_float_base_color.png", b"theirs")
    bench.through()
    bench.put("net_float_base_color.png", b"mended")
    assert len(bench.ticket().moves) == 1


def test_giving_back_restores_the_returned_folder(bench: Bench) -> None:
    (home,) = bench.paths.returned.glob("net*")
    before = bench.files("returned")
    bench.put("net_float_base_color.png", b"mended")
    taken = bench.claim()
    assert not home.exists()
    claim.give_back(taken, bench.layout)
    assert bench.files("returned") == before
    assert home.is_dir()
    assert bench.files("inbox") == {"net_float_base_color.png": b"mended"}
    assert faults_in(home) == []


@pytest.mark.parametrize("again", ["give back", "take"])
def test_while_the_returned_tree_is_not_there_the_ticket_stays(bench: Bench, again: str) -> None:
    """Its volume is not mounted: the folder that was taken out of sight is on it, and comes back with it."""
    before = bench.files("returned")
    bench.put("net_float_base_color.png", b"mended")
    taken = bench.ticket()
    durable.write_file(bench.layout.ticket_file(taken.ticket), ticket.to_bytes(taken))
    claim._take_completed(taken, bench.layout)  # and there the machine stopped
    volume = bench.paths.returned.rename(bench.base / "volume")
    bench.paths.returned.mkdir()
    with pytest.raises(TransientFault, match="a tree of the gate is gone"):
        if again == "take":
            claim.take(taken, bench.layout, bench.rules)
        else:
            claim.give_back(taken, bench.layout)
    assert bench.layout.ticket_file(taken.ticket).exists()
    assert list(bench.paths.returned.iterdir()) == []
    bench.paths.returned.rmdir()
    volume.rename(bench.paths.returned)
    claim.give_back(taken, bench.layout)
    assert (bench.files("returned"), bench.files("inbox")) == (before, {"net_float_base_color.png": b"mended"})
    assert list(bench.layout.tickets.iterdir()) == []


def test_a_record_that_could_not_be_read_once_is_read_again(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.put("net_float_base_color.png", b"mended")
    real, failures = Path.read_bytes, [OSError(errno.EIO, "Input/output error")]

    def failing(path: Path) -> bytes:
        if path.name == handed.RECORD and failures:
            raise failures.pop()
        return real(path)

    monkeypatch.setattr(Path, "read_bytes", failing)
    assert bench.ticket().completes
    assert failures == []


def test_another_gates_return_is_not_touched(tmp_path: Path, bench: Bench) -> None:
    vendor = Bench(tmp_path, name="vendor", owner="yard")
    vendor.put("net_float_base_color.png", b"mended")
    assert len(vendor.ticket().moves) == 1


def test_a_map_in_another_format_takes_the_place_of_the_old_one(bench: Bench) -> None:
    bench.put("Net_Float_base_color.tga", b"mended")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    story = prepared.context.redrop
    assert story is not None
    assert story.instead == (("maps/Net_Float_base_color.tga", "maps/net_float_base_color.png"),)
    assert (story.mended, story.new, story.missing) == ((), (), ())
    files = ("maps/Net_Float_base_color.tga", "maps/net_float_normal.png", "net_float.obj")
    outcome = Outcome("net_float", "approved", files, ("quay",))
    one, two = one_drop.finish(prepared, [outcome], bench.layout, NOW, lambda delivered: None)
    assert {path for path, _, _ in one.record.files} == set(files)
    assert (two.at / "superseded/maps/net_float_base_color.png").read_bytes() == b"wrong"


@pytest.mark.parametrize("name", ["net_float_base_color.psd", "net_float_base_color.tif", "net_float.mtl"])
def test_a_master_lies_beside_its_map(bench: Bench, name: str) -> None:
    bench.put(name, b"layers")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    assert prepared.context.redrop is not None
    assert (prepared.context.redrop.new, prepared.context.redrop.instead) == ((name,), ())
    assert (prepared.root / "maps/net_float_base_color.png").read_bytes() == b"wrong"


def test_a_map_that_comes_in_two_formats_mends_the_one_and_joins_as_the_other(bench: Bench) -> None:
    bench.put("net_float_base_color.png", b"mended")
    bench.put("net_float_base_color.tga", b"too")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    story = prepared.context.redrop
    assert story is not None
    assert (story.mended, story.new) == (("maps/net_float_base_color.png",), ("maps/net_float_base_color.tga",))


def test_a_shared_map_in_another_format_is_found_by_its_stem(bench: Bench) -> None:
    bench.put("shed/shed.obj", b"wrong")
    bench.put("shed/wood.jpg", b"lossy")
    bench.through()
    bench.put("wood.png", b"mended")
    taken = bench.claim()
    assert "drop/shed/wood.png" in {move.to for move in taken.moves}
    assert "superseded/wood.jpg" in {move.to for move in taken.moves}
    assert "drop/shed/wood.jpg" not in {move.to for move in taken.moves}


def test_a_returned_folder_dropped_back_with_a_map_in_another_format_is_told_so(bench: Bench) -> None:
    (home,) = bench.paths.returned.glob("net*")
    home.rename(bench.paths.inbox / "net_float")
    (bench.paths.inbox / "net_float/maps/net_float_base_color.png").unlink()
    bench.put("net_float/maps/net_float_base_color.tga", b"mended")
    story = one_drop.prepare(bench.claim(), bench.layout, bench.rules).context.redrop
    assert story is not None
    assert story.instead == (("maps/net_float_base_color.tga", "maps/net_float_base_color.png"),)
    assert (story.new, story.missing) == ((), ())
