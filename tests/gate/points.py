"""The disk calls of a run as places to kill or fail it at, and the runs that do so."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tests.gate import law
from tests.gate.scenes import Stage
from tests.gate.slot import Slot, told

CALLS = "openat,write,pwrite64,fsync,fdatasync,close,mkdir,rename,renameat,renameat2,link,linkat,unlink,unlinkat,rmdir,ftruncate"
ERRORS = ("ENOSPC", "EIO", "EACCES", "EROFS")
KILL = "signal=KILL"
MISSED = "the tracer struck elsewhere"
_LINE = re.compile(r"^\d+ +(\w+)\((.*)$")


@dataclass(frozen=True)
class Point:
    """The `number`th time the process makes `call`, which then does something to a file of the gate: `what`."""

    call: str
    number: int
    what: str

    def __str__(self) -> str:
        return f"{self.call} {self.number}: {self.what[:160]}"


def points_of(slot: Slot) -> list[Point]:
    """Run the gate under the tracer and list every disk call on the scene's files."""
    assert slot.stage is not None, "a scene was begun"
    log = slot.run(["-y", "-s", "200", "-e", f"trace={CALLS}"]).log
    return list(_points(log, slot.stage))


def _points(log: str, stage: Stage) -> Iterator[Point]:
    tops = [stage.base, *stage.elsewhere]
    counts: Counter[str] = Counter()
    for line in log.splitlines():
        if not (match := _LINE.match(line)):
            continue
        call, rest = match.groups()
        counts[call] += 1
        if not any(f"{top}/" in rest for top in tops):
            continue
        if call == "openat" and "O_WRONLY" not in rest and "O_RDWR" not in rest:
            continue
        yield Point(call, counts[call], told(rest, tops))


def injected(point: Point, fault: str) -> list[str]:
    inject = f"inject={point.call}:{fault}:when={point.number}"
    return ["-y", "-s", "200", "-e", f"trace={point.call}", "-e", inject]


def strike(slot: Slot, point: Point, fault: str = KILL, *, patience: float = 0.0) -> list[str]:
    """Run the gate with a fault at `point`. What went wrong then and there, [] when nothing did."""
    stage = slot.stage
    assert stage is not None, "a scene was begun"
    ended = slot.run(injected(point, fault), patience=patience)
    wrong = law.never_gone(stage) + law.nothing_partial(stage)
    calls = [match for match in map(_LINE.match, ended.log.splitlines()) if match and match[1] == point.call]
    hit = told(calls[point.number - 1][2], [stage.base, *stage.elsewhere]) if len(calls) >= point.number else "nothing"
    if _place(hit) != _place(point.what) or (fault == KILL) != (ended.code == -9):
        wrong.append(f"{MISSED}, at {hit[:160]}; the run ended with {ended.code} {ended.said[-300:]}")
    return wrong


def _place(what: str) -> tuple[str, ...]:
    """What a call is about, without contents: files by handle or name, and flags."""
    handles = re.match(r"\d+<[^>]*(?:<\d>[^>]*)?>", what)
    return (handles[0],) if handles else tuple(re.findall(r'"[^"]*"|[A-Z_|]{5,}', what.rsplit(" = ", 1)[0]))


def kill_once(slot: Slot, scene: str, point: Point, again: Point | None = None) -> list[str]:
    """Kill at `point`, and recovery at `again`; then start once more. What breaks the law, [] when nothing does."""
    slot.begin(scene)
    slot.mishaps.clear()
    wrong = strike(slot, point)
    if again:
        wrong += strike(slot, again)
    where = f"{scene}, {point}" + (f", then {again}" if again else "")
    return [f"{where}: {fault}" for fault in wrong + _healed(slot)]


def fail_once(slot: Slot, scene: str, point: Point, error: str) -> list[str]:
    """Let the call fail; the run goes on by itself, and one more start must find everything in place."""
    slot.begin(scene)
    slot.mishaps.clear()
    wrong = strike(slot, point, f"error={error}")
    return [f"{scene}, {point} {error}: {fault}" for fault in wrong + _healed(slot, 1.0)]


def _healed(slot: Slot, patience: float = 0.0) -> list[str]:
    assert slot.stage is not None, "a scene was begun"
    ended = slot.run(patience=patience)
    wrong = [f"the next start ended with {ended.code}: {ended.said[-600:]}"] if ended.code else []
    wrong += [f"the gate met what it did not foresee: {each}" for each in slot.mishaps]
    return wrong + law.fulfilled(slot.stage)


def scene_points(slot: Slot, scene: str) -> list[Point]:
    slot.begin(scene)
    return points_of(slot)


def recovery_points(slot: Slot, scene: str, point: Point) -> list[Point]:
    """The disk calls of the recovery from a kill at `point`."""
    slot.begin(scene)
    strike(slot, point)
    return points_of(slot)


def starts(points: Sequence[Point]) -> Sequence[Point]:
    """Where recovery begins: the middle of each third of the run."""
    return points[len(points) // 6 :: max(1, len(points) // 3)][:3]
