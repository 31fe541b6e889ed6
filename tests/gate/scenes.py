"""Scenes to kill the gate in: what lay there before, what arrives, and where every file must end.

Each file holds one word that is in no other (its nonce), so files are counted by what they hold, never by their names.
"""

from __future__ import annotations

import io
import json
import os
import secrets
import shutil
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from tests.gate import volumes
from tests.gate.driver import drain


@dataclass
class Stage:
    """A scene set up under `base`. expected: nonce -> places (path prefixes relative to base) where it must be, each once.

    elsewhere: folders outside base that belong to the scene. mounted: what `close` unmounts.
    """

    base: Path
    expected: dict[str, list[str]] = field(default_factory=dict)
    elsewhere: list[Path] = field(default_factory=list)
    mounted: list[Path] = field(default_factory=list)

    def put(self, path: str, *places: str, text: str = "", inbox: Path | None = None) -> bytes:
        """Drop a file with a new nonce into the inbox; it must end in `places`."""
        nonce = f"nonce-{secrets.token_hex(12)}"
        self.expected[nonce] = list(places)
        data = f"{nonce} {text}\n".encode()
        target = (inbox or self.base / "inbox") / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
        return data

    def another_volume(self) -> Path:
        """An empty folder on another file system than the rest: two mounts of our own where we may mount."""
        if not volumes.why_not():
            beside = self.base.with_name(f"{self.base.name}-inbox")
            beside.mkdir(exist_ok=True)
            for folder in (self.base, beside):
                volumes.mount(folder)
                self.mounted.append(folder)
        else:
            here = self.base.stat().st_dev
            candidates = [Path("/dev/shm"), Path(tempfile.gettempdir()), Path.home()]
            other = next(path for path in candidates if path.is_dir() and path.stat().st_dev != here)
            beside = Path(tempfile.mkdtemp(prefix="tidegate-inbox-", dir=other))
        self.elsewhere.append(beside)
        return beside

    def close(self) -> None:
        for folder in self.elsewhere:
            empty(folder)
        for folder in self.mounted:
            volumes.unmount(folder)
        for folder in self.elsewhere:
            folder.rmdir()


def empty(folder: Path) -> None:
    """Remove what is in it, but not itself: it may be a mount point."""
    for path in folder.iterdir():
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink()


def one_drop(stage: Stage) -> None:
    stage.put("crate.obj", "delivery/quay/crate/v001/crate.obj")
    stage.put("crate_base_color.png", "delivery/quay/crate/v001/crate_base_color.png")


def folder_drop(stage: Stage) -> None:
    stage.put("lantern/lantern.obj", "delivery/quay/lantern/v001/lantern.obj")
    stage.put("lantern/maps/lantern_normal.png", "delivery/quay/lantern/v001/maps/lantern_normal.png")
    stage.put("lantern/maps/deep/lantern_height.png", "delivery/quay/lantern/v001/maps/deep/lantern_height.png")


def next_version(stage: Stage) -> None:
    stage.put("crate/crate.obj", "delivery/quay/crate/v001/crate.obj")
    drain(stage.base)
    stage.put("crate/crate.obj", "delivery/quay/crate/v002/crate.obj")


def same_content(stage: Stage) -> None:
    data = stage.put("crate/crate.obj", "delivery/quay/crate/v001/crate.obj")
    drain(stage.base)
    again = stage.base / "inbox/crate"
    again.mkdir()
    (again / "crate.obj").write_bytes(data)


def returned(stage: Stage) -> None:
    stage.put("float/float.obj", "returned/float-", text="wrong")
    stage.put("float/float_base_color.png", "returned/float-")


def re_drop(stage: Stage) -> None:
    stage.put("float/float.obj", "delivery/quay/float/v001/float.obj")
    stage.put("float/maps/float_base_color.png", "kept/float-", text="wrong")
    drain(stage.base)
    stage.put("float_base_color.png", "delivery/quay/float/v001/maps/float_base_color.png")


def other_volume(stage: Stage) -> None:
    inbox = stage.another_volume()
    (stage.base / "paths.json").write_text(json.dumps({"inbox": str(inbox)}))
    stage.put("crate/crate.obj", "delivery/quay/crate/v001/crate.obj", inbox=inbox)
    stage.put("crate/maps/crate_normal.png", "delivery/quay/crate/v001/maps/crate_normal.png", inbox=inbox)


def taken_name(stage: Stage) -> None:
    drain(stage.base)
    theirs = stage.base / "delivery/quay/crate/v001"
    theirs.mkdir(parents=True)
    stage.put("crate/crate.obj", "delivery/quay/crate/v002/crate.obj")


def several_props(stage: Stage) -> None:
    stage.put("set/bench.obj", "delivery/quay/bench/v001/bench.obj")
    stage.put("set/sign.obj", "returned/sign-", text="wrong")
    stage.put("set/shared_wood.png", "delivery/quay/bench/v001/shared_wood.png", "returned/sign-")
    stage.put("set/notes.txt", "returned/sign-")


def archive(stage: Stage) -> None:
    stage.put("buoy.obj", "delivery/quay/buoy/v001/buoy.obj")
    loose = stage.base / "inbox/buoy.obj"
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as packed:
        packed.writestr("buoy/buoy.obj", loose.read_bytes())
        packed.comment = b"nonce-of-the-archive"
    loose.unlink()
    (stage.base / "inbox/buoy.zip").write_bytes(data.getvalue())
    stage.expected["nonce-of-the-archive"] = ["kept/buoy-"]
    # Stored uncompressed, the archive holds the mesh's nonce too.
    nonce = next(iter(stage.expected))
    stage.expected[nonce].append("kept/buoy-")


def hard_link(stage: Stage) -> None:
    stage.put("hook/hook.obj", "delivery/quay/hook/v001/hook.obj", "elsewhere.obj")
    os.link(stage.base / "inbox/hook/hook.obj", stage.base / "elsewhere.obj")


def unjudged(stage: Stage) -> None:
    stage.put("pot/pot.obj", "aside/pot-", text="blind")


SCENES: dict[str, Callable[[Stage], None]] = {
    scene.__name__: scene
    for scene in (
        one_drop,
        folder_drop,
        next_version,
        same_content,
        returned,
        re_drop,
        other_volume,
        taken_name,
        several_props,
        archive,
        hard_link,
        unjudged,
    )
}


def set_up(name: str, base: Path) -> Stage:
    """The scene, ready for the run that is to be killed."""
    stage = Stage(base)
    base.mkdir(parents=True)
    SCENES[name](stage)
    return stage
