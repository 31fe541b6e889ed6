"""Which props a delivery tree holds, wherever they lie."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from tests.gate.bench import Bench
from tidegate.errors import TransientFault
from tidegate.gate.delivered_names import SETTLED, DeliveredProps, newest_version
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
    now = [100.0]
    props = DeliveredProps(tmp_path, lambda: now[0])

    def found(*names: str) -> dict[str, set[str]]:
        props.look()
        return {name: {path.relative_to(tmp_path).as_posix() for path in props.at(name)} for name in names}

    wanted = {"float": {"float"}, "crate": {"quay/crate", "quay/north/Crate"}, "x": set[str](), "sign": set[str]()}
    assert found(*wanted) == wanted
    now[0] += SETTLED  # listed now, no later change can bear the time of change that stands
    listed.clear()
    assert found(*wanted) == wanted
    assert set(listed) == {".", "quay", "quay/north", "quay/empty"}
    listed.clear()
    assert found(*wanted) == wanted
    assert listed == []
    (tmp_path / "quay/sign/v001").mkdir(parents=True)
    assert found("sign") == {"sign": {"quay/sign"}}
    assert set(listed) == {"quay", "quay/sign", "quay/north", "quay/empty"}, "no prop that is known"
    (tmp_path / "quay/empty/buoy/v001").mkdir(parents=True)
    assert found("buoy") == {"buoy": {"quay/empty/buoy"}}
    (tmp_path / "quay/pier").mkdir()
    assert found("pier") == {"pier": set()}
    now[0] += SETTLED
    assert found("pier") == {"pier": set()}
    (tmp_path / "quay/pier/v001").mkdir()  # which `quay` does not show
    assert found("pier") == {"pier": {"quay/pier"}}
    (tmp_path / "quay/crate").rename(tmp_path / ".own/crate")
    assert found("crate") == {"crate": {"quay/north/Crate"}}


def test_before_it_has_settled_a_listing_is_not_trusted(tmp_path: Path) -> None:
    """A prop that comes within the same tick of a coarse file system leaves the time of change as it was."""
    now = [100.0]
    props = DeliveredProps(tmp_path, lambda: now[0])
    coarse = 1_700_000_000 * 10**9
    for wait, name, seen in (
        (0.0, "one", True),
        (SETTLED - 0.1, "two", True),
        (SETTLED, "three", True),
        (9.0, "four", False),
    ):
        (tmp_path / name / "v001").mkdir(parents=True)
        os.utime(tmp_path, ns=(coarse, coarse))
        now[0] = 100.0 + wait
        props.look()
        assert bool(props.at(name)) is seen, name


def test_a_folder_that_cannot_be_listed_is_no_empty_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "quay/float/v001").mkdir(parents=True)
    real = os.scandir

    def failing(path: Any) -> Any:
        if os.fspath(path).endswith("quay"):
            raise OSError(errno.EACCES, os.strerror(errno.EACCES))
        return real(path)

    monkeypatch.setattr(os, "scandir", failing)
    with pytest.raises(TransientFault, match="could not list what was delivered"):
        DeliveredProps(tmp_path).look()


def test_a_tree_that_is_not_there_holds_nothing(tmp_path: Path) -> None:
    props = DeliveredProps(tmp_path / "none")
    props.look()
    assert props.at("float") == []


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
