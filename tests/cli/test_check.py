"""`tidegate check`: what it takes, what it prints, what it writes, and how it ends."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

from tests.gate.bench import Bench
from tests.support.clean_prop import net_locker
from tests.support.command_line import tidegate
from tidegate.gate.outcome import Outcome

SQUARE = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt .1 .1\nvt .9 .1\nvt .9 .9\nvt .1 .9\nf 1/1 2/2 3/3 4/4\n"


def plank(folder: Path, name: str = "plank") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{name}.obj").write_text(SQUARE)
    return folder


def test_all_approved_is_0(tmp_path: Path) -> None:
    ran = tidegate("check", net_locker(tmp_path), "--set", "furniture")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.endswith("checked 1 prop: 1 approved\n")


def test_an_error_is_1(tmp_path: Path) -> None:
    ran = tidegate("check", net_locker(tmp_path, mirrored=(1,)), "--set", "furniture")
    assert ran.code == 1
    assert "error mirrored-islands" in ran.out


def test_what_could_not_be_judged_is_3_and_wins(tmp_path: Path) -> None:
    net_locker(tmp_path, mirrored=(1,))
    broken = tmp_path / "rope_coil"
    broken.mkdir()
    (broken / "rope_coil.glb").write_bytes(b"glTF\x02\0\0\0")
    ran = tidegate("check", tmp_path / "furniture_net_locker", broken, "--set", "furniture")
    assert ran.code == 3
    assert "1 returned, 1 unjudged" in ran.out


UNREAD = {
    "crate.fbx": (b"Kaydara FBX Binary  \0", "FBX"),
    "crate.dae": (b'<?xml version="1.0"?><COLLADA/>', "COLLADA"),
    "crate.usda": (b"#usda 1.0\n", "USD"),
    "crate.usdc": (b"PXR-USDC\0\0", "USD"),
    "crate.usdz": (b"PK\x03\x04", "USD"),
}


@pytest.mark.parametrize("name", UNREAD)
def test_a_format_without_a_reader_says_which_is_missing(tmp_path: Path, name: str) -> None:
    content, reader = UNREAD[name]
    (tmp_path / name).write_bytes(content)
    ran = tidegate("check", tmp_path / name)
    assert ran.code == 3
    assert f"there is no {reader} reader here" in ran.out


def test_nothing_to_check_is_4(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("x")
    ran = tidegate("check", tmp_path)
    assert (ran.code, ran.out) == (4, "")
    assert "nothing to check" in ran.err
    shown = tidegate("check", tmp_path, "--format", "json")
    assert (shown.code, json.loads(shown.out)["props"]) == (4, [])


@pytest.mark.parametrize(
    "arguments",
    [
        (),
        ("",),
        ("x" * 5000,),
        ("x/" * 3000,),
        (".", "--unit", "mmm"),
        (".", "--format", "yaml"),
        (".", "--up-axis", "x"),
        (".", "--set", "../furniture"),
        (".", "--gate", "quay"),
        (".", "--config", "nothere.toml"),
    ],
)
def test_asked_wrongly_is_2(arguments: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(plank(tmp_path))
    ran = tidegate("check", *arguments)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("tidegate: ")


@pytest.mark.skipif(os.name != "posix", reason="sends a POSIX signal")
def test_ctrl_c_is_130(tmp_path: Path) -> None:
    mesh = tmp_path / "crate.obj"
    mesh.write_text("v 0 0 0\n" * 12_000_000)  # some seconds of reading
    process = subprocess.Popen(
        [sys.executable, "-m", "tidegate", "check", str(mesh)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        # What a shell starts in the background ignores Ctrl-C, and all that it starts in turn: these tests may be such.
        preexec_fn=partial(signal.signal, signal.SIGINT, signal.SIG_DFL),
    )
    # Until the whole text is in memory: from there on reading takes its seconds, and Python's start is not what is interrupted.
    for _ in range(5000):
        if resident(process.pid) > mesh.stat().st_size or process.poll() is not None:
            break
        time.sleep(0.002)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out, err) == (130, b"", b"tidegate: stopped\n")


def resident(pid: int) -> int:
    """Bytes of a process that are in memory, 0 where the system does not tell."""
    with contextlib.suppress(OSError, IndexError):
        return int(Path(f"/proc/{pid}/statm").read_text("ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE")
    return 0


def test_nothing_is_written_without_report(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drop = net_locker(tmp_path)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    before = {path: path.stat().st_mtime_ns for path in sorted(tmp_path.rglob("*"))}
    tidegate("check", drop)
    assert {path: path.stat().st_mtime_ns for path in sorted(tmp_path.rglob("*"))} == before


def test_report_writes_the_same_record_that_json_shows(tmp_path: Path) -> None:
    drop = plank(tmp_path / "plank")
    shown = json.loads(tidegate("check", drop, "--format", "json").out)["props"][0]
    tidegate("check", drop, "--report", tmp_path / "out" / "deep")
    written = json.loads((tmp_path / "out" / "deep" / "plank.tidegate.json").read_text("ascii"))
    for record in (shown, written):
        record.pop("run")
        record.pop("pictures")
        for finding in record["findings"]:
            finding["place"].pop("letter", None)
            finding.pop("letter", None)
    assert shown == written


def test_reports_of_props_with_one_name_never_overwrite_each_other(tmp_path: Path) -> None:
    for number in range(3):
        plank(tmp_path / "drops" / f"drop{number}")
    ran = tidegate("check", tmp_path / "drops", "--report", tmp_path / "out")
    assert "checked 3 props" in ran.out
    assert len(list((tmp_path / "out").rglob("plank.tidegate.json"))) == 3


def test_a_folder_that_cannot_be_written_is_told_plainly(tmp_path: Path) -> None:
    plank(tmp_path / "plank")
    (tmp_path / "file").write_text("x")
    ran = tidegate("check", tmp_path / "plank", "--report", tmp_path / "file")
    assert ran.code == 2
    assert str(tmp_path / "file") in ran.err


@pytest.mark.skipif(os.name != "posix", reason="needs names that are no text")
@pytest.mark.parametrize("form", ["text", "json"])
def test_a_name_that_is_no_utf8_is_shown_and_told(tmp_path: Path, form: str) -> None:
    drop = plank(tmp_path / "plank")
    (drop / "plank.obj").rename(os.fsdecode(os.fsencode(drop) + b"/plank_\xff.obj"))
    done = subprocess.run(
        [sys.executable, "-m", "tidegate", "check", str(drop), "--format", form, "--report", str(tmp_path / "out")],
        capture_output=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"unportable-name" in done.stdout
    if form == "json":
        (prop,) = json.loads(done.stdout)["props"]
        assert prop["files"][0]["path"] == "plank_\udcff.obj"
    assert len(list((tmp_path / "out").glob("*.tidegate.json"))) == 1


def test_a_folder_of_drops_is_judged_drop_by_drop(tmp_path: Path) -> None:
    plank(tmp_path / "drops" / "one", "plank")
    plank(tmp_path / "drops" / "two", "beam")
    shown = json.loads(tidegate("check", tmp_path / "drops", "--format", "json").out)
    assert shown["schema"] == "tidegate-check/1"
    assert sorted(record["prop"] for record in shown["props"]) == ["beam", "plank"]


def test_text_reads_well_in_80_columns(tmp_path: Path) -> None:
    long = "harbour_office_notice_board_with_a_very_long_name_indeed"
    drop = plank(tmp_path / long, long)
    (drop / f"{long}.obj").write_text(
        "mtllib gone.mtl\nusemtl weathered_planks_of_the_old_harbour_office\n" + SQUARE.replace(".1", "-3.1")
    )
    for set_name in ("first_look", "handheld"):
        for line in tidegate("check", drop, "--set", set_name).out.splitlines():
            assert len(line) <= 80 or " " not in line.strip(), line


def test_concise_is_one_line_a_finding(tmp_path: Path) -> None:
    drop = net_locker(tmp_path, mirrored=(1,))
    record = json.loads(tidegate("check", drop, "--set", "furniture", "--format", "json").out)["props"][0]
    lines = tidegate("check", drop, "--set", "furniture", "--concise").out.splitlines()
    assert len(lines) == len(record["findings"]) + 2  # and the verdict, and the tally
    assert any("error: mirrored-islands" in line for line in lines)


def test_colour_only_on_a_terminal_and_never_under_no_color(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from tidegate.cli import colors

    assert "\x1b[" not in tidegate("check", net_locker(tmp_path, mirrored=(1,)), "--set", "furniture").out

    class Terminal:
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr(colors.sys, "stdout", Terminal())
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert "\x1b[" in colors.colored("error mirrored-islands\n")
    monkeypatch.setenv("NO_COLOR", "1")
    assert colors.colored("error mirrored-islands\n") == "error mirrored-islands\n"


def test_units_and_up_axis_of_files_that_state_none(tmp_path: Path) -> None:
    drop = plank(tmp_path / "plank")

    def size(*more: str) -> list[float]:
        record = json.loads(tidegate("check", drop, "--format", "json", *more).out)["props"][0]
        return list(record["facts"]["size_m"])

    assert size() == [1.0, 1.0, 0.0]
    assert size("--unit", "cm") == [0.01, 0.01, 0.0]
    assert size("--up-axis", "z") == [1.0, 0.0, 1.0]  # what was up the page is now depth


def test_a_mesh_file_named_alone_is_judged_without_its_like_in_another_format(tmp_path: Path) -> None:
    plank(tmp_path)
    (tmp_path / "plank.usd").write_bytes(b"PXR-USDC\0\0")
    (tmp_path / "plank_v002.obj").write_text(SQUARE)
    record = json.loads(tidegate("check", tmp_path / "plank.obj", "--format", "json").out)["props"][0]
    assert [file["path"] for file in record["files"]] == ["plank.obj"]
    asked = tidegate("check", tmp_path / "plank.usd")
    assert asked.code == 3 and "there is no USD reader here" in asked.out and "plank.obj" not in asked.out


def test_what_a_mesh_file_brings_with_it_is_told(tmp_path: Path) -> None:
    plank(tmp_path)
    assert tidegate("check", tmp_path / "plank.obj").err == ""
    plank(tmp_path, "plank_lod1")
    (tmp_path / "plank_lod1.stl").write_bytes(b"")  # the same level in another format than the one asked for
    ran = tidegate("check", tmp_path / "plank.obj")
    assert ran.err == "tidegate: with plank: plank_lod1.obj\n"
    assert tidegate("check", tmp_path).err == ""  # a folder is one drop, with all that lies in it
    assert tidegate("check", tmp_path / "plank.obj", "--format", "json").err == ""


def test_a_narrow_terminal_gets_narrow_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from tidegate.cli import width

    monkeypatch.setattr(width, "terminal_width", lambda: 40)
    ran = tidegate("check", net_locker(tmp_path, mirrored=(1,)), "--set", "furniture")
    report = ran.out.split("\nchecked ")[0].splitlines()
    assert report and all(len(line) <= 40 or len(line.split()) <= 2 for line in report)
    assert any(30 < len(line) <= 40 for line in report)


def handed_over(tmp_path: Path, verdict: str) -> Path:
    """A net locker with one mirrored island that a gate handed over with this verdict, and where it lies."""
    bench = Bench(tmp_path / "quay")
    drop = net_locker(tmp_path, mirrored=(1,))
    for path in sorted(drop.iterdir()):
        bench.put(f"net_locker/{path.name}", path.read_bytes())
    files = tuple(path.name for path in sorted(drop.iterdir()))
    (each,) = bench.through([Outcome("net_locker", verdict, files, place=("furniture",))])
    return each.at


def test_a_returned_folder_is_not_blamed_for_the_ticket_behind_its_name(tmp_path: Path) -> None:
    at = handed_over(tmp_path, "returned")
    assert at.name.startswith("net_locker-2026")
    ran = tidegate("check", at, "--set", "furniture")
    assert "error mirrored-islands" in ran.out and "name-out-of-form" not in ran.out
    at.rename(at.with_name("net_locker-2026"))  # not our ticket: an artist's own name, and told
    assert "error name-out-of-form" in tidegate("check", at.with_name("net_locker-2026"), "--set", "furniture").out


def test_a_returned_prop_in_several_folders_is_one_drop(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "quay")
    files = ("model/plank.obj", "lod/plank_lod1.obj")
    for path in files:
        bench.put(f"plank/{path}", SQUARE.encode())
    (each,) = bench.through([Outcome("plank", "returned", files)])
    for asked in (each.at, each.at.parent):
        (record,) = json.loads(tidegate("check", asked, "--format", "json").out)["props"]
        assert sorted(file["path"] for file in record["files"] if file["path"].endswith(".obj")) == sorted(files)
    # Without our record it is a folder of drops, as any other.
    (each.at / "handed.tidegate.json").unlink()
    assert len(json.loads(tidegate("check", each.at, "--format", "json").out)["props"]) == 2


def test_a_delivery_tree_is_judged_prop_by_prop_without_what_the_gate_keeps_there(tmp_path: Path) -> None:
    """However few there are: one category with one prop is a folder in a folder in a folder."""
    at = handed_over(tmp_path, "approved")
    delivery = at.parents[2]
    note = delivery / ".tidegate-staging" / "quay.work"
    note.parent.mkdir(exist_ok=True)
    note.write_text("x")
    (record,) = json.loads(tidegate("check", delivery, "--format", "json").out)["props"]
    assert (record["prop"], record["verdict"]) == ("net_locker", "approved")
    paths = [file["path"] for file in record["files"]]
    assert paths and not any("/" in path for path in paths)
    assert "stray-file" not in [finding["check"] for finding in record["findings"]]


@pytest.mark.skipif(
    os.name != "posix" or os.geteuid() != 0 or not shutil.which("setpriv"),
    reason="takes its own rights away, which needs all of them",
)
def test_a_folder_among_drops_that_may_not_be_listed_is_not_passed_over(tmp_path: Path) -> None:
    for name in ("one", "two", "shut"):
        plank(tmp_path / "drops" / name, name)
    (tmp_path / "drops" / "shut").chmod(0)
    without = ["setpriv", "--bounding-set=-dac_override,-dac_read_search", "--inh-caps=-dac_override,-dac_read_search"]
    asked = [sys.executable, "-m", "tidegate", "check", str(tmp_path / "drops"), "--concise"]
    done = subprocess.run([*without, *asked], capture_output=True, check=False, text=True)
    assert done.returncode == 3, done.stderr
    shut = tmp_path / "drops" / "shut"
    assert done.stderr.startswith(f"tidegate: {shut}: the folder cannot be listed: Permission denied\n  done: ")
    assert done.stdout.endswith("checked 2 props: 2 approved\n")
    alone = subprocess.run([*without, *asked[:4], str(shut)], capture_output=True, check=False, text=True)
    assert (alone.returncode, alone.stdout, alone.stderr) == (3, "", done.stderr)
    sheet = subprocess.run([*without, *asked[:3], "sheet", str(shut)], capture_output=True, check=False, text=True)
    assert (sheet.returncode, sheet.stdout) == (3, "")
    assert sheet.stderr.startswith(f"tidegate: {shut}: the folder cannot be listed: Permission denied\n  help: ")


def test_nothing_to_check_names_what_was_asked_for(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("x")
    ran = tidegate("check", tmp_path / "notes.txt")
    assert ran.code == 4
    assert ran.err.startswith(f"tidegate: nothing to check: no mesh and no map in `{tmp_path}/notes.txt`\n  help: ")


def test_with_several_gates_and_none_asked_for_it_says_whose_rules_judge(tmp_path: Path) -> None:
    gates = "".join(
        f"[[gate]]\nname = '{name}'\nrule_set = 'furniture'\n"
        + "".join(f"{each} = '{name}/{each}'\n" for each in ("inbox", "work", "delivery", "returned", "aside", "kept"))
        for name in ("quay", "pier")
    )
    (tmp_path / "tidegate.toml").write_text(gates)
    asked = ("check", plank(tmp_path / "plank"), "--config", tmp_path / "tidegate.toml")
    ran = tidegate(*asked)
    assert "2 gates and none was asked for, so `first_look` judges, without orders and categories" in ran.err
    assert "  help: --gate judges on the terms of one: `quay` or `pier`\n" in ran.err
    assert "under the rule set first_look" in ran.out
    assert tidegate(*asked, "--set", "handheld").err == ""
    sheet = tidegate("sheet", tmp_path / "plank", *asked[2:], "--dry-run")
    assert (sheet.code, sheet.err) == (0, "")  # it judges nothing
    at_quay = tidegate(*asked, "--gate", "quay")
    assert "under the rule set furniture" in at_quay.out and at_quay.err == ""
