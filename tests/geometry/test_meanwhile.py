from __future__ import annotations

from threading import Thread, get_ident

import pytest

from tidegate.geometry.meanwhile import Meanwhile


def refused(self: Thread) -> None:
    raise RuntimeError("can't start new thread")


@pytest.mark.parametrize("beside", [True, False])
def test_what_the_work_raises_is_raised_to_who_asks_each_time(beside: bool) -> None:
    work = Meanwhile(lambda: 1 // 0, beside=beside)
    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            work.result()


def test_work_is_done_once_in_a_thread_of_its_own_or_by_who_asks() -> None:
    ran: list[int] = []
    for beside in (True, False):
        work = Meanwhile(lambda: ran.append(get_ident()) or len(ran), beside=beside)
        assert work.result() == work.result() == len(ran)
    assert len(ran) == 2 and ran[0] != get_ident() and ran[1] == get_ident()


def test_where_no_thread_can_be_had_the_work_is_done_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """A worker near its memory limit has no room for the stack of a thread."""
    monkeypatch.setattr(Thread, "start", refused)
    assert Meanwhile(get_ident, beside=True).result() == get_ident()
