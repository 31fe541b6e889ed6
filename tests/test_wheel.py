"""The wheel holds the rule sets, and an installed copy finds them without a checkout around it."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pytest.importorskip("hatchling", reason="the wheel is built offline, so hatchling has to be installed")
    folder = tmp_path_factory.mktemp("wheel")
    asked = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "-w", str(folder)]
    subprocess.run([*asked, str(ROOT)], check=True, capture_output=True)
    (built,) = folder.glob("*.whl")
    return built


def test_it_holds_every_rule_set_and_what_else_is_read(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    for rule in (ROOT / "rules").glob("*.toml"):
        assert f"tidegate/_rules/{rule.name}" in names
    package = ROOT / "pipeline"
    for path in (package / "tidegate").rglob("*"):
        if path.is_file() and "__pycache__" not in path.parts:
            assert path.relative_to(package).as_posix() in names, path
    assert not [name for name in names if name.startswith(("tests/", "demo_project/"))]
    assert any(name.endswith("licenses/LICENSE") for name in names)


def test_an_installed_copy_finds_its_rule_sets(wheel: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path / "site")
    code = (
        f"import sys; sys.path.insert(0, {str(tmp_path / 'site')!r})\n"
        "import tidegate; from tidegate.load.rule_folder import shipped_folder\n"
        "from tidegate.cli.main import exit_code\n"
        "assert 'site' in tidegate.__file__, tidegate.__file__\n"
        "print(shipped_folder()); sys.exit(exit_code(['rules']))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, check=True, text=True)
    first, *rest = done.stdout.splitlines()
    assert first == str(tmp_path / "site" / "tidegate" / "_rules")
    for name in ("first_look", "handheld", "furniture", "building_part"):
        assert any(line.startswith(f"{name} ") for line in rest)
