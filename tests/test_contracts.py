"""What the layout of the code promises: imports one way, and one place that changes the disk."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "pipeline" / "tidegate"
SOURCES = sorted(PACKAGE.rglob("*.py"))

# Besides the gate, these write where a person at the command line told them to.
MAY_WRITE = ("gate/", "cli/new.py", "cli/check.py", "cli/sheet.py", "cli/gates.py")
# And these open what is no file of a drop: a log, a socket of the service manager, the null device.
MAY_OPEN = (*MAY_WRITE, "cli/main.py", "daemon/")
CHANGES = {
    "os": {
        "rename",
        "renames",
        "replace",
        "remove",
        "unlink",
        "rmdir",
        "removedirs",
        "mkdir",
        "makedirs",
        "link",
        "symlink",
    },
    "shutil": {"move", "copy", "copy2", "copyfile", "copytree", "rmtree"},
}
METHODS = {"unlink", "rmdir", "mkdir", "touch", "write_bytes", "write_text", "symlink_to", "hardlink_to"}
PURE = ("geometry", "pixels", "model", "measure", "checks", "judge")
IMPURE_MODULES = {
    "os",
    "pathlib",
    "shutil",
    "tempfile",
    "io",
    "time",
    "datetime",
    "random",
    "secrets",
    "socket",
    "sqlite3",
}
HEAVY = {"pydantic", "trimesh", "rich", "jinja2", "watchdog", "scipy"}
# Modules that read configuration through pydantic models; whoever needs them imports them inside a function.
PYDANTIC_MODELS = {
    "model/settings.py",
    "model/order_row.py",
    "load/configuration.py",
    "load/order_list.py",
    "load/starter.py",
}
# Hold paths, find the checks, or ask how many cores there are (which decides no fact); read and write nothing.
MAY_NAME_PATHS = ("model/settings.py", "checks/__init__.py", "geometry/meanwhile.py")
WRITING = {"w", "wb", "wt", "a", "ab", "at", "x", "xb", "xt", "r+", "rb+", "r+b", "w+", "w+b", "wb+"}


def name_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


def imported(nodes: Iterable[ast.AST]) -> Iterator[tuple[str, int]]:
    """(top-level package, line) of every absolute import among these nodes."""
    for node in nodes:
        if isinstance(node, ast.Import):
            yield from ((alias.name.split(".")[0], node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and not node.level:
            yield (node.module or "").split(".")[0], node.lineno


def for_types_only(path: Path) -> set[int]:
    """Lines that stand under `if TYPE_CHECKING:`."""
    return {
        inner.lineno
        for block in ast.walk(tree(path))
        if isinstance(block, ast.If) and isinstance(block.test, ast.Name) and block.test.id == "TYPE_CHECKING"
        for inner in block.body
    }


def test_only_the_gate_changes_the_disk() -> None:
    faults = [
        f"{name_of(path)}:{call.lineno}"
        for path in SOURCES
        if not name_of(path).startswith(MAY_OPEN)
        for call in ast.walk(tree(path))
        if isinstance(call, ast.Call) and changes_the_disk(call)
    ]
    assert faults == []


def changes_the_disk(call: ast.Call) -> bool:
    function = call.func
    if isinstance(function, ast.Name):
        return function.id == "open" and writes(call.args[1:2], call)
    if not isinstance(function, ast.Attribute):
        return False
    owner = function.value.id if isinstance(function.value, ast.Name) else ""
    if function.attr == "open" and owner != "os":
        return writes(call.args[:1], call)
    return function.attr in CHANGES.get(owner, ()) or function.attr in METHODS


def writes(modes: Sequence[ast.expr], call: ast.Call) -> bool:
    given = [*modes, *(keyword.value for keyword in call.keywords if keyword.arg == "mode")]
    return any(isinstance(mode, ast.Constant) and str(mode.value) in WRITING for mode in given)


def test_a_write_would_be_seen() -> None:
    for text in ("open(p, 'wb')", "p.open('w')", "os.rename(a, b)", "p.write_bytes(b'')", "shutil.move(a, b)"):
        assert changes_the_disk(ast.parse(text, mode="eval").body), text
    for text in ("open(p)", "open(p, 'rb')", "text.replace('a', 'b')", "os.open(p, os.O_RDONLY)", "Image.open(p)"):
        assert not changes_the_disk(ast.parse(text, mode="eval").body), text


def test_measuring_and_judging_touch_neither_disk_nor_clock_nor_chance() -> None:
    faults = []
    for path in SOURCES:
        if not name_of(path).startswith(PURE) or name_of(path) in MAY_NAME_PATHS:
            continue
        unseen = for_types_only(path)
        faults += [
            f"{name_of(path)}:{line} imports {module}"
            for module, line in imported(ast.walk(tree(path)))
            if module in IMPURE_MODULES and line not in unseen
        ]
        faults += [
            f"{name_of(path)}:{node.lineno} calls {node.func.id}"
            for node in ast.walk(tree(path))
            if isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in ("open", "print", "input")
        ]
    assert faults == []


def test_heavy_libraries_are_imported_where_they_are_needed() -> None:
    faults = [
        f"{name_of(path)}:{line} imports {module}"
        for path in SOURCES
        for module, line in imported(tree(path).body)
        if module in HEAVY and not (module == "pydantic" and name_of(path) in PYDANTIC_MODELS)
    ]
    assert faults == []


def test_imports_point_one_way() -> None:
    tool = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([str(tool), "--no-cache"], cwd=ROOT, capture_output=True, check=False, text=True)
    assert done.returncode == 0, done.stdout[-3000:]


def test_the_api_is_what_it_lists() -> None:
    api = import_module("tidegate")
    assert sorted(api.__all__) == api.__all__
    for name in api.__all__:
        assert getattr(api, name).__doc__, name
    with pytest.raises(AttributeError):
        _ = api.no_such_name


def test_importing_the_api_costs_next_to_nothing() -> None:
    code = "import sys, tidegate; print([m for m in ('numpy', 'pydantic', 'PIL', 'click') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert done.stdout.strip() == "[]"
