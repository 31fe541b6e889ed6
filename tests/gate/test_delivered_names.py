"""Which props a delivery tree holds, wherever they lie."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from tests.gate.bench import Bench
from tidegate.errors import TransientFault
from tidegate.gate.delivered_names import DeliveredProps, newest_version
from tidegate.gate.outcome import Outcome


def test_props_are_found_at_any_depth_and_listed_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for path in (
        "float/v001",
        "quay/crate/v001",
        "quay/crate/v012",
        "quay/north/Crate/v001",
        "quay/empty",
        ".own/x/v001",
    ):
        (tmp_path / path).mkdir(parents=True)
    (tmp_path / "lost+found/x/v001").mkdir(parents=True)
    (tmp_path / "link").symlink_to(tmp_path / "quay", target_is_directory=True)
    (tmp_path / "v001").touch()
    listed: list[str] = []
    real = os.scandir

    def counting(path: Any) -> Any:
        listed.append(os.path.relpath(path, tmp_path))
        return real(path)

    monkeypatch.setattr(os, "scandir", counting)
    props = DeliveredProps(tmp_path)
    wanted = {"float": {tmp_path / "float"}, "crate": {tmp_path / "quay/crate", tmp_path / "quay/north/Crate"}}
    assert {name: set(folders) for name, folders in props.folders().items()} == wanted
    listed.clear()
    (tmp_path / "quay/sign/v001").mkdir(parents=True)
    assert set(props.folders()) == {"float", "crate", "sign"}
    assert not {"float", "quay/crate", "quay/north/Crate"} & set(listed)


def test_a_folder_that_cannot_be_listed_is_no_empty_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "quay/float/v001").mkdir(parents=True)
    real = os.scandir

    def failing(path: Any) -> Any:
        if os.fspath(path).endswith("quay"):
            raise OSError(errno.EACCES, os.strerror(errno.EACCES))
        return real(path)

    monkeypatch.setattr(os, "scandir", failing)
    with pytest.raises(TransientFault, match="could not list what was delivered"):
        DeliveredProps(tmp_path).folders()


def test_a_tree_that_is_not_there_holds_nothing(tmp_path: Path) -> None:
    assert DeliveredProps(tmp_path / "none").folders() == {}


def test_the_newest_version_is_the_one_claimed_last_whatever_its_number(tmp_path: Path) -> None:
    """v002 was moved away and put back as v009 by hand, after v003; one without our record counts for nothing."""
    bench = Bench(tmp_path)
    made = []
    for content in (b"1", b"2", b"3"):
        bench.put("float/float.obj", content)
        made += bench.through([Outcome("float", "approved", ("float.obj",))])
    home = bench.paths.delivery / "float"
    (home / "v002").rename(home / "v009")
    (home / "v010").mkdir()
    found = newest_version([home])
    assert found and (found[0].name, found[1].ticket) == ("v003", made[2].record.ticket)
    assert newest_version([home], "yard") is None
    found = newest_version([home], "slipway")
    assert found and found[0].name == "v003"
