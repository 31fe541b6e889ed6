"""What runs inside a worker process: takes (number, gate, news, root, context, memory), answers (number, kind,
value, swollen).

news: (examine,) when it is another one than the process last had for that gate, else (). swollen: it should be replaced.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import signal
import sys
from multiprocessing.connection import Connection
from pathlib import Path
from types import ModuleType
from typing import Any

resource: ModuleType | None
try:
    import resource
except ImportError:  # Windows
    resource = None

BEGUN = "begun"
"""The first thing a process says: what goes wrong before it is not the doing of any drop."""
DONE, FAILED, TOO_MUCH = "done", "failed", "too much memory"
SWOLLEN = 512 << 20
"""Bytes of resident memory at its peak; a prop with three maps of 2048 stays below it."""
_DEATH_SIGNAL = 1  # PR_SET_PDEATHSIG, prctl(2)


def serve(line: Connection, parent: int) -> None:
    """Examine what comes down the line until it closes. memory: bytes of address space a drop may take, 0 for any."""
    _confine(parent)
    _keep_quiet()
    line.send(BEGUN)
    known: dict[str, Any] = {}
    while True:
        try:
            number, gate, news, root, context, memory = line.recv()
        except (EOFError, OSError):
            return
        for examine in news:
            known[gate] = examine
        _allow(memory)
        line.send((number, *_examined(known[gate], root, context), _swollen()))


def _examined(examine: Any, root: Path, context: Any) -> tuple[str, Any]:
    try:
        return DONE, tuple(examine(root, context))
    except MemoryError:
        return TOO_MUCH, ""
    except Exception as error:  # noqa: BLE001  whatever one drop does to its judge, the next drop must not notice
        where = _last_place(error)
        return FAILED, f"{type(error).__name__}: {error}" + (f" (in {where})" if where else "")


def _swollen() -> bool:
    """Whether this process ever took so much memory that a fresh one in its place is the better neighbour.

    Measuring a large mesh tells the C library to keep what it gives back, and what is kept lies in pieces.
    """
    return _peak() > SWOLLEN


def _peak() -> int:
    """Bytes of resident memory at the most, 0 where the system does not tell."""
    with contextlib.suppress(OSError, IndexError, ValueError):
        # Not ru_maxrss on Linux: there a process begins with the peak of the one that started it (getrusage(2)).
        status = Path("/proc/self/status").read_text("ascii", "replace")
        return int(status.split("VmHWM:")[1].split()[0]) << 10
    if resource is None:
        return 0
    peak: int = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak * (1 if sys.platform == "darwin" else 1024)  # bytes there, KiB elsewhere (getrusage(2))


def _last_place(error: BaseException) -> str:
    frame = error.__traceback__
    if frame is None:
        return ""
    while frame.tb_next:
        frame = frame.tb_next
    return f"{Path(frame.tb_frame.f_code.co_filename).name}:{frame.tb_lineno}"


def _allow(memory: int) -> None:
    """The soft limit only, so that the next drop's may be another. Where the system has none, the time limit must do."""
    if resource is None:
        return
    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    wanted = memory or resource.RLIM_INFINITY
    if hard != resource.RLIM_INFINITY:
        wanted = min(memory or hard, hard)
    resource.setrlimit(resource.RLIMIT_AS, (wanted, hard))


def _keep_quiet() -> None:
    """What libraries write to standard error would break the daemon's lines; what matters goes down the line."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    os.close(nowhere)


def _confine(parent: int) -> None:
    # The parent decides when we stop: a service manager or a terminal tells the whole group of processes.
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    if resource is None:
        return  # there the parent's end closes the line, which ends us too
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(_DEATH_SIGNAL, signal.SIGKILL)
    if os.getppid() != parent:
        os._exit(0)  # it died before the line above
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
