"""Has the gate imported and waits; each request becomes a fork that runs it: `python -S -m tests.gate.zygote`.

A fork is a real process in which no gate has run yet, without the half second that starting Python costs. A request is
one line of JSON on standard input: base, tooth ("" for none), patience, serve (until stopped, instead of draining once),
hold (wait for one more byte, so that a tracer can be put on first), said (file for standard error), user (number of
another user to be, 0 for none). The answer is the
process id on one line, and its exit status, negative for a signal, on the next when it has ended.
"""

from __future__ import annotations

import gc
import json
import os
import signal
import sys
import traceback
from pathlib import Path
from typing import Any, NoReturn

from tests.gate import driver, soak_driver, toothed_driver
from tidegate.errors import TidegateError


def _line() -> bytes:
    """One line, read byte by byte: what follows is for the child."""
    line = bytearray()
    while (byte := os.read(0, 1)) not in (b"", b"\n"):
        line += byte
    return bytes(line)


def _child(request: dict[str, Any]) -> NoReturn:
    code = 1
    try:
        said = os.open(request["said"], os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
        os.dup2(said, 2)
        os.close(said)
        os.write(1, f"{os.getpid()}\n".encode())  # not before: what follows is what a tracer counts
        os.dup2(2, 1)
        if request["hold"] and os.read(0, 1) != b"!":
            os._exit(1)
        if request["user"]:
            os.setgroups([])
            os.setgid(request["user"])
            os.setuid(request["user"])
        signal.signal(signal.SIGINT, signal.default_int_handler)
        if request["tooth"]:
            toothed_driver.TEETH[request["tooth"]]()
        base = Path(request["base"])
        if request["serve"]:
            soak_driver.serve(base)
        else:
            driver.drain(base, request["patience"])
        code = 0
    except TidegateError as fault:
        print(fault, file=sys.stderr)
    except BaseException:  # noqa: BLE001  told to who asked
        traceback.print_exc()
    finally:
        sys.stderr.flush()
        os._exit(code)


def main() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.collect()
    gc.freeze()
    while line := _line().lstrip(b"!"):  # that byte is left over when a child was killed before it read it
        pid = os.fork()
        if pid == 0:
            _child(json.loads(line))
        _, status = os.waitpid(pid, 0)
        os.write(1, f"{os.waitstatus_to_exitcode(status)}\n".encode())


if __name__ == "__main__":
    main()
