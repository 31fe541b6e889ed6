"""Lives with the gate for a while: people write, rename and remove, and the gate is killed, stopped and failed.

    python -m tests.soak --seed 7 --drops 2000

Some starts run under strace, which then fails a share of the disk calls with ENOSPC, EIO, EACCES or EROFS. Permission is
taken and given back; where we are root the gate therefore runs as another user, and one of its folders (another with each
seed) lies on a volume of its own that fills up, turns read-only or goes away, and comes back. In the end: every file that
nobody removed is in one rightful place, manifests verify, nothing is left over, and neither memory nor open handles have
grown.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path

from tests.gate import volumes
from tests.gate.slot import Slot
from tests.soak_life import VOLUMES, Soak

NOBODY = 65534


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--drops", type=int, default=2000)
    parser.add_argument("--volume", choices=VOLUMES, help="which folder lies on a volume of its own; else by the seed")
    parser.add_argument("--keep", action="store_true", help="leave the folder behind for inspection")
    options = parser.parse_args()
    volumes.keep_to_ourselves()
    os.umask(0)  # what we drop, another user may take
    home = Path(tempfile.mkdtemp(prefix="tidegate-soak-"))
    home.chmod(0o777)
    for folder in (home / "base", home / "slot"):
        folder.mkdir()
    mountable = not volumes.why_not()
    volume = (options.volume or VOLUMES[options.seed % len(VOLUMES)]) if mountable else ""
    begin = time.monotonic()
    with Slot(home / "slot", user=NOBODY if os.geteuid() == 0 else 0) as slot:
        soak = Soak(home / "base", slot, options.seed, volume)
        try:
            wrong = soak.run(options.drops)
        finally:
            if options.keep and volume:
                shutil.copytree(soak.volume, home / f"kept-{volume}", symlinks=True)
            soak.close()
    did = ", ".join(f"{count} {what}" for what, count in sorted(soak.did.items()))
    print(f"seed {options.seed}: {options.drops} drops, {len(soak.stage.expected)} files; {did}")
    print(f"a volume of its own: {volume or 'none, ' + volumes.why_not()}")
    print(
        f"{time.monotonic() - begin:.0f} s; memory {soak.early >> 10} MiB early, {soak.late >> 10} late, "
        f"{max(soak.memory, default=0) >> 10} at most; handles at most {max(soak.handles, default=0)}: "
        f"{len(wrong)} faults"
    )
    for fault in wrong[:40]:
        print("   ", fault)
    if options.keep or wrong:
        print(f"kept: {home}")
    else:
        shutil.rmtree(home, ignore_errors=True)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
