"""Whatever goes aside has a report that a person can read."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.gate.bench import NOW, Bench
from tidegate.errors import PermanentFault
from tidegate.gate import one_drop
from tidegate.gate.aside_report import aside_report
from tidegate.gate.hand_over import set_aside
from tidegate.gate.manifest import faults_in
from tidegate.gate.outcome import Outcome
from tidegate.gate.publish import Delivered

CRASHED = PermanentFault(
    "examining it took longer than 300 seconds",
    expected="at most 4096 MiB of memory, 300 seconds, and 4096 MiB a file",
    help="make it smaller",
)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def put_aside(bench: Bench, how: str) -> Delivered:
    """Every way aside that has no judge's report."""
    bench.put("crate/crate.obj", b"mesh")
    bench.put("crate/maps/crate_normal.png", b"map")
    if how == "nothing to judge":
        files = ("crate.obj", "maps/crate_normal.png")
        return bench.through([Outcome("crate", "unjudged", files, reason="holds neither a mesh nor a map")])[0]
    if how == "nobody named it":
        return bench.through([])[0]
    taken = bench.claim()
    prepared = one_drop.prepare(taken, bench.layout, bench.rules)
    if how == "worker":
        outcomes = one_drop.unjudged(prepared, CRASHED)
        return one_drop.finish(prepared, outcomes, bench.layout, NOW, lambda delivered: None)[0]
    return set_aside(taken, PermanentFault("a step failed", path="/trees/x"), bench.layout, NOW, lambda d: None)[0]


@pytest.mark.parametrize(
    ("how", "what"),
    [
        ("worker", "examining it took longer than 300 seconds"),
        ("nothing to judge", "holds neither a mesh nor a map"),
        ("nobody named it", "no prop was found in it"),
        ("a step that never succeeds", "a step failed"),
    ],
)
def test_what_goes_aside_says_what_happened_to_which_drop_and_what_to_do(bench: Bench, how: str, what: str) -> None:
    each = put_aside(bench, how)
    text = (each.at / "crate.tidegate.txt").read_text()
    record = json.loads((each.at / "crate.tidegate.json").read_bytes())
    assert f"could not be judged: {what}" in text
    assert (record["what"], record["verdict"], record["prop"]) == (what, "unjudged", "crate")
    assert record["run"]["ticket"] == each.record.ticket
    assert each.record.ticket in text
    assert "help: " in text
    assert "drop it again" in record["help"] or record["help"] == "make it smaller"
    assert sorted(record["files"])[0].endswith("crate.obj")
    assert {name for name, _ in each.record.sidecars} == {"crate.tidegate.txt", "crate.tidegate.json"}
    assert (each.at / "crate.obj").read_bytes() == b"mesh"
    assert faults_in(each.at) == []


def test_the_limits_in_force_are_told(bench: Bench) -> None:
    text = (put_aside(bench, "worker").at / "crate.tidegate.txt").read_text()
    assert "at most 4096 MiB of memory, 300 seconds, and 4096 MiB a file" in " ".join(text.split())
    assert all(len(line) <= 80 for line in text.splitlines())


def test_a_judge_that_reports_itself_is_not_doubled(bench: Bench) -> None:
    bench.put("crate/crate.obj")
    sidecar = ("crate.tidegate.txt", b"cut off")
    (each,) = bench.through([Outcome("crate", "unjudged", ("crate.obj",), sidecars=(sidecar,))])
    assert [name for name, _ in each.record.sidecars] == ["crate.tidegate.txt"]
    assert (each.at / "crate.tidegate.txt").read_bytes() == b"cut off"


def test_names_cannot_drive_a_terminal_or_outgrow_a_file_name(bench: Bench) -> None:
    bench.put("crate/crate.obj")
    taken = bench.claim()
    why = PermanentFault("x\x1b[31m\nnext", path="\udcff")
    (name, text), (_, data) = aside_report("\u8239" * 200 + "\udcff", why, taken, ["\udcff.obj"])
    assert len(name.encode()) <= 255
    assert b"\x1b" not in text
    assert json.loads(data)["files"] == ["\\xff.obj"]
