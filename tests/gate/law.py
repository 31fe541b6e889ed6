"""The law every run must keep, however it was cut short."""

from __future__ import annotations

import os
import re
from pathlib import Path

from tests.gate.driver import paths_of
from tests.gate.scenes import Stage
from tidegate.gate.identity import VERSION
from tidegate.gate.layout import STAGING, TAKEN
from tidegate.gate.left_claims import SUFFIX
from tidegate.gate.manifest import MANIFEST, faults_in

NONCE = re.compile(rb"nonce-(?:[0-9a-f]{24}|of-the-archive)")


def nothing_partial(stage: Stage, known: set[Path] | None = None) -> list[str]:
    """At any instant: whatever stands under a delivery or return name is whole. [] when it is.

    known: folders found whole before, which are not read again; new ones are added.
    """
    paths = paths_of(stage.base)
    wrong = []
    for tree in paths.trees:
        for folder, inner, names in os.walk(tree):
            inner[:] = [name for name in inner if name not in (STAGING, TAKEN)]
            here = Path(folder)
            top = here.parent == tree and tree != paths.delivery
            if (VERSION.fullmatch(here.name) or top) and (names or inner):
                inner[:] = []
                if known is None or here not in known:
                    faults = _faults(here)
                    wrong += [f"{here}: {fault}" for fault in faults]
                    if known is not None and not faults:
                        known.add(here)
    return wrong


def _faults(folder: Path) -> list[str]:
    """What is wrong with it, unless it was moved away during the look: a gate at work takes whole folders, in one step."""
    try:
        faults = faults_in(folder)
    except FileNotFoundError as error:
        faults = [str(error)]
    return faults if os.path.lexists(folder) else []


def never_gone(stage: Stage) -> list[str]:
    """At any instant: every nonce is somewhere."""
    found = places(stage)
    return [
        f"{nonce} is gone (was to be in {places})" for nonce, places in stage.expected.items() if not found.get(nonce)
    ]


def fulfilled(stage: Stage) -> list[str]:
    """After the next start: every nonce exactly where it must be, manifests right, nothing left over in work or staging."""
    found = places(stage)
    wrong = nothing_partial(stage) + left_over(stage)
    for nonce, wanted in stage.expected.items():
        came = sorted(found.get(nonce, []))
        if len(came) != len(wanted) or any(not c.startswith(p) for c, p in zip(came, sorted(wanted), strict=False)):
            wrong.append(f"{nonce}: must be in {sorted(wanted)}, is in {came}")
    return wrong


def left_over(stage: Stage) -> list[str]:
    """Anything still on its way, and anything in the trees that nobody dropped and that is not ours."""
    paths = paths_of(stage.base)
    wrong = []
    for name in ("tickets", "claimed", "handing", "unpacked"):
        wrong += [f"left in work: {path}" for path in (paths.work / name).rglob("*")]
    known = {path for found in places(stage).values() for path in found}
    note = paths.delivery / STAGING / f"{paths.name}{SUFFIX}"
    for tree in paths.trees:
        for hidden in (STAGING, TAKEN):
            wrong += [f"left in staging: {path}" for path in (tree / hidden / paths.name).rglob("*")]
        for path in tree.rglob("*"):
            ours = ".tidegate." in path.name or path.name == MANIFEST or path == note
            if path.is_file() and not ours and str(path.relative_to(stage.base)) not in known:
                wrong.append(f"made up: {path}")
    return wrong + [f"left in the inbox: {path}" for path in paths.inbox.rglob("*")]


def places(stage: Stage) -> dict[str, list[str]]:
    """nonce -> files that hold it, relative to base; those outside base by their full path."""
    found: dict[str, list[str]] = {}
    for top in (stage.base, *stage.elsewhere):
        for folder, _, names in os.walk(top):
            for name in names:
                path = Path(folder, name)
                where = str(path.relative_to(stage.base)) if top == stage.base else str(path)
                for match in set(NONCE.findall(path.read_bytes())):
                    found.setdefault(match.decode("ascii"), []).append(where)
    return found
