"""What the disk refuses is told in plain words, with the path and what to do; where it can be seen before, before."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from tests.support.command_line import tidegate
from tidegate.cli.disk_words import refused


@pytest.mark.parametrize("code", [errno.EACCES, errno.ENOSPC, errno.EROFS, errno.ENOTDIR])
def test_the_words_are_ours_and_the_path_is_told(code: int) -> None:
    text = str(refused(OSError(code, os.strerror(code), "quay/out")))
    assert text.startswith("quay/out: ")
    assert os.strerror(code) not in text
    assert "\n  done: " in text and "\n  help: " in text


def test_what_has_no_words_of_ours_keeps_the_systems() -> None:
    assert "the system says: quay trouble" in str(refused(OSError(9999, "quay trouble")))


@pytest.mark.parametrize("command", [("new",), ("check", "plank", "--report"), ("sheet", "plank", "--out")])
@pytest.mark.parametrize("below", ["", "deeper/still"])
def test_a_file_where_a_folder_is_wanted(
    command: tuple[str, ...], below: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "plank").mkdir()
    (tmp_path / "plank" / "plank.obj").write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
    (tmp_path / "note").write_text("x")
    ran = tidegate(*command, Path("note") / below)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("tidegate: note: is a file where a folder is wanted\n  done: nothing was ")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["note", "plank"]
