"""One daemon a gate; growing pauses."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tidegate.errors import TransientFault
from tidegate.gate.lock import held
from tidegate.gate.retry import Pauses, length
from tidegate.gate.settings import GateRules

HOLD = """
import sys
from pathlib import Path
from tidegate.gate.lock import held
with held(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_a_second_process_is_refused_until_the_first_is_killed(tmp_path: Path) -> None:
    lock = tmp_path / "work/lock"
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(lock)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as first:
        assert first.stdout is not None
        assert first.stdout.readline() == b"held\n"
        with pytest.raises(TransientFault) as caught, held(lock):
            pass
        assert str(first.pid) in caught.value.came
        first.kill()
        first.wait()
        with held(lock):
            pass


def test_pauses_double_up_to_the_longest() -> None:
    rules = GateRules(first_pause=2.0, longest_pause=60.0)
    assert [length(tries, rules) for tries in (1, 2, 3, 5, 6, 7, 10_000)] == [2.0, 4.0, 8.0, 32.0, 60.0, 60.0, 60.0]
    pauses = Pauses(rules)
    assert pauses.due("t", 0.0)
    pauses.failed("t", "full", "make room", 0.0)
    assert not pauses.due("t", 1.9)
    assert pauses.due("t", 2.0)
    pauses.failed("t", "full", "make room", 2.0)
    assert (pauses.due("t", 5.9), pauses.due("t", 6.0)) == (False, True)
    assert pauses.next_due() == 6.0
    pauses.healed("t")
    assert pauses.due("t", 0.0) and pauses.all() == {}
