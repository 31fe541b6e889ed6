"""Which return a mended file completes, and that an old mesh never comes over a new one."""

from __future__ import annotations

import errno
import os
import shutil
import unicodedata
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from tests.gate.bench import NOW, Bench
from tests.gate.hostile_case import OBJ, crate, good_map
from tests.load.pictures import noise, saved
from tidegate.cli.terms import with_rule_sets
from tidegate.errors import TransientFault
from tidegate.gate import handed, one_drop
from tidegate.gate.handed import Handed
from tidegate.gate.handed_before import HandedBefore
from tidegate.gate.make_ticket import make_ticket
from tidegate.gate.outcome import Outcome
from tidegate.gate.publish import Delivered
from tidegate.gate.redrop_story import story
from tidegate.gate.ticket import Ticket
from tidegate.load.names_file import read_names
from tidegate.passage import TakeThrough, Terms


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def drop(bench: Bench, note: bytes, *, prop: str = "float", folder: str = "", base: bytes = b"wrong") -> Delivered:
    """A whole prop through the gate. note: what its mesh holds. base: what its base color holds; `wrong` is returned."""
    folder = folder or prop
    bench.put(f"{folder}/{prop}.obj", note)
    bench.put(f"{folder}/{prop}_base_color.png", base)
    bench.put(f"{folder}/{prop}_normal.png", b"normal")
    return next(each for each in bench.through() if each.record.prop == prop)


def alone(bench: Bench, name: str, data: bytes = b"mended", in_hand: tuple[Ticket, ...] = ()) -> str:
    """What the report of a lone file says that completes nothing."""
    bench.put(name, data)
    taken = bench.ticket(in_hand)
    assert (taken.completes, len(taken.moves)) == ("", 1)
    prepared = one_drop.prepare(bench.claim(in_hand), bench.layout, bench.rules)
    assert prepared.context.redrop is None
    return prepared.context.near


def mesh_of(bench: Bench, name: str, data: bytes = b"mended") -> bytes:
    """The mesh of the return that a lone file completes."""
    bench.put(name, data)
    taken = bench.claim()
    assert taken.completes and not taken.near
    (mesh,) = (bench.layout.claimed_folder(taken.ticket) / "drop").rglob("*.obj")
    return mesh.read_bytes()


@pytest.mark.parametrize("set_back", [timedelta(0), timedelta(hours=1)])
def test_a_return_older_than_a_delivered_version_is_not_completed(bench: Bench, set_back: timedelta) -> None:
    old = drop(bench, b"monday")
    bench.put("float/float.obj", b"tuesday")
    bench.put("float/float_base_color.png", b"fine")
    (new,) = bench.through(now=NOW - set_back)
    assert (new.record.verdict, new.version) == ("approved", 1)
    assert alone(bench, "float_normal.png") == (
        f"float v001 was delivered after the return {old.at.name}: drop its mesh and maps together"
    )
    assert {path.name for path in old.at.iterdir()} >= {"float.obj", "float_base_color.png", "float_normal.png"}


def test_a_return_newer_than_the_delivered_version_is_completed(bench: Bench) -> None:
    drop(bench, b"monday", base=b"fine")
    drop(bench, b"tuesday")
    assert mesh_of(bench, "float_base_color.png") == b"tuesday"


def test_a_mesh_without_its_textures_does_not_bring_old_maps_over_new_ones(bench: Bench) -> None:
    drop(bench, b"monday")
    drop(bench, b"tuesday", base=b"fine")
    bench.missing = ("float_base_color.png", "float_normal.png")
    assert "float v001 was delivered after the return" in alone(bench, "float.obj", b"wednesday")


def test_what_another_owner_delivered_makes_no_return_old(tmp_path: Path, bench: Bench) -> None:
    """Completed, it is returned for its name; judged alone, for want of a mesh, which says less."""
    drop(bench, b"monday")
    drop(Bench(tmp_path, name="vendor", owner="yard"), b"theirs", base=b"fine")
    assert mesh_of(bench, "float_base_color.png") == b"monday"


def test_a_copy_beside_a_return_is_not_taken_for_it(bench: Bench) -> None:
    old = drop(bench, b"monday")
    copy = old.at.with_name(f"{old.at.name} - Copy")
    shutil.copytree(old.at, copy)
    bench.put("float_base_color.png", b"mended")
    assert bench.ticket().completes == str(old.at)
    bench.through()
    assert not old.at.exists()
    assert alone(bench, "float_base_color.png", b"again") == (
        f"float v001 was delivered after the return {copy.name}: drop its mesh and maps together"
    )


def test_a_copy_of_a_return_gives_way_to_the_newer_return(bench: Bench) -> None:
    old = drop(bench, b"monday")
    copy = shutil.copytree(old.at, old.at.with_name("zz - Copy"))
    bench.put("float_base_color.png", b"wrong still")
    again = next(each for each in bench.through() if each.record.tree == "returned")
    bench.put("float_base_color.png", b"mended")
    assert bench.ticket().completes == str(again.at)
    assert copy.is_dir()


def in_hand(bench: Bench, files: dict[str, bytes], name: str = "") -> Ticket:
    """The ticket of a folder drop that is just being judged; nothing of it is left in the inbox."""
    for path, data in files.items():
        bench.put(f"{name}/{path}", data)
    taken = bench.ticket()
    shutil.rmtree(bench.paths.inbox / name)
    return taken


def test_a_return_without_mesh_is_not_completed_while_one_with_a_mesh_fits(bench: Bench) -> None:
    drop(bench, b"monday")
    busy = in_hand(bench, {"float.obj": b"tuesday"}, "float")
    for name in ("float_base_color.png", "float_normal.png"):
        bench.put(name, b"wrong, alone")
    prepared = one_drop.prepare(bench.claim([busy]), bench.layout, bench.rules)
    told = f"float is still in hand as {busy.ticket}: wait for its verdict, then drop the mended files again"
    assert prepared.context.near == told
    bare = Outcome("float", "returned", ("float_base_color.png", "float_normal.png"))
    one_drop.finish(prepared, [bare], bench.layout, NOW, lambda delivered: None)
    assert mesh_of(bench, "float_normal.png") == b"monday"


def test_maps_that_never_had_a_mesh_complete_each_other_and_are_told_so(bench: Bench) -> None:
    for name in ("paving_base_color.png", "paving_normal.png"):
        bench.put(name, b"wrong")
    (first,) = bench.through([Outcome("paving", "returned", ("paving_base_color.png", "paving_normal.png"))])
    bench.put("paving_normal.png", b"mended")
    taken = bench.claim()
    assert taken.completes == str(first.at)
    told = f"the return {first.at.name}, which it completes, has no mesh either: drop its mesh and maps together"
    assert one_drop.prepare(taken, bench.layout, bench.rules).context.near == told


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("FLOAT_Base_Color.PNG", "float_base_color.png"),  # the place and name of the file that it mends
        (unicodedata.normalize("NFD", "bouée_normal.png"), unicodedata.normalize("NFC", "bouée_normal.png")),
        ("Float_Rust.png", "Float_Rust.png"),  # new: under its own name
    ],
)
def test_names_compare_as_file_systems_that_fold_case_do(bench: Bench, name: str, place: str) -> None:
    drop(bench, b"mesh", prop="float" if "loat" in name.lower() else unicodedata.normalize("NFC", "bouée"))
    bench.put(name, b"mended")
    taken = bench.claim()
    root = bench.layout.claimed_folder(taken.ticket) / taken.drop_folder
    assert (root / place).read_bytes() == b"mended"
    assert len(list(root.iterdir())) == (4 if "Rust" in name else 3)


def test_two_files_that_would_go_to_one_place_complete_nothing(bench: Bench) -> None:
    old = drop(bench, b"mesh")
    bench.put("float_normal.png", b"one")
    bench.put("Float_Normal.png", b"two")
    if len(list(bench.paths.inbox.iterdir())) < 2:
        pytest.skip("this file system holds only one of them")
    (taken,) = (
        make_ticket(replace(each, files=files), bench.layout, bench.rules, HandedBefore(bench.layout), (), NOW)
        for each in bench.drops()[:1]
        for files in [tuple(file for one in bench.drops() for file in one.files)]
    )
    assert (taken.completes, taken.near) == ("", "two of the files go to the same place of the return: name them apart")
    assert old.at.is_dir()


def test_a_map_goes_to_the_longest_name_over_delivered_and_waiting_props(bench: Bench) -> None:
    old = drop(bench, b"mesh", prop="crate")
    large = in_hand(bench, {"crate_large.obj": b"mesh"}, "crate_large")
    assert f"crate_large is still in hand as {large.ticket}" in alone(
        bench, "crate_large_occlusion.png", in_hand=(large,)
    )
    drop(bench, b"mesh", prop="crate_large", base=b"fine")
    assert alone(bench, "crate_large_height.png") == (
        "by its name it belongs to crate_large, of which v001 is delivered, "
        f"and not to the return {old.at.name}: drop its mesh and maps together"
    )
    assert mesh_of(bench, "crate_larger_height.png") == b"mesh"


def test_a_file_that_the_return_has_is_its_own_whatever_longer_name_is_delivered(bench: Bench) -> None:
    bench.put("crate/crate.obj", b"wrong")
    bench.put("crate/crate_large_sign.png", b"sign")
    bench.through()
    drop(bench, b"mesh", prop="crate_large", base=b"fine")
    assert mesh_of(bench, "crate_large_sign.png") == b"wrong"


def test_a_category_before_the_name_is_seen_through(bench: Bench) -> None:
    bench.put("a/buoys_crate.obj", b"wrong")
    bench.through([Outcome("crate", "returned", ("buoys_crate.obj",))])
    drop(bench, b"mesh", prop="crate_large", base=b"fine")
    assert "belongs to crate_large" in alone(bench, "buoys_crate_large_height.png")
    assert mesh_of(bench, "buoys_crate_height.png") == b"wrong"


@pytest.mark.parametrize("name", ["buoy_normal.png", "buoy_normal.tga"])
def test_a_map_in_another_format_is_as_much_one_of_the_drop_in_hand(bench: Bench, name: str) -> None:
    """Taken for the older return's alone, it would bring monday's mesh over tuesday's."""
    bench.put("float/float.obj", b"monday")
    bench.put("float/buoy_normal.png", b"wrong")
    bench.through([Outcome("float", "returned", ("buoy_normal.png", "float.obj"))])
    busy = in_hand(bench, {"float.obj": b"tuesday", "buoy_normal.png": b"x"}, "float")
    assert "still in hand" in alone(bench, name, in_hand=(busy,))


def test_of_two_formats_of_one_map_the_second_is_new() -> None:
    files = (("a.png", 1, "before"),)
    record = Handed("T-1", 1, "g", "o", "a", "a", "returned", "returned", (), "", "", "", "", files, ())
    told = story(record, [("a.tga", "one"), ("a.jpg", "other")], (".png", ".tga", ".jpg"))
    assert (told.instead, told.new, told.missing) == ((("a.jpg", "a.png"),), ("a.tga",), ())


def test_a_prop_in_hand_is_not_completed_from_its_older_return(bench: Bench) -> None:
    drop(bench, b"monday")
    busy = in_hand(bench, {"float.obj": b"tuesday", "float_base_color.png": b"x"}, "tuesday")
    assert f"tuesday is still in hand as {busy.ticket}" in alone(bench, "float_normal.png", in_hand=(busy,))


def test_another_prop_in_hand_holds_nothing_up(bench: Bench) -> None:
    drop(bench, b"monday", prop="crate_large")
    busy = in_hand(bench, {"crate.obj": b"mesh"}, "crate")  # a shorter name than the return's
    bench.put("crate_large_normal.png", b"mended")
    assert bench.ticket([busy]).completes


def test_two_props_that_share_the_map_are_named(bench: Bench) -> None:
    for prop in ("bench", "sign"):
        bench.put(f"{prop}/{prop}.obj", b"wrong")
        bench.put(f"{prop}/shared_wood.png", b"wood")
        bench.through()
    assert alone(bench, "shared_wood.png") == (
        "it fits the returned props bench and sign alike: drop it together with the mesh it belongs to"
    )


def test_delivered_already_and_nothing_to_mend(bench: Bench) -> None:
    drop(bench, b"mesh", base=b"fine")
    assert alone(bench, "Float_normal.png") == (
        "float v001 is delivered and no return of it lies here to be mended: drop its mesh and maps together"
    )


def test_a_stranger_is_told_nothing(bench: Bench) -> None:
    drop(bench, b"mesh", base=b"fine")
    assert alone(bench, "floater_normal.png") == ""


def test_one_map_for_two_files_of_the_same_bare_name_is_judged_alone(bench: Bench) -> None:
    bench.put("float/float.obj", b"wrong")
    for folder in ("hi", "lo"):
        bench.put(f"float/{folder}/float_base_color.png", folder.encode())
    (old,) = bench.through()
    before = bench.files("returned")
    assert alone(bench, "float_base_color.png") == (
        f"the return {old.at.name} has hi/float_base_color.png and lo/float_base_color.png: "
        "put it in its place there and drop that folder whole"
    )
    assert bench.files("returned") == before


@pytest.mark.parametrize(
    ("gone", "told"),
    [
        (("float.obj", "float_base_color.png", "float_normal.png"), "holds none of its files any more"),
        (("float.obj",), "does not hold its mesh any more"),
        (("float_normal.png",), ""),
    ],
)
def test_a_return_that_the_artist_emptied_is_not_completed(bench: Bench, gone: tuple[str, ...], told: str) -> None:
    old = drop(bench, b"mesh")
    for name in gone:
        (old.at / name).unlink()
    if told:
        assert told in alone(bench, "float_base_color.png")
    else:
        assert mesh_of(bench, "float_base_color.png") == b"mesh"


@pytest.mark.parametrize("how", ["removed", "unreadable"])
def test_behind_a_newer_return_without_record_nothing_older_is_taken(
    bench: Bench, how: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = drop(bench, b"monday")
    new = drop(bench, b"tuesday")
    if how == "removed":
        (new.at / handed.RECORD).unlink()
    else:
        real = Path.read_bytes

        def failing(path: Path) -> bytes:
            if path == new.at / handed.RECORD:
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            return real(path)

        monkeypatch.setattr(Path, "read_bytes", failing)
    assert alone(bench, "float_base_color.png") == (
        f"{new.at.name} is newer than the return {old.at.name}, and its record cannot be read: "
        "drop its mesh and maps together"
    )


def test_what_was_delivered_and_cannot_be_read_decides_nothing(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    drop(bench, b"monday")
    new = drop(bench, b"tuesday", base=b"fine")
    real = Path.read_bytes

    def failing(path: Path) -> bytes:
        if path == new.at / handed.RECORD:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return real(path)

    monkeypatch.setattr(Path, "read_bytes", failing)
    bench.put("float_normal.png", b"mended")
    with pytest.raises(TransientFault, match="delivered before"):
        bench.ticket()


@pytest.mark.parametrize("tree", ["returned", "delivery"])
def test_a_tree_that_is_not_mounted_is_not_empty(bench: Bench, tree: str) -> None:
    drop(bench, b"monday")
    (bench.base / tree).rename(bench.base / "volume")
    (bench.base / tree).mkdir()
    bench.put("float_normal.png", b"mended")
    with pytest.raises(TransientFault, match="a tree of the gate is gone"):
        bench.ticket()


def test_many_loose_maps_join_one_return(bench: Bench) -> None:
    drop(bench, b"mesh")
    for number in range(150):
        bench.put(f"float_{number:03}_decal.png", b"new %d" % number)
    taken = bench.claim()
    root = bench.layout.claimed_folder(taken.ticket) / "drop/float"
    assert taken.completes
    assert len(list(root.iterdir())) == 3 + 150


def variant(bench: Bench, color: str, more: str = "") -> Delivered:
    """One texture variant of a bench, dropped alone with the mesh that all of them share; it comes back."""
    bench.put("bench/bench.obj", b"mesh")
    bench.put("bench/bench_normal.png", b"shared")
    bench.put(f"bench/bench_{color}_base_color.png", b"wrong")
    if more:
        bench.put(f"bench/{more}", b"more")
    (each,) = bench.through()
    return each


def test_a_map_of_one_variant_is_not_added_to_a_later_return_of_another(bench: Bench) -> None:
    red, blue = variant(bench, "red"), variant(bench, "blue")
    assert alone(bench, "bench_red_base_color.png") == (
        f"the return {red.at.name} has bench_red_base_color.png, and {blue.at.name}, which came later, "
        "has bench_blue_base_color.png: drop its mesh and maps together"
    )
    assert red.at.is_dir() and blue.at.is_dir()


def test_a_map_of_the_later_variant_completes_it(bench: Bench) -> None:
    variant(bench, "red")
    blue = variant(bench, "blue")
    bench.put("bench_blue_base_color.png", b"mended")
    assert bench.ticket().completes == str(blue.at)


@pytest.mark.parametrize(
    ("older", "later", "name"),
    [
        ("bench_height.png", "", "bench_height.png"),  # forgotten the second time
        ("bench_leg_roughness.png", "bench_seat_height.png", "bench_leg_roughness.png"),  # of another kind
        ("bench_leg_normal.png", "", "bench_leg_normal.png"),  # what is like it, both have
        ("", "bench_red_height.png", "bench_blue_height.png"),  # none had it
    ],
)
def test_what_the_newest_return_lacks_comes_to_it(bench: Bench, older: str, later: str, name: str) -> None:
    variant(bench, "red", older)
    newest = variant(bench, "red", later)
    bench.put(name, b"mended")
    assert bench.ticket().completes == str(newest.at)


def test_through_the_real_judge_the_report_says_why(bench: Bench) -> None:
    """Monday's crate lacks a map, Tuesday's is whole; a map dropped later must not bring Monday's mesh back."""
    judge = TakeThrough(with_rule_sets(Terms(scheme=read_names(), rule_set="first_look")))
    bench.put("furniture_crate/furniture_crate.glb", crate(base_color="crate_base_color.png").glb())
    (monday,) = bench.through(judge)
    bench.put("furniture_crate/furniture_crate.glb", crate(base_color="crate_base_color.png").glb())
    bench.put("furniture_crate/crate_base_color.png", good_map())
    (tuesday,) = bench.through(judge)
    assert (monday.record.verdict, tuesday.record.verdict, tuesday.version) == ("returned", "approved", 1)
    bench.put("crate_normal.png", good_map())
    (lone,) = bench.through(judge)
    assert (lone.record.verdict, lone.record.prop) == ("returned", "crate")
    assert [path for path, _, _ in lone.record.files] == ["crate_normal.png"]
    text = " ".join((lone.at / "crate.tidegate.txt").read_text("utf-8").split())
    assert "note stands-alone" in text
    assert f"crate v001 was delivered after the return {monday.at.name}: drop its mesh and maps together" in text
    assert monday.at.is_dir()
    assert [path.name for path in tuesday.at.parent.iterdir()] == ["v001"]


def test_through_the_real_judge_the_report_tells_of_another_format(bench: Bench) -> None:
    """The PNG is cut off; the mesh names no map, so that names alone bind it."""
    judge = TakeThrough(with_rule_sets(Terms(scheme=read_names(), rule_set="first_look", owner="slipway")))
    bench.put("furniture_crate/furniture_crate.obj", OBJ)
    bench.put("furniture_crate/crate.mtl", b"newmtl wood\n")
    bench.put("furniture_crate/crate_base_color.png", good_map()[:200])
    (first,) = bench.through(judge)
    bench.put("crate_base_color.tga", saved(noise("RGB", 64, 64), "TGA"))
    second, kept = bench.through(judge)
    assert (first.record.verdict, second.record.verdict) == ("returned", "approved")
    assert {path for path, _, _ in second.record.files} == {"crate.mtl", "crate_base_color.tga", "furniture_crate.obj"}
    text = " ".join((second.at / "crate.tidegate.txt").read_text("utf-8").split())
    assert "mended: crate_base_color.tga in place of crate_base_color.png" in text
    assert (kept.at / "superseded/crate_base_color.png").read_bytes() == good_map()[:200]
