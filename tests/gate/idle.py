"""What the daemon costs while nothing happens: processor time of `tidegate watch` with many files lying about.

    python -m tests.gate.idle                     10,000 files in the delivery tree, native events
    python -m tests.gate.idle --in inbox          the same number in the inbox, in drops that wait for somebody
    python -m tests.gate.idle --watch poll        as on a network folder: the inbox is looked at all the time

Prints the share of one core; the limit is 0.1 %. Linux only: processor time is read from /proc.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

from tests.daemon.real import FOLDERS, Daemon, comes, daemon

LIMIT = 0.001
PROPS = 500


def configuration(watch: str) -> str:
    """Shipped settings, but for the ready file: with it, drops without one wait for ever."""
    lines = [f'{folder} = "{folder}"' for folder in FOLDERS]
    return "\n".join(['[[gate]]\nname = "quay"', *lines, f'watch = "{watch}"', 'ready_file = "ready"', ""])


def lay(tree: Path, files: int) -> None:
    """Files in folders, as delivered props lie there."""
    for prop in range(PROPS):
        folder = tree / f"prop{prop:03}"
        folder.mkdir(parents=True)
        for number in range(prop, files, PROPS):
            (folder / f"map{number:05}.png").write_bytes(b"x" * 100)


def spent(at_work: Daemon) -> float:
    """Seconds of processor time of the daemon and of its children, those that ended included (proc(5))."""
    fields = Path(f"/proc/{at_work.process.pid}/stat").read_text().rpartition(")")[2].split()
    return sum(int(each) for each in fields[11:15]) / os.sysconf("SC_CLK_TCK")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--seconds", type=float, default=120.0)
    parser.add_argument("--in", dest="tree", choices=("delivery", "inbox"), default="delivery")
    parser.add_argument("--watch", choices=("native", "poll"), default="native")
    parser.add_argument("--settle", type=float, default=60.0, help="seconds before it is measured")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="tidegate-idle-") as folder:
        base = Path(folder)
        (base / "tidegate.toml").write_text(configuration(options.watch))
        lay(base / options.tree, options.files)
        with daemon(base) as at_work:
            comes(lambda: at_work.said("the gate is open"))
            time.sleep(options.settle)
            before, begin = spent(at_work), time.monotonic()
            time.sleep(options.seconds)
            took, seconds = spent(at_work) - before, time.monotonic() - begin
            assert at_work.stop() == 0
    share = took / seconds
    where = f"{options.files} files in the {options.tree} tree, {options.watch}"
    print(f"{where}: {took:.2f} s in {seconds:.0f} s, {share:.3%} of a core")
    return 1 if share >= LIMIT else 0


if __name__ == "__main__":
    sys.exit(main())
