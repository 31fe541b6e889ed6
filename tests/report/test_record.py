"""The sidecar report: its schema, its sameness from run to run, and names that are no text."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from tests.support.clean_prop import net_locker
from tidegate import Terms, Verdict, examine, list_drop, read_names, report_record, report_schema
from tidegate.report.json_report import json_text
from tidegate.report.sidecars import sidecars
from tidegate.report.text_report import text_report

SCHEME = read_names()
RUN = {"ticket": "20261125T090000Z-abc123", "at": datetime(2026, 11, 25, 9, tzinfo=UTC).isoformat(), "seconds": 0.4}


def verdict_on(drop: Path, rule_set: str = "furniture", **more: Any) -> Verdict:
    (verdict,) = examine(list_drop(drop, SCHEME), Terms(scheme=SCHEME, rule_set=rule_set, forced_set=True, **more))
    return verdict


def valid(record: dict[str, Any]) -> None:
    schema = report_schema()
    checker = jsonschema.Draft202012Validator
    # Through JSON text, as a reader meets it: numbers, nulls and no NaN.
    checker(schema, format_checker=checker.FORMAT_CHECKER).validate(json.loads(json_text(record)))


def broken(drop: Path) -> Path:
    (drop / "furniture_net_locker.glb").write_bytes(b"glTF")
    return drop


def mapless(drop: Path) -> Path:
    for path in drop.glob("*.png"):
        path.unlink()
    return drop


@pytest.mark.parametrize("kind", ["clean", "wrong", "broken", "without maps", "without a set"])
def test_every_report_is_valid_by_its_schema(tmp_path: Path, kind: str) -> None:
    drop = net_locker(tmp_path, **({"mirrored": (1,), "tilt": {2: 40}} if kind == "wrong" else {}))
    if kind == "broken":
        broken(drop)
    if kind == "without maps":
        mapless(drop)
    if kind == "without a set":
        (verdict,) = examine(list_drop(drop, SCHEME), Terms(scheme=SCHEME, rule_set=""))
    else:
        verdict = verdict_on(drop)
    record = report_record(verdict, RUN)
    valid(record)
    expected = {"clean": "approved", "broken": "unjudged"}.get(kind, "returned")
    assert record["verdict"] == expected


def test_the_schema_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(report_schema())


def test_a_record_that_lacks_a_promised_key_is_refused(tmp_path: Path) -> None:
    record = report_record(verdict_on(net_locker(tmp_path)), RUN)
    for key in ("schema", "prop", "verdict", "rule_set", "counts", "files", "facts", "findings", "run"):
        with pytest.raises(jsonschema.ValidationError):
            valid({name: value for name, value in record.items() if name != key})
    with pytest.raises(jsonschema.ValidationError):
        valid({**record, "verdict": "fine"})


def test_it_holds_what_is_promised(tmp_path: Path) -> None:
    record = report_record(verdict_on(net_locker(tmp_path, mirrored=(1,))), RUN)
    assert next(iter(record)) == "schema"
    assert list(record)[-1] == "run"
    assert set(record["files"][0]) >= {"path", "role", "bytes", "sha256"}
    assert set(record["facts"]) >= {"triangles", "uv_layers", "islands", "maps"}
    assert set(record["facts"]["islands"][0]) >= {
        *("id", "mesh", "material", "uv_layer", "tile", "triangles", "uv_area", "world_area_m2", "bounds"),
        *("mirrored", "density_px_per_m", "stretch_ratio", "up_deg", "up_certainty"),
    }
    assert set(record["facts"]["maps"][0]) >= {
        *("path", "slot", "width_px", "height_px", "bits_per_pixel", "channels", "format"),
    }
    assert set(record["findings"][0]) >= {"check", "level", "message", "place", "measured", "wanted", "unit", "help"}
    counted = {level: sum(f["level"] == level for f in record["findings"]) for level in ("error", "warning", "note")}
    assert record["counts"] == counted
    assert [island["mirrored"] for island in record["facts"]["islands"]] == [False, True, False, False]


def test_files_are_listed_with_their_own_hashes(tmp_path: Path) -> None:
    import hashlib

    drop = net_locker(tmp_path)
    record = report_record(verdict_on(drop), RUN)
    assert sorted(file["path"] for file in record["files"]) == sorted(path.name for path in drop.iterdir())
    for file in record["files"]:
        data = (drop / file["path"]).read_bytes()
        assert (file["bytes"], file["sha256"]) == (len(data), hashlib.sha256(data).hexdigest())


def test_the_same_files_give_the_same_bytes_outside_run(tmp_path: Path) -> None:
    """From two places on the disk, one written in another order, at another time."""
    one = net_locker(tmp_path / "a", mirrored=(1,), tilt={2: 40})
    two = tmp_path / "b" / "furniture_net_locker"
    two.mkdir(parents=True)
    for path in sorted(one.iterdir(), reverse=True):
        (two / path.name).write_bytes(path.read_bytes())
        os.utime(two / path.name, (1, 1))
    texts = []
    for drop, run in ((one, RUN), (two, {"ticket": "other", "host": "elsewhere"})):
        verdict = verdict_on(drop, pictures=("fault_sheet",))
        files = dict(sidecars(verdict, report_record(verdict, run)))
        text = files.pop("net_locker.tidegate.json").decode("ascii")
        head, mark, _ = text.rpartition('"run"')
        assert mark
        texts.append((head, {name: data for name, data in files.items() if name.endswith(".png")}))
    assert texts[0] == texts[1]


@pytest.mark.skipif(os.name != "posix", reason="needs names that are no text")
def test_names_that_are_no_utf8_survive(tmp_path: Path) -> None:
    """PEP 383: bytes that are no UTF-8 become lone surrogates, which JSON carries as escapes and gives back."""
    drop = net_locker(tmp_path)
    (drop / os.fsdecode(b"seil_\xff.txt")).write_bytes(b"x")
    (drop / "net_locker_normal.png").rename(drop / os.fsdecode(b"net_locker_\xfe_normal.png"))
    verdict = verdict_on(drop)
    record = report_record(verdict, RUN)
    valid(record)
    text = json_text(record)
    assert text.isascii()
    assert json.loads(text) == record
    for name, data in sidecars(verdict, record):
        assert name.isascii()
        assert data
    paths = {file["path"] for file in record["files"]}
    told = {finding["place"].get("file") for finding in record["findings"] if finding["check"] == "unportable-name"}
    assert "net_locker_\udcfe_normal.png" in told
    assert "net_locker_\udcfe_normal.png" in paths | told


def test_text_has_the_findings_fix_first_and_80_columns(tmp_path: Path) -> None:
    record = report_record(verdict_on(net_locker(tmp_path, mirrored=(1,), master=False), "handheld"), RUN)
    text = text_report(record)
    assert max(len(line) for line in text.splitlines()) <= 80
    levels = [finding["level"] for finding in record["findings"]]
    assert levels == sorted(levels, key=("error", "warning", "note").index)
    assert text.index("error mirrored-islands") < text.index("warning missing-master")
    assert "net_locker returned under the rule set handheld" in text
