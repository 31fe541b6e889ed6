"""Real worker processes: one drop's judge may do its worst, the next drop must not notice."""

from __future__ import annotations

import io
import json
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.daemon.judges import Weighty, by_name, leave_at_once
from tidegate.daemon import worker_main
from tidegate.daemon.log import Log
from tidegate.daemon.setup import DropLimits, WorkerRules
from tidegate.daemon.workers import Answer, Job, Workers
from tidegate.gate.identity import Deliveries
from tidegate.gate.outcome import DropContext, Examine

RULES = WorkerRules(count=2, huge=100)
LIMITS = DropLimits(memory=2 << 30, seconds=1000.0, file_bytes=1000)


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def workers(clock: Clock) -> Iterator[Workers]:
    workers = Workers(RULES, clock)
    yield workers
    workers.close()


def job(root: Path, drop: str, size: int = 1, examine: Examine = by_name, gate: str = "harbour") -> Job:
    folder = root / drop
    folder.mkdir(exist_ok=True)
    (folder / f"{drop}.obj").write_bytes(b"fine")
    context = DropContext("t", "harbour", "slipway", drop, Deliveries(root))
    return Job((gate, drop), examine, folder, context, size, LIMITS, (size, f"{drop}.obj"))


def reason(answer: Answer) -> str:
    return answer.fault.what if answer.fault else ""


def next_answers(workers: Workers, count: int, now: float = 0.0) -> dict[str, Answer]:
    from multiprocessing import connection

    found: dict[str, Answer] = {}
    end = time.monotonic() + 60
    while len(found) < count and time.monotonic() < end:
        if workers.connections() and workers.next_deadline() != 0.0:
            connection.wait(workers.connections(), 0.5)
        found |= {answer.key[1]: answer for answer in workers.answers(now)}
    return found


@pytest.mark.parametrize(
    ("drop", "why"),
    [
        ("crash", "its worker was ended by SIGABRT"),
        ("leave", "its worker ended with exit code 7"),
        ("eat", "examining it asked for more than 2048 MiB of memory"),
        ("raise", "ValueError: no such accessor (in judges.py:"),
    ],
)
def test_what_goes_wrong_costs_that_drop_only(workers: Workers, tmp_path: Path, drop: str, why: str) -> None:
    workers.submit(job(tmp_path, drop))
    workers.submit(job(tmp_path, "fine"))
    answers = next_answers(workers, 2)
    assert reason(answers[drop]).startswith(why)
    fault = answers[drop].fault
    assert fault
    assert fault.expected == "at most 2048 MiB of memory, 1000 seconds, and 1000 bytes a file"
    assert "drop it again" in fault.help
    assert answers[drop].outcomes == ()
    assert [outcome.verdict for outcome in answers["fine"].outcomes] == ["approved"]


def test_one_that_hangs_is_ended_when_its_time_is_over(workers: Workers, tmp_path: Path) -> None:
    workers.submit(job(tmp_path, "hang"))
    assert workers.next_deadline() == 1000.0
    assert workers.answers(999.9) == []
    (answer,) = workers.answers(1000.0)
    assert reason(answer) == "examining it took longer than 1000 seconds"
    workers.submit(job(tmp_path, "fine"))
    assert next_answers(workers, 1)["fine"].outcomes


def test_small_drops_do_not_wait_behind_huge_ones(workers: Workers, tmp_path: Path) -> None:
    for name in ("hang1", "hang2", "hang3"):
        workers.submit(job(tmp_path, name, size=100))
    for name in ("small1", "small2", "small3"):
        workers.submit(job(tmp_path, name, size=99))
    assert set(next_answers(workers, 3)) == {"small1", "small2", "small3"}


def test_a_process_is_used_again_and_replaced_in_time(clock: Clock, tmp_path: Path) -> None:
    from dataclasses import replace

    workers = Workers(replace(RULES, jobs=3), clock)
    try:
        seen = []
        for number in range(6):
            workers.submit(job(tmp_path, f"fine{number}"))
            seen.append(workers._workers[0].process.pid)
            assert len(next_answers(workers, 1)) == 1
        assert seen == [seen[0]] * 3 + [seen[3]] * 3
        assert seen[0] != seen[3]
    finally:
        workers.close()


def test_a_process_that_swelled_is_replaced(workers: Workers, tmp_path: Path) -> None:
    pids = []
    for name in ("fine", "swell", "fine again"):
        workers.submit(job(tmp_path, name))
        pids.append(workers._workers[0].process.pid)
        assert next_answers(workers, 1)[name].outcomes
    assert pids[0] == pids[1] != pids[2]


def test_a_process_that_cannot_begin_is_not_the_fault_of_its_drop(
    clock: Clock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = io.StringIO()
    workers = Workers(RULES, clock, Log("json", out=out))
    try:
        with monkeypatch.context() as patch:
            patch.setattr(worker_main, "serve", leave_at_once)
            workers.submit(job(tmp_path, "fine"))
            end = time.monotonic() + 60
            while workers.next_deadline() != 1.0 and time.monotonic() < end:
                assert workers.answers(0.0) == []
                time.sleep(0.01)
        line = json.loads(out.getvalue())
        assert line["message"] == "no process to examine drops in" and line["again_in"] == 1.0
        clock.now = 0.99
        assert workers.answers(clock.now) == [] and workers.connections() == []
        clock.now = 1.0
        assert next_answers(workers, 1, 1.0)["fine"].outcomes
    finally:
        workers.close()


def test_a_process_that_ends_while_idle_costs_no_drop(workers: Workers, clock: Clock, tmp_path: Path) -> None:
    workers.submit(job(tmp_path, "fine"))
    assert next_answers(workers, 1)
    process = workers._workers[0].process
    process.kill()
    process.join()
    workers.submit(job(tmp_path, "fine again"))
    clock.now = 1.0
    assert next_answers(workers, 1, 1.0)["fine again"].outcomes


def test_both_sides_of_the_size_limit(workers: Workers, tmp_path: Path) -> None:
    workers.submit(job(tmp_path, "big", size=1001))
    workers.submit(job(tmp_path, "fits", size=1000))
    answers = next_answers(workers, 2)
    assert reason(answers["big"]) == "big.obj has 1001 bytes, more than the 1000 a file may have"
    assert reason(answers["fits"]) == ""


def test_a_cancelled_job_gives_no_answer(workers: Workers, tmp_path: Path) -> None:
    workers.submit(job(tmp_path, "hang1"))
    workers.submit(job(tmp_path, "hang2"))
    workers.submit(job(tmp_path, "hang3"))
    for name in ("hang1", "hang2", "hang3"):
        workers.cancel(("harbour", name))
    assert (workers.answers(0.0), list(workers.connections()), workers.next_deadline()) == ([], [], None)


def test_what_judges_is_sent_once_a_process_and_again_when_it_is_another(clock: Clock, tmp_path: Path) -> None:
    """Two gates in turn, then one read anew. An equal one counts as another: only the very same is known to be there."""
    from dataclasses import replace

    workers = Workers(replace(RULES, jobs=5), clock)
    quay, pier, pier_anew = Weighty("quay"), Weighty("pier"), Weighty("pier anew")
    try:
        for number, (gate, examine, said, sent) in enumerate(
            [
                ("quay", quay, "quay", 1),
                ("pier", pier, "pier", 1),
                ("quay", quay, "quay", 0),
                ("pier", pier_anew, "pier anew", 1),
                ("quay", quay, "quay", 0),
                ("pier", pier_anew, "pier anew", 1),  # the sixth drop: a new process knows nothing
                ("pier", pier_anew, "pier anew", 0),
            ]
        ):
            before = Weighty.pickled
            workers.submit(job(tmp_path, f"fine{number}", examine=examine, gate=gate))
            answer = next_answers(workers, 1)[f"fine{number}"]
            assert [outcome.reason for outcome in answer.outcomes] == [said]
            assert Weighty.pickled - before == sent, number
    finally:
        workers.close()


@pytest.mark.parametrize(
    ("system", "peak", "swollen"),
    [
        # getrusage(2): KiB on Linux, bytes on macOS; 512 MiB are 524,288 KiB and 536,870,912 bytes.
        ("linux", 524_288, False),
        ("linux", 524_289, True),
        ("darwin", 536_870_912, False),
        ("darwin", 536_870_913, True),
    ],
)
def test_memory_at_its_peak_is_told_in_the_units_of_the_system(
    monkeypatch: pytest.MonkeyPatch, system: str, peak: int, swollen: bool
) -> None:
    monkeypatch.setattr(sys, "platform", system)
    monkeypatch.setattr(
        worker_main, "resource", SimpleNamespace(RUSAGE_SELF=0, getrusage=lambda who: SimpleNamespace(ru_maxrss=peak))
    )

    def no_proc(name: str) -> Path:
        raise FileNotFoundError(name)

    monkeypatch.setattr(worker_main, "Path", no_proc)
    assert worker_main._swollen() is swollen
