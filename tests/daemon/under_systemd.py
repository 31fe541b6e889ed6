"""README's unit under the real service manager: this machine's systemd boots in a throw-away copy of its root.

    python -m tests.daemon.under_systemd

Needs root, systemd-nspawn (Debian: systemd-container) and a kernel with overlayfs. The copy is an overlay in memory: nothing
of the machine is changed, and all of it is gone afterwards. The unit is read out of README.md; only the watchdog's time is
shortened, by a drop-in. Inside runs `under_systemd_inside.py`, which says what it saw. Takes about a minute.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from tests.test_readme import blocks

INSIDE = Path(__file__).with_name("under_systemd_inside.py")
PROVE = """[Unit]
After=tidegate.service
[Service]
Type=oneshot
ExecStart={python} {inside}
ExecStopPost=/bin/systemctl poweroff --force
TimeoutStartSec=240
[Install]
WantedBy=multi-user.target
"""
RUN = """#!/bin/sh
PYTHONPATH={path} exec {python} -m tidegate "$@"
"""


@contextmanager
def mounted(*words: str) -> Iterator[None]:
    subprocess.run(["mount", *words], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", words[-1]], check=False)


def furnish(root: Path) -> None:
    """An account, the program, README's unit and a project, all below `root`."""
    path = ":".join(each for each in sys.path if each)
    program = root / "opt/tidegate/.venv/bin/tidegate"
    program.parent.mkdir(parents=True)
    program.write_text(RUN.format(path=path, python=sys.executable))
    program.chmod(0o755)
    for folder in {*Path(sys.executable).resolve().parents, *Path(sys.executable).parents, *INSIDE.parents}:
        inner = root / folder.relative_to("/")
        inner.chmod(inner.stat().st_mode | 0o111)  # of the copy: the account must reach the interpreter
    units = root / "etc/systemd/system"
    unit = next(text for text in blocks("ini") if "[Service]" in text)
    (units / "tidegate.service").write_text(unit)
    (units / "prove.service").write_text(PROVE.format(python=sys.executable, inside=INSIDE))
    wanted = units / "multi-user.target.wants"
    wanted.mkdir(exist_ok=True)
    for name in ("tidegate.service", "prove.service"):
        (wanted / name).symlink_to(f"../{name}")
    for name in ("machine-id", "resolv.conf"):
        (root / "etc" / name).unlink(missing_ok=True)
    _in(root, "useradd", "--system", "--no-create-home", "tidegate")
    config = re.search(r"--config (\S+)", unit)
    assert config, "README's unit names a configuration"
    _in(root, str(program.relative_to(root).as_posix()), "new", str(Path(config[1]).parent))
    _in(root, "chown", "-R", "tidegate", str(Path(config[1]).parent))


def _in(root: Path, *words: str) -> None:
    words = tuple("/" + word if word.startswith("opt/") else word for word in words)
    done = subprocess.run(["chroot", str(root), *words], capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{' '.join(words)}: {done.stdout}{done.stderr}")


def main() -> int:
    if os.geteuid() != 0 or not shutil.which("systemd-nspawn"):
        print("needs root and systemd-nspawn: nothing was tried")
        return 2
    base = Path(tempfile.mkdtemp(prefix="tidegate-boot-"))
    with ExitStack() as stack:
        stack.callback(base.rmdir)
        stack.enter_context(mounted("-t", "tmpfs", "-o", "size=2g", "none", str(base)))
        parts = {name: base / name for name in ("upper", "work", "root")}
        for part in parts.values():
            part.mkdir()
        options = f"lowerdir=/,upperdir={parts['upper']},workdir={parts['work']}"
        stack.enter_context(mounted("-t", "overlay", "-o", options, "none", str(parts["root"])))
        furnish(parts["root"])
        boot = [
            "systemd-nspawn",
            "-q",
            "-b",
            "-D",
            str(parts["root"]),
            "--register=no",
            "--keep-unit",
            "--machine=tidegate",
        ]
        booted = subprocess.run(boot, stdin=subprocess.DEVNULL, capture_output=True, timeout=300, check=False)
        said = parts["root"] / "srv/said.json"
        if not said.exists():
            print(booted.stdout.decode("utf-8", "replace")[-2000:])
            print("the copy did not boot, or the proof did not end")
            return 1
        facts: list[tuple[str, bool, str]] = json.loads(said.read_text())
    for what, holds, seen in facts:
        print(f"{'holds' if holds else 'FAILS'}  {what}" + ("" if holds else f": {seen}"))
    return 0 if all(holds for _, holds, _ in facts) else 1


if __name__ == "__main__":
    sys.exit(main())
