"""COMMIT 2: where everything ends, and that nothing is ever replaced."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from tests.gate.bench import NOW, Bench
from tidegate.errors import PermanentFault, TransientFault
from tidegate.gate import handed, one_drop
from tidegate.gate.hand_over import set_aside
from tidegate.gate.manifest import MANIFEST, faults_in
from tidegate.gate.outcome import Outcome
from tidegate.gate.parts import our_own_reports
from tidegate.gate.publish import Delivered
from tidegate.gate.stage import Source, stage


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def approved(*files: str, prop: str = "crate", **more: object) -> Outcome:
    return Outcome(prop, "approved", files, place=("quay",), **more)


def only(delivered: tuple[Delivered, ...]) -> Delivered:
    (each,) = delivered
    return each


def nothing_left(bench: Bench) -> bool:
    folders = (bench.layout.tickets, bench.layout.claimed, bench.layout.handing, bench.layout.unpacked)
    folders += tuple(bench.layout.staging(tree) for tree in bench.paths.trees)
    return not any(list(folder.iterdir()) for folder in folders)


def test_versions_count_up_and_the_same_content_makes_none(bench: Bench) -> None:
    for data, name, same in ((b"a", "v001", False), (b"a", "v001", True), (b"b", "v002", False), (b"a", "v003", False)):
        bench.put("crate/crate.obj", data)
        each = only(bench.through([approved("crate.obj")]))
        assert (each.at.name, each.same) == (name, same)
        assert faults_in(each.at) == []
    home = bench.paths.delivery / "quay/crate"
    assert [(home / name / "crate.obj").read_bytes() for name in ("v001", "v002", "v003")] == [b"a", b"b", b"a"]
    assert nothing_left(bench)


def test_a_damaged_version_is_not_taken_for_the_same(bench: Bench) -> None:
    bench.put("crate/crate.obj", b"a")
    first = only(bench.through([approved("crate.obj")]))
    (first.at / "crate.obj").write_bytes(b"rotten")
    bench.put("crate/crate.obj", b"a")
    assert only(bench.through([approved("crate.obj")])).at.name == "v002"


def test_the_record_tells_it_all(bench: Bench) -> None:
    bench.put("crate/crate.obj", b"a")
    each = only(
        bench.through(
            [approved("crate.obj", sidecars=(("crate.tidegate.json", b"{}"),), version="v007", reason="fine")]
        )
    )
    record = handed.read(each.at)
    assert record is not None
    assert (record.owner, record.prop, record.place, record.file_version) == ("slipway", "crate", ("quay",), "v007")
    assert [path for path, _, _ in record.files] == ["crate.obj"]
    assert [path for path, _ in record.sidecars] == ["crate.tidegate.json"]


def test_each_prop_goes_its_way_and_shared_files_go_both(bench: Bench) -> None:
    for name in ("bench.obj", "sign.obj", "wood.png", "notes.txt"):
        bench.put(f"set/{name}", name.encode())
    outcomes = [approved("bench.obj", "wood.png", prop="bench"), Outcome("sign", "returned", ("sign.obj", "wood.png"))]
    one, two = bench.through(outcomes)
    assert sorted(path for path, _, _ in one.record.files) == ["bench.obj", "wood.png"]
    assert sorted(path for path, _, _ in two.record.files) == ["notes.txt", "sign.obj", "wood.png"]
    assert two.at.parent == bench.paths.returned
    assert nothing_left(bench)


@pytest.mark.parametrize("outcomes", [[], [approved("crate.obj")]])
def test_what_no_prop_names_is_never_delivered_and_never_lost(bench: Bench, outcomes: list[Outcome]) -> None:
    bench.put("crate/crate.obj", b"mesh")
    bench.put("crate/stray.txt", b"stray")
    bench.through(outcomes)
    (aside,) = bench.paths.aside.glob("crate-*")
    assert (aside / "stray.txt").read_bytes() == b"stray"
    assert not list(bench.paths.delivery.rglob("stray.txt"))


def test_a_report_never_takes_the_name_of_a_file(bench: Bench) -> None:
    bench.put("crate/crate.tidegate.json", b"theirs")
    bench.put("crate/manifest-sha256.txt", b"theirs too")
    names = ("crate.tidegate.json", "manifest-sha256.txt")
    each = only(bench.through([Outcome("crate", "returned", names, sidecars=(("Crate.tidegate.json", b"ours"),))]))
    assert (each.at / "crate.tidegate.json").read_bytes() == b"theirs"
    assert (each.at / "report-Crate.tidegate.json").read_bytes() == b"ours"
    assert (each.at / "dropped-manifest-sha256.txt").read_bytes() == b"theirs too"
    assert faults_in(each.at) == []


@pytest.mark.parametrize("name", ["..", ".", "", "a/b", "a\0b", ".tidegate-staging"])
def test_a_prop_name_never_leads_elsewhere(bench: Bench, name: str) -> None:
    bench.put("crate/crate.obj", b"mesh")
    taken = bench.claim()
    prepared = one_drop.prepare(taken, bench.layout, bench.rules)
    with pytest.raises(PermanentFault):
        one_drop.finish(prepared, [approved("crate.obj", prop=name)], bench.layout, NOW, lambda delivered: None)
    each = only(set_aside(taken, PermanentFault("no name"), bench.layout, NOW, lambda delivered: None))
    assert (each.at / "crate.obj").read_bytes() == b"mesh"
    assert nothing_left(bench)


@pytest.mark.parametrize("verdict", ["returned", "unjudged"])
def test_odd_prop_names_outside_the_delivery_tree_are_made_harmless(bench: Bench, verdict: str) -> None:
    bench.put("crate/crate.obj", b"mesh")
    each = only(bench.through([Outcome("../" * 3 + "x" * 300, verdict, ("crate.obj",))]))
    assert each.at.parent in (bench.paths.returned, bench.paths.aside)
    assert len(os.fsencode(each.at.name)) <= 255


def test_a_file_that_is_not_the_one_judged_is_not_delivered(bench: Bench) -> None:
    bench.put("crate/crate.obj", b"mesh")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    outcome = approved("crate.obj", hashes=(("crate.obj", "0" * 64),))
    with pytest.raises(TransientFault, match="judged"):
        one_drop.finish(prepared, [outcome], bench.layout, NOW, lambda delivered: None)
    assert not list(bench.paths.delivery.rglob("crate.obj")) or not (bench.paths.delivery / "quay").exists()
    assert (prepared.root / "crate.obj").exists()


def test_judged_as_the_newest_version_and_changed_since_it_is_not_let_go(bench: Bench) -> None:
    """The judge's hash is the newest version's, the claimed file is another one by now and nowhere else."""
    bench.put("crate/crate.obj", b"mesh")
    only(bench.through([approved("crate.obj")]))
    bench.put("crate/crate.obj", b"mess")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    outcome = approved("crate.obj", hashes=(("crate.obj", hashlib.sha256(b"mesh").hexdigest()),))
    with pytest.raises(TransientFault, match="judged"):
        one_drop.finish(prepared, [outcome], bench.layout, NOW, lambda delivered: None)
    assert (prepared.root / "crate.obj").read_bytes() == b"mess"


def test_a_judge_that_names_foreign_files_is_not_believed(bench: Bench) -> None:
    bench.put("crate/crate.obj", b"mesh")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    for path in ("../../tickets/x", "/etc/passwd", "other.obj", "./crate.obj"):
        with pytest.raises(PermanentFault, match="judge"):
            one_drop.finish(prepared, [approved(path)], bench.layout, NOW, lambda delivered: None)


@pytest.mark.parametrize(
    ("other", "check"), [("crate", "name-taken"), ("Crate", "name-differs-in-case"), ("cra\u0301te", None)]
)
def test_a_name_of_another_owner_or_spelling_is_returned(tmp_path: Path, other: str, check: str | None) -> None:
    first = Bench(tmp_path)
    second = Bench(tmp_path, name="vendor", owner="yard")
    first.put("a/crate.obj", b"first")
    first.through([approved("crate.obj", prop=other)])
    second.put("b/crate.obj", b"second")
    each = only(second.through([approved("crate.obj")]))
    assert each.record.verdict == ("returned" if check else "approved")
    if check:
        assert each.record.reason.startswith(check)
        assert (each.at / f"crate.{check}.tidegate.txt").exists()
        assert (first.paths.delivery / "quay" / other / "v001/crate.obj").read_bytes() == b"first"


@pytest.mark.parametrize(
    ("before", "now", "verdict"),
    [
        ("v002", "v002", "returned"),
        ("v002", "v001", "returned"),
        ("v002", "v003", "approved"),
        ("", "v001", "approved"),
        ("v002", "", "approved"),
    ],
)
def test_changed_content_wants_a_higher_version_field(bench: Bench, before: str, now: str, verdict: str) -> None:
    bench.put("crate/crate.obj", b"a")
    bench.through([approved("crate.obj", version=before)])
    bench.put("crate/crate.obj", b"b")
    each = only(bench.through([approved("crate.obj", version=now)]))
    assert each.record.verdict == verdict
    assert each.record.reason.startswith("version-not-raised") == (verdict == "returned")


def test_file_names_that_differ_only_in_case_are_not_delivered(bench: Bench) -> None:
    bench.put("crate/a.png", b"1")
    bench.put("crate/A.png", b"2")
    each = only(bench.through([approved("a.png", "A.png")]))
    assert each.record.verdict == "returned"
    assert ((each.at / "a.png").read_bytes(), (each.at / "A.png").read_bytes()) == (b"1", b"2")


def test_a_tree_that_is_not_mounted_is_not_written_to(bench: Bench) -> None:
    bench.put("crate/crate.obj", b"mesh")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    bench.paths.delivery.rename(bench.base / "unmounted")
    bench.paths.delivery.mkdir()
    with pytest.raises(TransientFault, match="tree"):
        one_drop.finish(prepared, [approved("crate.obj")], bench.layout, NOW, lambda delivered: None)
    with pytest.raises(TransientFault, match="tree"):
        bench.layout.prepare()
    assert list(bench.paths.delivery.iterdir()) == []
    bench.paths.delivery.rmdir()
    (bench.base / "unmounted").rename(bench.paths.delivery)
    assert (
        only(one_drop.finish(prepared, [approved("crate.obj")], bench.layout, NOW, lambda delivered: None)).at.name
        == "v001"
    )


def test_of_a_returned_prop_dropped_back_whole_our_reports_are_kept_apart(bench: Bench) -> None:
    bench.put("crate/crate.obj", b"wrong")
    bench.put("crate/a.png", b"map")
    outcome = Outcome(
        "crate",
        "returned",
        ("a.png", "crate.obj"),
        sidecars=(("crate.tidegate.json", b"{}"), ("old.tidegate.png", b"p")),
    )
    first = only(bench.through([outcome]))
    back = bench.paths.inbox / first.at.name
    first.at.rename(back)
    (back / "crate.obj").write_bytes(b"mended")
    (back / "old.tidegate.png").write_bytes(b"edited by the artist")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    story = prepared.context.redrop
    assert story is not None
    assert (story.mended, story.unchanged, story.new) == (("crate.obj",), ("a.png",), ())
    delivered = one_drop.finish(prepared, [approved("a.png", "crate.obj")], bench.layout, NOW, lambda each: None)
    assert prepared.context.reports == {"crate.tidegate.json", "handed.tidegate.json", "manifest-sha256.txt"}
    assert [each.record.verdict for each in delivered] == ["approved", "unjudged", "kept"]
    assert [path for path, _, _ in delivered[1].record.files] == ["old.tidegate.png"]
    # The names of our record and manifest are taken by those of the kept folder itself.
    apart = {"crate.tidegate.json", "dropped-handed.tidegate.json", "dropped-manifest-sha256.txt"}
    assert {path for path, _, _ in delivered[2].record.files} == apart
    assert nothing_left(bench)


@pytest.mark.parametrize("path", ["crate.obj", "maps/deep/crate.png"])
def test_a_tree_that_goes_away_under_its_staging_is_not_made_anew(bench: Bench, path: str) -> None:
    """What is left of an unmounted volume is a bare folder: it must not get a staging folder, by which a tree is known."""
    source = bench.put("crate/crate.obj", b"mesh")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    record = replace(handed_record(bench), prop="crate")
    staging = bench.layout.staging(bench.paths.delivery)
    shutil.rmtree(staging.parent)
    with pytest.raises(TransientFault):
        stage(staging / "t-1", [Source(prepared.root / source.name, path)], [], record, {})
    assert list(bench.paths.delivery.iterdir()) == []


def handed_record(bench: Bench) -> handed.Handed:
    other = Bench(bench.base / "other")
    other.put("pot/pot.obj")
    record = handed.read(only(other.through([approved("pot.obj", prop="pot")])).at)
    assert record is not None
    return record


def test_a_prop_whose_report_has_the_name_of_our_record_is_delivered(bench: Bench) -> None:
    bench.put("handed/handed.obj", b"mesh")
    each = only(bench.through([approved("handed.obj", prop="handed", sidecars=((handed.RECORD, b"report"),))]))
    assert (each.at / f"report-{handed.RECORD}").read_bytes() == b"report"
    record = handed.read(each.at)
    assert record is not None and record.prop == "handed"
    assert faults_in(each.at) == []


def test_what_a_record_calls_ours_without_a_name_of_ours_is_the_artists(bench: Bench) -> None:
    """A record in a drop is somebody's word: it can neither hide a map from the judge nor have it removed."""
    bench.put("crate/crate.obj", b"mesh")
    bench.put("crate/crate_base_color.png", b"map")
    first = only(bench.through([Outcome("crate", "returned", ("crate.obj", "crate_base_color.png"))]))
    record = handed.read(first.at)
    assert record is not None
    forged = replace(record, sidecars=(("crate_base_color.png", hashlib.sha256(b"map").hexdigest()),))
    (first.at / handed.RECORD).write_bytes(handed.to_bytes(forged))
    assert our_own_reports(first.at) == {handed.RECORD, MANIFEST}


OUTSIDE = ("../a.png", "/etc/passwd", "maps/../../a.png", "maps//a.png", "./a.png", "", "a.png/", "a\0.png")


@pytest.mark.parametrize("path", OUTSIDE)
def test_a_record_that_names_a_path_outside_its_folder_is_none(bench: Bench, path: str) -> None:
    bench.put("crate/crate.obj", b"mesh")
    at = only(bench.through([approved("crate.obj")])).at
    record = handed.read(at)
    assert record is not None
    for forged in (
        replace(record, files=((path, 4, "0" * 64),)),
        replace(record, sidecars=((path, "0" * 64),)),
        replace(record, drop=path),
    ):
        (at / handed.RECORD).write_bytes(handed.to_bytes(forged))
        assert handed.read(at) is None
    (at / handed.RECORD).write_bytes(handed.to_bytes(replace(record, files=(("maps/.a ..png", 4, "0" * 64),))))
    assert handed.read(at) is not None


def test_a_record_whose_drop_has_parts_is_none(bench: Bench) -> None:
    bench.put("crate/crate.obj", b"mesh")
    at = only(bench.through([approved("crate.obj")])).at
    record = handed.read(at)
    assert record is not None
    (at / handed.RECORD).write_bytes(handed.to_bytes(replace(record, drop="a/b")))
    assert handed.read(at) is None


def test_a_broken_record_is_no_record(tmp_path: Path) -> None:
    for data in (b"", b"[]", b"{}", b"[" * 100_000, json.dumps({"schema": handed.SCHEMA, "ticket": 1}).encode()):
        (tmp_path / handed.RECORD).write_bytes(data)
        assert handed.read(tmp_path) is None
