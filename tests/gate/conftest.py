"""The gate syncs a lot; its default tests use a file system in memory where there is one.

`python -m tests.gate.kill_points` and `python -m tests.soak` use the real disk.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

MEMORY = Path("/dev/shm")


@pytest.fixture
def tmp_path() -> Iterator[Path]:
    home = Path(tempfile.mkdtemp(prefix="tidegate-test-", dir=MEMORY if os.access(MEMORY, os.W_OK) else None))
    yield home
    shutil.rmtree(home, ignore_errors=True)
