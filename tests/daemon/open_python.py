"""An interpreter that an account without rights may run, with all that tidegate needs, wherever the one here lies.

An interpreter under a closed folder (a home, a runner's private one) runs for its owner alone. Files that everybody may
read are linked under an open folder by hard links: those do not lead through the closed one. The others, and everything where
the file system links nothing, are copied.
"""

from __future__ import annotations

import importlib.metadata
import os
import re
import shutil
import subprocess
import sys
import sysconfig
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import tidegate

LEFT_OUT = (
    "test",
    "tests",
    "idlelib",
    "ensurepip",
    "lib2to3",
    "tkinter",
    "turtledemo",
    "site-packages",
    "dist-packages",
)
PROVEN = (
    "import subprocess, sys, tidegate, numpy, PIL; sys.exit(subprocess.call([sys.executable, '-c', 'import tidegate']))"
)


@dataclass(frozen=True, slots=True)
class Python:
    """An interpreter, and what has to stand in the environment for it."""

    path: str
    environment: dict[str, str] = field(default_factory=dict)

    def runs(self, before: Sequence[str]) -> bool:
        """Whether it imports what is needed, and can begin itself anew, as a worker does. before: a command that starts it."""
        ran = [*before, self.path, "-c", PROVEN]
        environment = {**os.environ, **self.environment}
        try:
            return subprocess.run(ran, env=environment, cwd="/", capture_output=True, check=False).returncode == 0
        except OSError:
            return False


def this_python() -> Python:
    return Python(sys.executable, {"PYTHONPATH": os.pathsep.join(each for each in sys.path if each)})


def linked(base: Path) -> Python:
    """The same interpreter under `base`: its standard library, tidegate and what that depends on, nothing else."""
    binary = base / "bin" / f"python{sys.version_info[0]}.{sys.version_info[1]}"
    _give(Path(sys.executable).resolve(), binary)
    library, site = Path(os.__file__).parent, base / "site"
    _give_tree(library, base / sys.platlibdir / library.name)
    extensions = Path(sysconfig.get_config_var("DESTSHARED") or library)
    if not extensions.is_relative_to(library):
        _give_tree(extensions, base / sys.platlibdir / library.name / "lib-dynload")
    if sysconfig.get_config_var("Py_ENABLE_SHARED"):
        shared = str(sysconfig.get_config_var("INSTSONAME"))
        _give(Path(str(sysconfig.get_config_var("LIBDIR"))) / shared, base / "lib" / shared)
    for name in _needed("tidegate"):
        for file in importlib.metadata.files(name) or ():
            if not {"..", *LEFT_OUT} & set(file.parts) and (at := Path(str(file.locate()))).is_file():
                _give(at, site / file)
    package = Path(tidegate.__file__).parent
    _give_tree(package, site / package.name)
    if (
        rules := package.parent.parent / "rules"
    ).is_dir():  # where an editable install finds them: beside the source root
        _give_tree(rules, base / "rules")
    return Python(str(binary), {"PYTHONHOME": str(base), "PYTHONPATH": str(site), "LD_LIBRARY_PATH": str(base / "lib")})


def _needed(name: str) -> set[str]:
    """The distribution and all that it depends on, extras left out."""
    found: set[str] = set()
    open_ones = [name]
    while open_ones:
        one = open_ones.pop()
        try:
            asked = importlib.metadata.requires(one) or ()
        except importlib.metadata.PackageNotFoundError:
            continue  # wanted on another system or version only
        found.add(one)
        names = [match[0] for each in asked if "extra ==" not in each and (match := re.match(r"[\w.-]+", each))]
        open_ones += [each for each in names if each not in found]
    return found


def _give_tree(source: Path, target: Path) -> None:
    for folder, inner, names in os.walk(source):
        inner[:] = [each for each in inner if each not in LEFT_OUT]
        for name in names:
            _give(Path(folder) / name, target / Path(folder).relative_to(source) / name)


def _give(source: Path, target: Path) -> None:
    """The file under another name, for everybody to read, and to run where its owner may."""
    for folder in _missing(target.parent):
        folder.mkdir(mode=0o755)
        folder.chmod(0o755)  # whatever the umask
    if target.exists():
        return
    mode = source.stat().st_mode
    wanted = 0o755 if mode & 0o100 else 0o644
    if mode & wanted == wanted and mode & 0o022 == 0:
        try:
            os.link(source.resolve(), target)
            return
        except OSError:
            pass
    shutil.copyfile(source, target)
    target.chmod(wanted)


def _missing(folder: Path) -> Iterator[Path]:
    """The folders above and this one that are not there, from the top."""
    if not folder.exists():
        yield from _missing(folder.parent)
        yield folder
