"""`tidegate recover`: a look is free at any time and changes nothing; mending needs the gate to itself; gates stand alone."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.support.command_line import tidegate
from tidegate.errors import TransientFault
from tidegate.gate import claim, recover
from tidegate.gate.grouping import drops_in
from tidegate.gate.handed_before import HandedBefore
from tidegate.gate.layout import Layout
from tidegate.gate.left_claims import keep_note
from tidegate.gate.lock import held
from tidegate.gate.make_ticket import make_ticket
from tidegate.gate.scan import look
from tidegate.gate.settings import GatePaths, GateRules, Questions

FOLDERS = ("inbox", "work", "delivery", "returned", "aside", "kept")
RULES = GateRules(quiet=0.0)


class Studio:
    """Gates named by their folders, with their configuration."""

    def __init__(self, base: Path, *names: str) -> None:
        self.base = base
        tables = (f'[[gate]]\nname = "{n}"\n' + "".join(f'{f} = "{n}/{f}"\n' for f in FOLDERS) for n in names)
        (base / "tidegate.toml").write_text("\n".join(tables))

    def layout(self, name: str) -> Layout:
        return Layout(GatePaths(name, *(self.base / name / folder for folder in FOLDERS)))

    def prepared(self, name: str) -> Layout:
        (self.base / name / "inbox").mkdir(parents=True)
        self.layout(name).prepare()
        return self.layout(name)

    def claimed(self, name: str, drop: str) -> Layout:
        """A gate that holds a claimed drop, as a crash after the first commit leaves it."""
        layout = self.prepared(name)
        (layout.paths.inbox / f"{drop}.obj").write_text("v 0 0 0\n")
        (seen,) = drops_in(look(layout.paths.inbox, RULES), RULES, Questions(), lambda file: ())
        taken = make_ticket(seen, layout, RULES, HandedBefore(layout), (), datetime(2026, 11, 25, tzinfo=UTC))
        claim.claim(taken, layout, RULES)
        return layout

    def recover(self, *options: str) -> tuple[int, str, str]:
        return tidegate("recover", "--config", self.base / "tidegate.toml", *options)

    def disk(self) -> dict[str, tuple[int, int]]:
        """Everything under the base with its time of change and its length."""
        return {
            path.relative_to(self.base).as_posix(): (path.lstat().st_mtime_ns, path.lstat().st_size)
            for path in self.base.rglob("*")
        }


def test_a_dry_run_changes_nothing_and_takes_no_lock(tmp_path: Path) -> None:
    studio = Studio(tmp_path, "quay")
    layout = studio.claimed("quay", "crate")
    layout.lock.unlink(missing_ok=True)
    before = studio.disk()
    code, out, err = studio.recover("--dry-run")
    assert (code, err) == (0, "")
    assert out.startswith("quay: would judge: ") and "claimed, not handed over" in out
    assert studio.disk() == before


def test_a_gate_at_work_may_be_looked_at(tmp_path: Path) -> None:
    studio = Studio(tmp_path, "quay", "mole")
    layout = studio.claimed("quay", "crate")
    idle = studio.prepared("mole")
    with held(layout.lock), held(idle.lock):
        before = studio.disk()
        code, out, err = studio.recover("--dry-run")
        assert (code, err) == (0, "")
        assert studio.disk() == before
        record = json.loads(studio.recover("--dry-run", "--format", "json")[1])
    me = os.getpid()
    assert out.splitlines()[0] == f"quay: process {me} is at work here; if it ended now, the next start would do this:"
    assert out.splitlines()[1].startswith("quay: would judge: ")
    assert out.splitlines()[2:] == [
        f"mole: process {me} is at work here; if it ended now, nothing would be left to mend"
    ]
    assert [(gate["gate"], gate["served_by"]) for gate in record["gates"]] == [("quay", me), ("mole", me)]
    assert [(step["gate"], step["action"]) for step in record["steps"]] == [("quay", "judge")]


def test_a_gate_at_work_is_not_mended_and_the_others_are(tmp_path: Path) -> None:
    studio = Studio(tmp_path, "quay", "mole")
    busy = studio.prepared("quay")
    left = studio.prepared("mole")
    part = left.tickets / ".tidegate-part-x"
    part.write_bytes(b"half")
    with held(busy.lock):
        code, out, err = studio.recover()
    assert code == 3
    assert f"quay: {busy.lock}: another process serves this gate" in err and "stop that process first" in err
    assert out == f"mole: remove-part: {part}: a crash cut its writing short\n"
    assert not part.exists()
    assert studio.recover()[:2] == (
        0,
        "".join(f"{n}: nothing to mend: no crash left anything\n" for n in ("quay", "mole")),
    )


def test_a_gate_that_never_ran_has_nothing_to_mend_and_says_so(tmp_path: Path) -> None:
    studio = Studio(tmp_path, "quay")
    for options in ((), ("--dry-run",)):
        code, out, _ = studio.recover(*options)
        assert code == 0
        assert (
            out == f"quay: nothing to mend: the gate never ran, or its work folder is away: {tmp_path / 'quay/work'}\n"
        )
    assert sorted(studio.disk()) == ["tidegate.toml"]


def test_claims_that_no_gate_serves_are_told_once_and_not_touched(tmp_path: Path) -> None:
    studio = Studio(tmp_path, "quay")
    layout = studio.claimed("quay", "crate")
    keep_note(layout)
    config = tmp_path / "tidegate.toml"
    config.write_text(config.read_text().replace('work = "quay/work"', 'work = "elsewhere"'))
    before = studio.disk()
    code, out, _ = studio.recover("--dry-run")
    assert code == 0
    assert f"quay: would look: {layout.paths.work}: 1 drop lies claimed in {layout.paths.work}, where gate quay" in out
    assert studio.recover()[1] == out.replace("would look", "look")
    assert studio.disk() == before


@pytest.mark.parametrize(("moves", "code"), [(1, 0), (10, 0), (1000, 3)])
def test_a_look_that_meets_a_move_is_made_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, moves: int, code: int
) -> None:
    studio = Studio(tmp_path, "quay")
    layout = studio.claimed("quay", "crate")
    real: Callable[[Layout], tuple[recover.Step, ...]] = recover.plan
    met = iter(range(moves))

    def at_work(layout: Layout) -> tuple[recover.Step, ...]:
        if next(met, None) is not None:
            raise TransientFault("could not read a ticket", path="x.json", came="ENOENT")
        return real(layout)

    monkeypatch.setattr(recover, "plan", at_work)
    with held(layout.lock):
        got, out, err = studio.recover("--dry-run")
    assert got == code
    assert ("would judge" in out) is (code == 0) and ("could not read a ticket" in err) is (code == 3)


def test_one_gate_alone(tmp_path: Path) -> None:
    studio = Studio(tmp_path, "quay", "mole")
    studio.prepared("quay")
    studio.claimed("mole", "crate")
    assert "quay" not in studio.recover("--dry-run", "--gate", "mole")[1]
    assert studio.recover("--dry-run", "--gate", "quay")[1] == "quay: nothing to mend: no crash left anything\n"


@pytest.mark.parametrize("dry", [("--dry-run",), ()])
def test_a_program_reads_the_same_as_a_person_and_gets_the_same_exit_code(tmp_path: Path, dry: tuple[str, ...]) -> None:
    studio = Studio(tmp_path, "quay", "pier")
    studio.claimed("quay", "crate")
    studio.prepared("pier")
    code, out, err = studio.recover("--format", "json", *dry)
    assert (code, err) == (0, "")
    told = json.loads(out)
    assert [gate["gate"] for gate in told["gates"]] == ["quay", "pier"] and told["dry_run"] is bool(dry)
    (step,) = told["steps"]
    assert step["gate"] == "quay" and step["fault"] is None
    with held(studio.layout("pier").lock):
        code, out, err = studio.recover("--format", "json")
    assert (code, err) == (3, "")
    assert [bool(gate["fault"]) for gate in json.loads(out)["gates"]] == [False, True]
