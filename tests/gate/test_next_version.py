"""What may become the next version of a prop: the same prop by its name, and nothing older than what is there."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest

from tests.gate.bench import NOW, Bench
from tests.gate.hostile_case import crate
from tests.load.pictures import noise, saved
from tidegate.cli.terms import with_rule_sets
from tidegate.errors import PermanentFault, TransientFault
from tidegate.gate import handed, handing, one_drop, publish
from tidegate.gate.hand_over import set_aside
from tidegate.gate.outcome import Outcome
from tidegate.gate.publish import Delivered
from tidegate.load.names_file import read_names
from tidegate.passage import TakeThrough, Terms

LATER = NOW + timedelta(hours=1)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


@pytest.fixture(scope="module")
def judge() -> TakeThrough:
    return TakeThrough(with_rule_sets(Terms(scheme=read_names(), rule_set="first_look", owner="slipway")))


def put(bench: Bench, name: str, *, whole: bool = True, size: int = 64) -> None:
    """A folder with one mesh of that name. size: of its map in texels, another for other content."""
    bench.put(f"drop/{name}.glb", crate().glb())
    if whole:
        bench.put("drop/crate_base_color.png", saved(noise("RGB", size, size), "PNG"))


def findings(each: Delivered) -> dict[str, dict[str, str]]:
    report = next(path for path in each.at.glob("*.tidegate.json") if path.name != handed.RECORD)
    return {one["check"]: one for one in json.loads(report.read_bytes())["findings"]}


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("a&b", "a#b"),
        ("crate_1", "crate 1"),
        ("lamp", "lamp+"),
        ("e_b", "é&b"),
        ("long_" * 12 + "a", "long_" * 12 + "b"),  # both are cut to 48 characters
        ("&&&", "###"),  # no letter is left of either
    ],
)
def test_two_props_whose_names_are_written_alike_are_told_apart(
    bench: Bench, judge: TakeThrough, first: str, second: str
) -> None:
    put(bench, first)
    (one,) = bench.through(judge)
    put(bench, second)
    (two,) = bench.through(judge, LATER)
    assert (one.record.verdict, two.record.verdict) == ("approved", "returned")
    assert one.record.prop == two.record.prop
    told = findings(two)["name-taken"]
    assert told["level"] == "error"
    prop = one.record.prop
    assert told["message"] == f"{second} and {first}, which was delivered as v001, are both called {prop} here"
    assert [path.name for path in one.at.parent.iterdir()] == ["v001"]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("mooring_bollard", "Mooring_Bollard"),  # casing is no sign
        ("mooring_bollard", "MooringBollard"),
        ("mooring_bollard_v001", "furniture_mooring_bollard_v002"),
        ("a&b", "a&b"),
    ],
)
def test_a_prop_may_be_spelled_as_people_do(bench: Bench, judge: TakeThrough, first: str, second: str) -> None:
    terms = Terms(scheme=read_names(), rule_set="first_look", owner="slipway", place=())
    judge = TakeThrough(with_rule_sets(terms))
    put(bench, first)
    bench.through(judge)
    put(bench, second, size=128)
    (each,) = bench.through(judge, LATER)
    assert (each.record.verdict, each.version) == ("approved", 2)
    assert "renamed" not in findings(each)


def test_a_returned_prop_may_take_the_name_it_was_told_to(bench: Bench, judge: TakeThrough) -> None:
    put(bench, "crate 1", whole=False)
    (first,) = bench.through(judge)
    assert first.record.verdict == "returned"
    put(bench, "crate_1")
    (second,) = bench.through(judge, LATER)
    assert (second.record.verdict, second.version) == ("approved", 1)
    assert "renamed" not in findings(second)


def test_a_delivered_prop_may_take_it_too_and_the_report_says_so(bench: Bench, judge: TakeThrough) -> None:
    put(bench, "crate 1")
    bench.through(judge)
    put(bench, "crate_1")
    (second,) = bench.through(judge, LATER)
    assert (second.record.verdict, second.version) == ("approved", 2)
    told = findings(second)["renamed"]
    assert told["level"] == "warning"
    assert told["message"] == "the version before, v001, was named `crate 1`, and this is `crate_1`"
    put(bench, "crate 1")
    (third,) = bench.through(judge, LATER + timedelta(hours=1))
    assert third.record.reason.endswith("first name-taken")


def test_in_hand_together_they_are_two_props(bench: Bench, judge: TakeThrough) -> None:
    """Both were judged before either was delivered, so neither report could ask the other's artist to rename it."""
    prepared = []
    for name in ("a&b", "a_b"):
        put(bench, name)
        prepared.append(one_drop.prepare(bench.claim(), bench.layout, bench.rules))
    judged = [judge(each.root, each.context) for each in prepared]
    (one,), (two,) = (
        one_drop.finish(each, outcomes, bench.layout, NOW, lambda _: None)
        for each, outcomes in zip(prepared, judged, strict=True)
    )
    assert (one.record.verdict, two.record.verdict) == ("approved", "returned")
    assert two.record.reason.startswith("name-taken: a_b and a&b, which was delivered as v001")


def test_in_hand_together_the_report_of_the_one_judged_later_says_so_already(bench: Bench, judge: TakeThrough) -> None:
    """Judge and hand-over ask the same: the report must not call approved what is then turned back."""
    prepared = []
    for name in ("a&b", "a_b"):
        put(bench, name)
        prepared.append(one_drop.prepare(bench.claim(), bench.layout, bench.rules))
    one, two = prepared
    one_drop.finish(one, judge(one.root, one.context), bench.layout, NOW, lambda _: None)
    (outcome,) = judge(two.root, two.context)
    assert (outcome.verdict, outcome.reason.rpartition("first ")[2]) == ("returned", "name-taken")


def test_a_record_from_before_names_were_kept_forbids_nothing(bench: Bench, judge: TakeThrough) -> None:
    put(bench, "a&b")
    (one,) = bench.through(judge)
    data = json.loads((one.at / handed.RECORD).read_bytes())
    assert data.pop("named") == "a&b"
    (one.at / handed.RECORD).write_text(json.dumps(data))
    put(bench, "a#b")
    (two,) = bench.through(judge, LATER)
    assert (two.record.verdict, two.version) == ("approved", 2)


# What was claimed earlier and is finished later ------------------------------------------------------------------


def returned_and_mended(bench: Bench) -> one_drop.Prepared:
    """Monday's mesh with a mended map, claimed and not yet handed over."""
    bench.put("float/float.obj", b"monday")
    bench.put("float/float_base_color.png", b"wrong")
    bench.through()
    bench.put("float_base_color.png", b"mended")
    prepared = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    assert prepared.ticket.completes
    return prepared


FLOAT = Outcome("float", "approved", ("float.obj", "float_base_color.png"), ("quay",))


def test_older_work_that_is_finished_later_does_not_become_the_newest(bench: Bench) -> None:
    older = returned_and_mended(bench)
    bench.put("float/float.obj", b"tuesday")
    bench.put("float/float_base_color.png", b"fine")
    (newer,) = bench.through([FLOAT])
    each, kept = one_drop.finish(older, [FLOAT], bench.layout, NOW, lambda _: None)
    assert (each.record.verdict, kept.record.verdict) == ("returned", "kept")
    assert each.record.reason == (
        f"newer-delivered: v001 was claimed later, as {newer.record.ticket}, and delivered first: these files are older"
    )
    text = (each.at / "float.newer-delivered.tidegate.txt").read_text("utf-8")
    assert "drop mesh and maps together again" in text
    assert [path.name for path in newer.at.parent.iterdir()] == ["v001"]
    assert (each.at / "float.obj").read_bytes() == b"monday"


def test_the_same_content_finished_later_is_only_the_same(bench: Bench) -> None:
    older = returned_and_mended(bench)
    bench.put("float/float.obj", b"monday")
    bench.put("float/float_base_color.png", b"mended")
    bench.through([FLOAT])
    each, _ = one_drop.finish(older, [FLOAT], bench.layout, NOW, lambda _: None)
    assert (each.record.verdict, each.same) == ("approved", True)


def test_what_another_gate_claimed_later_is_not_newer_for_sure(tmp_path: Path, bench: Bench) -> None:
    """Ids rise within a gate; the clock may have been set between those of two gates."""
    older = returned_and_mended(bench)
    vendor = Bench(tmp_path, name="vendor", owner="slipway")
    vendor.put("float/float.obj", b"theirs")
    vendor.put("float/float_base_color.png", b"fine")
    vendor.through([FLOAT], LATER)
    each, _ = one_drop.finish(older, [FLOAT], bench.layout, NOW, lambda _: None)
    assert (each.record.verdict, each.version) == ("approved", 2)


def test_the_judge_tells_it_in_the_report(bench: Bench, judge: TakeThrough) -> None:
    put(bench, "crate")
    older = one_drop.prepare(bench.claim(), bench.layout, bench.rules)
    put(bench, "crate", size=128)
    bench.through(judge)
    (each,) = one_drop.finish(older, judge(older.root, older.context), bench.layout, NOW, lambda _: None)
    assert findings(each)["newer-delivered"]["help"].startswith("nothing is needed if that one holds your change")


def test_a_version_that_waited_staged_does_not_come_after_a_newer_one(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its note is durable and its move failed; a newer drop was delivered before it was tried again."""
    older = returned_and_mended(bench)

    def full(*_: object) -> None:
        raise TransientFault("could not move")

    with monkeypatch.context() as patch:
        patch.setattr(publish, "_move_to_free", full)
        with pytest.raises(TransientFault):
            one_drop.finish(older, [FLOAT], bench.layout, NOW, lambda _: None)
    bench.put("float/float.obj", b"tuesday")
    bench.put("float/float_base_color.png", b"fine")
    (newer,) = bench.through([FLOAT])
    note = handing.read(bench.layout.handing_file(older.ticket.ticket))
    with pytest.raises(PermanentFault, match="a newer version was delivered meanwhile") as fault:
        publish.publish(note, bench.layout, lambda _: None)
    (aside,) = set_aside(older.ticket, fault.value, bench.layout, NOW, lambda _: None)
    assert (aside.at / "float.obj").read_bytes() == b"monday"
    assert [path.name for path in newer.at.parent.iterdir()] == ["v001"]
