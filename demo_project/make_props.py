"""Makes the drops of the demo project from numbers and lays them into the inbox.

    python demo_project/make_props.py [INBOX]

Without INBOX: demo_project/run/inbox. The same library versions give the same bytes; other versions give equal pixels.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from harbour.props import recipes, write_drop  # noqa: E402 - this folder is no package that could be installed

CUT = "handheld_bell_buoy"


def make(inbox: Path) -> list[str]:
    """Writes every drop into `inbox`, a folder each. Gives their names, sorted."""
    inbox.mkdir(parents=True, exist_ok=True)
    names = []
    for name, recipe in recipes().items():
        write_drop(recipe(), inbox / name)
        names.append(name)
    _cut_off(inbox)
    return sorted([*names, CUT])


def _cut_off(inbox: Path) -> None:
    """A mesh whose copy broke off after two thirds of its bytes."""
    whole = (inbox / "furniture_mooring_bollard" / "furniture_mooring_bollard.glb").read_bytes()
    folder = inbox / CUT
    folder.mkdir(exist_ok=True)
    (folder / f"{CUT}.glb").write_bytes(whole[: len(whole) * 2 // 3])


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Make the drops of the demo project and lay them into an inbox.")
    parser.add_argument(
        "inbox", metavar="INBOX", nargs="?", type=Path, default=HERE / "run" / "inbox", help="default: %(default)s"
    )
    target = parser.parse_args().inbox
    made = make(target)
    print(f"made {len(made)} drops in {target}")
