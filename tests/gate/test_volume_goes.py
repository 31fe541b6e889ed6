"""A volume that goes away between two steps: nothing is made, moved or decided where only its bare mount point is left."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.gate.bench import NOW, Bench
from tidegate.errors import PermanentFault, TransientFault
from tidegate.gate import claim, durable, give_back, handing, publish, ticket
from tidegate.gate.hand_over import set_aside
from tidegate.gate.layout import Layout


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def goes(tree: Path, *, bare: bool = True) -> Path:
    """Unmount it. Gives where it is meanwhile."""
    volume = tree.rename(tree.with_name("volume"))
    if bare:
        tree.mkdir()
    return volume


def comes(volume: Path, tree: Path) -> None:
    if tree.is_dir():
        tree.rmdir()  # fails where anything was made in it
    volume.rename(tree)


@pytest.mark.parametrize("bare", [False, True])
def test_no_drop_is_taken_into_a_work_folder_that_is_gone(bench: Bench, bare: bool) -> None:
    """The ticket is on the volume; files moved to a claim beside it would be hidden once it is back."""
    bench.put("crate/maps/crate.png", b"map")
    taken = bench.ticket()
    durable.write_file(bench.layout.ticket_file(taken.ticket), ticket.to_bytes(taken))
    volume = goes(bench.paths.work, bare=bare)
    with pytest.raises(TransientFault):
        claim.take(taken, bench.layout, bench.rules)
    assert bench.files("inbox") == {"crate/maps/crate.png": b"map"}
    comes(volume, bench.paths.work)
    claim.take(taken, bench.layout, bench.rules)
    assert bench.claimed() == {"drop/crate/maps/crate.png": b"map"}


@pytest.mark.parametrize("bare", [False, True])
def test_what_was_taken_along_does_not_go_back_below_a_bare_mount_point(
    bench: Bench, bare: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The returned tree was there when giving back began."""
    bench.put("float/float.obj", b"wrong")
    bench.through()
    before = bench.files("returned")
    bench.put("float_normal.png", b"new")
    taken = bench.claim()
    inside = bench.claimed()
    volume = goes(bench.paths.returned, bare=bare)
    with monkeypatch.context() as patch:
        patch.setattr(give_back, "require_returned", lambda *_: None)
        with pytest.raises(TransientFault):
            give_back.give_back(taken, bench.layout)
    assert bench.claimed() == inside
    comes(volume, bench.paths.returned)
    give_back.give_back(taken, bench.layout)
    assert (bench.files("returned"), bench.files("inbox")) == (before, {"float_normal.png": b"new"})


def test_an_inbox_that_goes_while_a_drop_is_given_back_is_not_made_anew(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.put("crate/maps/crate.png", b"map")
    taken = bench.claim()
    volume = goes(bench.paths.inbox, bare=False)
    with monkeypatch.context() as patch:
        patch.setattr(give_back, "_require_inbox", lambda *_: None)
        with pytest.raises(TransientFault):
            give_back.give_back(taken, bench.layout)
    assert not bench.paths.inbox.exists()
    assert bench.claimed() == {"drop/crate/maps/crate.png": b"map"}
    comes(volume, bench.paths.inbox)
    give_back.give_back(taken, bench.layout)
    assert bench.files("inbox") == {"crate/maps/crate.png": b"map"}


def half_handed(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> tuple[ticket.Ticket, handing.Note]:
    """A drop that is delivered, where a crash came before its claim was let go."""

    def crash(paths: object, home: object) -> None:
        raise KeyboardInterrupt

    bench.put("crate/crate.obj", b"fine")
    with monkeypatch.context() as patch:
        patch.setattr(claim, "let_go", crash)
        with pytest.raises(KeyboardInterrupt):
            bench.through()
    (file,) = bench.layout.tickets.iterdir()
    return ticket.read(file), handing.read(bench.layout.handing / file.name)


def test_a_prop_handed_over_is_not_gone_because_its_tree_is(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The tree goes just after it was looked at: taken for removed by somebody, the drop would go aside a second time."""
    taken, note = half_handed(bench, monkeypatch)
    volume = goes(bench.paths.delivery)
    looks = iter([None])
    real = Layout.require
    with monkeypatch.context() as patch:
        patch.setattr(Layout, "require", lambda self, tree: next(looks, 0) is None or real(self, tree))
        with pytest.raises(TransientFault, match="a tree of the gate is gone"):
            publish.publish(note, bench.layout, lambda each: None)
    with pytest.raises(TransientFault, match="a tree of the gate is gone"):
        set_aside(taken, PermanentFault("of another part"), bench.layout, NOW, lambda each: None)
    comes(volume, bench.paths.delivery)
    (each,) = publish.publish(note, bench.layout, lambda each: None)
    assert each.at == bench.paths.delivery / "quay/crate/v001"
    assert bench.files("aside") == bench.claimed() == {}


def test_a_tree_that_goes_before_the_last_move_is_not_made_anew(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    real = durable.make_folders

    def late(path: Path, **more: Path) -> None:
        if path.is_relative_to(bench.paths.delivery):
            shutil.rmtree(bench.paths.delivery)
        real(path, **more)

    bench.put("crate/crate.obj", b"fine")
    monkeypatch.setattr(publish.durable, "make_folders", late)
    with pytest.raises(TransientFault):
        bench.through()
    assert not bench.paths.delivery.exists()
    assert bench.claimed() == {"drop/crate/crate.obj": b"fine"}
