"""Coordinates near the end of single precision are told as findings; no warning of the number library reaches stderr."""

from __future__ import annotations

import struct
import subprocess
import sys
from pathlib import Path

import pytest

from tests.gate.hostile_case import crate


@pytest.mark.parametrize("attribute", ["POSITION", "TEXCOORD_0"])
@pytest.mark.parametrize("value", [1e20, 3e38, -3e38])
def test_nothing_is_printed_about_absurd_coordinates(tmp_path: Path, attribute: str, value: float) -> None:
    build = crate()
    accessor = build.json["accessors"][build.json["meshes"][0]["primitives"][0]["attributes"][attribute]]
    at = build.json["bufferViews"][accessor["bufferView"]]["byteOffset"] + 16
    build.blob[at : at + 4] = struct.pack("<f", value)
    (tmp_path / "crate.glb").write_bytes(build.glb())
    command = [sys.executable, "-W", "error", "-m", "tidegate", "check", str(tmp_path)]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ran.stderr == ""
    assert ran.returncode == 1  # the map that the mesh names is not in the drop
    if attribute == "POSITION":
        assert "warning unlikely-size" in ran.stdout
    else:
        assert f"{abs(value):.0e}" in ran.stdout  # the box of the island that a finding names
