"""Disk steps: what they promise on success, on a taken name, and on each kind of fault."""

from __future__ import annotations

import errno
import hashlib
import os
from pathlib import Path

import pytest

from tidegate.errors import PermanentFault, TransientFault
from tidegate.gate import durable, proof
from tidegate.gate.faults import HEALS, NameTaken, fault_of, shown


def test_write_file_holds_the_bytes_and_leaves_no_part(tmp_path: Path) -> None:
    came = durable.write_file(tmp_path / "ticket", b"hello")
    # sha256("hello"), known value.
    assert came == proof.Proof(5, "2cf24dba5fb0a30e26e83b2ac5b9e29e1b161e5c1fa7425e73043362938b9824")
    assert (tmp_path / "ticket").read_bytes() == b"hello"
    assert [path.name for path in tmp_path.iterdir()] == ["ticket"]


@pytest.mark.parametrize("step", ["write_file", "write_new", "copy_file", "copy_new", "make_folder"])
def test_a_taken_name_is_never_replaced(tmp_path: Path, step: str) -> None:
    (tmp_path / "source").write_bytes(b"new")
    (tmp_path / "there").write_bytes(b"old")
    with pytest.raises(NameTaken):
        if step.startswith("copy"):
            getattr(durable, step)(tmp_path / "source", tmp_path / "there")
        elif step == "make_folder":
            durable.make_folder(tmp_path / "there")
        else:
            getattr(durable, step)(tmp_path / "there", b"new")
    assert (tmp_path / "there").read_bytes() == b"old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["source", "there"]


def without_noreplace(monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    def refuse(source: Path, target: Path) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(durable, "_rename_noreplace", refuse)


@pytest.mark.parametrize("number", [0, errno.ENOSYS, errno.EINVAL])
@pytest.mark.parametrize("kind", ["file", "folder"])
@pytest.mark.parametrize("there", ["nothing", "file", "empty folder", "full folder"])
def test_move_new_moves_onto_free_names_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, kind: str, there: str
) -> None:
    if number:
        without_noreplace(monkeypatch, number)
    source, target = tmp_path / "source", tmp_path / "target"
    if kind == "file":
        source.write_bytes(b"x")
    else:
        source.mkdir()
        (source / "inner").write_bytes(b"x")
    if there == "file":
        target.write_bytes(b"old")
    elif there != "nothing":
        target.mkdir()
        if there == "full folder":
            (target / "old").write_bytes(b"old")
    if there == "nothing":
        durable.move_new(source, target)
        assert not source.exists()
        assert (target if kind == "file" else target / "inner").read_bytes() == b"x"
        return
    before = sorted(path.name for path in target.iterdir()) if target.is_dir() else target.read_bytes()
    with pytest.raises(NameTaken):
        durable.move_new(source, target)
    assert source.exists()
    assert before == (sorted(path.name for path in target.iterdir()) if target.is_dir() else target.read_bytes())


def test_a_file_moves_by_copy_where_links_are_not_offered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    without_noreplace(monkeypatch, errno.EINVAL)

    def no_link(*args: object, **more: object) -> None:
        raise PermissionError(errno.EPERM, "no links here")

    monkeypatch.setattr(durable.os, "link", no_link)
    (tmp_path / "a").write_bytes(b"x")
    (tmp_path / "b").write_bytes(b"old")
    with pytest.raises(NameTaken):
        durable.move_new(tmp_path / "a", tmp_path / "b")
    durable.move_new(tmp_path / "a", tmp_path / "c")
    assert (tmp_path / "c").read_bytes() == b"x"
    assert not (tmp_path / "a").exists()


def test_a_rename_that_happened_although_it_failed_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file server may answer a resent request with an error after the first one was carried out."""
    (tmp_path / "a").write_bytes(b"x")

    def moves_and_fails(source: Path, target: Path) -> None:
        source.rename(target)
        raise OSError(errno.ENOENT, "no such file")

    monkeypatch.setattr(durable, "_rename_noreplace", moves_and_fails)
    durable.move_new(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "b").read_bytes() == b"x"


def test_copies_keep_content_and_time_but_not_modes(tmp_path: Path) -> None:
    source = tmp_path / "source"
    source.write_bytes(b"y" * 3_000_001)  # more than one chunk, not a multiple
    source.chmod(0o6777)
    os.utime(source, ns=(10**18 + 7, 10**18 + 7))
    came = durable.copy_new(source, tmp_path / "copy")
    assert came == proof.Proof(3_000_001, hashlib.sha256(b"y" * 3_000_001).hexdigest())
    facts = (tmp_path / "copy").stat()
    assert facts.st_mtime_ns == 10**18 + 7
    assert facts.st_mode & 0o7777 == 0o644 & ~_umask()


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def test_links_and_pipes_are_not_read(tmp_path: Path) -> None:
    (tmp_path / "real").write_bytes(b"secret")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    os.mkfifo(tmp_path / "pipe")
    for name in ("link", "pipe"):
        with pytest.raises(PermanentFault):
            durable.copy_new(tmp_path / name, tmp_path / "copy")
        assert not (tmp_path / "copy").exists()


def test_a_disk_that_reads_back_something_else_is_found_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(durable, "proof_of", lambda path, **more: proof.Proof(5, "0" * 64))
    with pytest.raises(TransientFault) as caught:
        durable.write_new(tmp_path / "a", b"hello")
    assert "read back" in caught.value.what
    assert not (tmp_path / "a").exists()


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EDQUOT])
def test_a_write_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    def full(descriptor: int) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(durable.os, "fsync", full)
    with pytest.raises(TransientFault) as caught:
        durable.write_file(tmp_path / "a", b"hello")
    assert errno.errorcode[number] in caught.value.came
    assert caught.value.help and caught.value.done
    assert list(tmp_path.iterdir()) == []


def test_every_system_error_is_one_of_two_kinds() -> None:
    for number in errno.errorcode:
        fault = fault_of(OSError(number, os.strerror(number)), "could not write", "x")
        assert isinstance(fault, TransientFault if number in HEALS else PermanentFault), errno.errorcode[number]
    for number in (errno.ENOSPC, errno.EIO, errno.ESTALE, errno.ENETDOWN, errno.EROFS, errno.EDQUOT):
        assert number in HEALS
    for number in (errno.ENAMETOOLONG, errno.EINVAL, errno.ELOOP, errno.EXDEV):
        assert number not in HEALS


def test_remove_copies_removes_links_without_following_them(tmp_path: Path) -> None:
    (tmp_path / "outside").mkdir()
    (tmp_path / "outside/keep").write_bytes(b"x")
    (tmp_path / "ours/inner").mkdir(parents=True)
    (tmp_path / "ours/inner/link").symlink_to(tmp_path / "outside")
    durable.remove_copies(tmp_path / "ours")
    assert not (tmp_path / "ours").exists()
    assert (tmp_path / "outside/keep").read_bytes() == b"x"
    (tmp_path / "link").symlink_to(tmp_path / "outside")
    durable.remove_copies(tmp_path / "link")
    assert (tmp_path / "outside/keep").exists()


def test_paths_are_shown_so_that_no_line_breaks() -> None:
    assert shown(os.fsdecode(b"cr\xe4te\n\x1b[31m.png")) == "cr\\xe4te\\n\\x1b[31m.png"
    assert shown("Kräne/ä.png") == "Kräne/ä.png"
