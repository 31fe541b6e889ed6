"""`tidegate sheet`: what is written where, and that nothing of anybody's is written over."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from tests.support.obj_drop import SQUARE, SQUARE_UV
from tidegate.cli.main import exit_code

OBJ = f"{SQUARE}{SQUARE_UV}usemtl planks\nf 1/1 2/2 3/3 4/4\n"


@pytest.fixture
def mesh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "drop" / "furniture_fish_crate.obj"
    path.parent.mkdir()
    path.write_text(OBJ, "utf-8")
    return path


def written(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())} if folder.exists() else {}


def test_every_form_at_a_size(mesh: Path, tmp_path: Path) -> None:
    out = tmp_path / "guides"
    assert exit_code(["sheet", str(mesh), "--size", "96", "--as", "all", "--bleed", "4", "--out", str(out)]) == 0
    endings = sorted(name.split("planks.", 1)[1] for name in written(out))
    assert endings == ["flat.png", "flat.tga", "layers.ora", "lines.png", "lines.svg"]
    for name, data in written(out).items():
        if name.endswith((".png", ".tga")):
            assert Image.open(io.BytesIO(data)).size == (96, 96)


def test_lines_alone_as_large_as_assumed_without_options(mesh: Path, tmp_path: Path) -> None:
    assert exit_code(["sheet", str(mesh), "--size", "64"]) == 0
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [
        "fish_crate.tidegate.guide.material_planks.lines.png"
    ]


def test_what_is_there_is_never_written_over(mesh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ask = ["sheet", str(mesh), "--size", "64", "--as", "flat", "--out", str(tmp_path / "out")]
    assert exit_code(ask) == 0
    before = written(tmp_path / "out")
    assert capsys.readouterr().out.startswith("write ")
    assert exit_code(ask) == 0
    assert capsys.readouterr().out.startswith("the same already ")
    assert exit_code([*ask, "--line", "3"]) == 2
    message = capsys.readouterr().err
    assert "there is another file of that name" in message and "--out" in message
    assert written(tmp_path / "out") == before


def test_a_dry_run_writes_nothing(mesh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    assert exit_code(["sheet", str(mesh), "--size", "64", "--as", "all", "--out", str(out), "--dry-run"]) == 0
    assert not out.exists()
    assert capsys.readouterr().out.count("would write") == 5


def test_the_ground_is_the_one_asked_for(mesh: Path, tmp_path: Path) -> None:
    # The square fills the tile, so the ground shows only through the tint: 255 * (1 - 56 / 255) darker than white's.
    for color, name in (("#000000", "dark"), ("ffffff", "light")):
        ask = ["sheet", str(mesh), "--size", "64", "--as", "flat", "--ground", color, "--out", str(tmp_path / name)]
        assert exit_code(ask) == 0
    dark, light = (
        Image.open(next((tmp_path / name).iterdir())).convert("RGB").getpixel((12, 50)) for name in ("dark", "light")
    )
    assert [b - a for a, b in zip(dark, light, strict=True)] == [199, 199, 199]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--ground", "red"], "is no color"),
        (["--size", "8"], "16"),
        (["--size", "99999"], "16384"),
        (["--line", "0"], "0.25"),
        (["--as", "gif"], "gif"),
        (["--out", "taken"], "is a file where a folder is wanted"),
    ],
)
def test_wrong_options_are_told(
    mesh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], options: list[str], said: str
) -> None:
    (tmp_path / "taken").write_text("a file", "utf-8")
    assert exit_code(["sheet", str(mesh), *options]) == 2
    captured = capsys.readouterr()
    assert said in captured.err and "Traceback" not in captured.err


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        (SQUARE + "f 1 2 3 4\n", 2, "has no UVs"),
        ("", 3, ""),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", 3, ""),
    ],
)
def test_a_mesh_that_cannot_be_drawn_is_told(
    mesh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, code: int, said: str
) -> None:
    mesh.write_text(text, "utf-8")
    result = exit_code(["sheet", str(mesh), "--size", "64", "--out", str(tmp_path / "out")])
    captured = capsys.readouterr()
    assert result in ({code} if said else {2, 3})
    assert said in captured.err and "tidegate itself failed" not in captured.err
    assert not written(tmp_path / "out")


def test_a_folder_without_a_mesh_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert exit_code(["sheet", str(tmp_path)]) == 2
    assert "there is no mesh" in capsys.readouterr().err
