"""The daemon's threads share one heap; otherwise glibc gives each its own."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAPS = """
import ctypes, sys, threading
from tidegate.daemon.one_arena import share_one_arena
if sys.argv[1] == "shared":
    share_one_arena()
meet = threading.Barrier(4)
def work():
    meet.wait()
    kept = [bytearray(5000) for _ in range(200)]
    meet.wait()
threads = [threading.Thread(target=work) for _ in range(4)]
for thread in threads: thread.start()
for thread in threads: thread.join()
libc = ctypes.CDLL(None)
libc.fdopen.restype = ctypes.c_void_p
out = ctypes.c_void_p(libc.fdopen(1, b"w"))
libc.malloc_info(0, out)
libc.fflush(out)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="heaps of threads are glibc's")
def test_threads_share_one_heap_where_they_would_have_several() -> None:
    def heaps(how: str) -> int:
        ran = subprocess.run([sys.executable, "-c", HEAPS, how], capture_output=True, text=True, check=True)
        return ran.stdout.count("<heap nr=")

    if heaps("apart") < 2:
        pytest.skip("this C library has one heap anyway")
    assert heaps("shared") == 1
