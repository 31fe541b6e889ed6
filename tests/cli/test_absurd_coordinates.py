"""Coordinates near the end of single precision are told as findings; no warning of the number library reaches stderr."""

from __future__ import annotations

import math
import struct
import subprocess
import sys
from pathlib import Path

import pytest

from tests.gate.hostile_case import crate, good_map


@pytest.mark.parametrize("attribute", ["POSITION", "TEXCOORD_0"])
@pytest.mark.parametrize("value", [1e20, 3e38, -3e38, float("nan"), float("inf")])
def test_absurd_coordinates_are_told_and_drawn_without_a_warning(tmp_path: Path, attribute: str, value: float) -> None:
    build = crate()
    accessor = build.json["accessors"][build.json["meshes"][0]["primitives"][0]["attributes"][attribute]]
    at = build.json["bufferViews"][accessor["bufferView"]]["byteOffset"] + 16
    build.blob[at : at + 4] = struct.pack("<f", value)
    (tmp_path / "crate.glb").write_bytes(build.glb())
    (tmp_path / "crate_base_color.png").write_bytes(good_map())
    python = [sys.executable, "-W", "error", "-m", "tidegate"]
    command = [*python, "check", str(tmp_path / "crate.glb"), "--report", str(tmp_path / "reports")]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ran.stderr == "tidegate: with crate: crate_base_color.png\n"
    if attribute == "POSITION" and not math.isfinite(value):
        assert (ran.returncode, "error doubtful-mesh-data" in ran.stdout) == (1, True)
    else:
        assert ran.returncode == 0
        assert f"warning {'unlikely-size' if attribute == 'POSITION' else 'uvs-missing'}" in ran.stdout
    if attribute == "TEXCOORD_0" and math.isfinite(value):
        assert f"UVs up to {abs(value):.3g} tiles away" in " ".join(ran.stdout.split())
    assert (tmp_path / "reports/crate.tidegate.fault_sheet.1.png").exists()
    ran = subprocess.run(
        [*python, "sheet", str(tmp_path / "crate.glb"), "--as", "all", "--out", str(tmp_path / "guides")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (ran.returncode, ran.stderr) == (0, "")
