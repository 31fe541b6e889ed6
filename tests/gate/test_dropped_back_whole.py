"""A returned folder dropped back with our reports still inside, through the real judge: every file of it is accounted for."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest

from tests.gate.bench import Bench
from tests.gate.hostile_case import crate, good_map
from tidegate.cli.terms import with_rule_sets
from tidegate.load.names_file import read_names
from tidegate.passage import TakeThrough, Terms

MAP = "crate_base_color.png"


@pytest.fixture(scope="module")
def judge() -> TakeThrough:
    return TakeThrough(with_rule_sets(Terms(scheme=read_names(), rule_set="first_look", pictures=("fault_sheet",))))


@pytest.fixture
def returned(tmp_path: Path, judge: TakeThrough) -> tuple[Bench, Path]:
    """A crate that came back since its map was not saved, and where it lies."""
    bench = Bench(tmp_path)
    bench.put("furniture_crate/furniture_crate.glb", crate(base_color=MAP).glb())
    (each,) = bench.through(judge)
    assert each.record.verdict == "returned"
    assert {"crate.tidegate.json", "crate.tidegate.html"} <= {name for name, _ in each.record.sidecars}
    return bench, each.at


def test_mended_it_is_approved_and_its_reports_are_kept(returned: tuple[Bench, Path], judge: TakeThrough) -> None:
    bench, at = returned
    reports = {path.name: path.read_bytes() for path in at.iterdir() if path.suffix != ".glb"}
    back = at.rename(bench.paths.inbox / at.name)
    (back / MAP).write_bytes(good_map())
    approved, kept = bench.through(judge)
    assert (approved.record.verdict, approved.record.prop, approved.version) == ("approved", "crate", 1)
    assert [path for path, _, _ in approved.record.files] == [MAP, "furniture_crate.glb"]
    assert {path.removeprefix("dropped-"): (kept.at / path).read_bytes() for path, _, _ in kept.record.files} == reports


def test_as_it_was_it_comes_back_for_the_same_reason(returned: tuple[Bench, Path], judge: TakeThrough) -> None:
    bench, at = returned
    at.rename(bench.paths.inbox / at.name)
    again, kept = bench.through(judge)
    assert (again.record.verdict, kept.record.verdict) == ("returned", "kept")
    assert [path for path, _, _ in again.record.files] == ["furniture_crate.glb"]
    assert "missing-texture-file" in again.record.reason


def test_a_report_that_was_edited_travels_on_as_the_artists(returned: tuple[Bench, Path], judge: TakeThrough) -> None:
    bench, at = returned
    back = at.rename(bench.paths.inbox / at.name)
    (back / MAP).write_bytes(good_map())
    (back / "crate.tidegate.txt").write_bytes(b"done! - the artist")
    approved, _ = bench.through(judge)
    assert approved.record.verdict == "approved"
    assert "crate.tidegate.txt" in [path for path, _, _ in approved.record.files]
    assert (approved.at / "crate.tidegate.txt").read_bytes() == b"done! - the artist"


def test_what_is_only_named_like_a_report_of_ours_is_told(tmp_path: Path, judge: TakeThrough) -> None:
    """A vendor's own manifest: without a record of ours beside it, it would be delivered unseen."""
    bench = Bench(tmp_path)
    bench.put("furniture_crate/furniture_crate.glb", crate(base_color=MAP).glb())
    bench.put(f"furniture_crate/{MAP}", good_map())
    bench.put("furniture_crate/manifest-sha256.txt", b"the vendor's own")
    (approved,) = bench.through(judge)
    assert (approved.at / "dropped-manifest-sha256.txt").read_bytes() == b"the vendor's own"
    (stray,) = [
        finding
        for finding in json.loads((approved.at / "crate.tidegate.json").read_text("utf-8"))["findings"]
        if finding["check"] == "stray-file"
    ]
    assert stray["message"].startswith("manifest-sha256.txt belongs to no prop")


def test_in_an_archive_it_is_judged_and_the_archive_kept(returned: tuple[Bench, Path], judge: TakeThrough) -> None:
    bench, at = returned
    with zipfile.ZipFile(bench.paths.inbox / "furniture_crate.zip", "w") as packed:
        for path in at.iterdir():
            packed.write(path, f"furniture_crate/{path.name}")
        packed.writestr(f"furniture_crate/{MAP}", good_map())
    approved, kept = bench.through(judge)
    assert approved.record.verdict == "approved"
    assert [path for path, _, _ in approved.record.files] == [MAP, "furniture_crate.glb"]
    assert [path for path, _, _ in kept.record.files] == ["archive/furniture_crate.zip"]


def test_the_ticket_behind_the_name_is_not_held_against_it(tmp_path: Path) -> None:
    """Under a set where a name out of form is an error, it would come back for ever because of our own name for it."""
    judge = TakeThrough(with_rule_sets(Terms(scheme=read_names(), rule_set="furniture")))
    bench = Bench(tmp_path)
    bench.put("furniture_crate/furniture_crate.glb", crate(base_color=MAP).glb())
    (first,) = bench.through(judge)
    back = first.at.rename(bench.paths.inbox / first.at.name)
    assert back.name.endswith(first.record.ticket)
    again, _ = bench.through(judge)
    report = (again.at / "crate.tidegate.txt").read_text("utf-8")
    assert "missing-texture-file" in report and "name-out-of-form" not in report
