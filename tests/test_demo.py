"""The demo project gives what its table says, the same bytes each time, and the right verdict for a stated reason."""

from __future__ import annotations

import hashlib
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tidegate import Verdict, examine, list_drop, read_configuration
from tidegate.cli.terms import gate_terms

DEMO = Path(__file__).resolve().parents[1] / "demo_project"
EXPECTED = tomllib.loads((DEMO / "expected.toml").read_text("utf-8"))


def made(folder: Path) -> Path:
    subprocess.run([sys.executable, str(DEMO / "make_props.py"), str(folder)], check=True, capture_output=True)
    return folder


@pytest.fixture(scope="module")
def inbox(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("demo") / "inbox")


@pytest.fixture(scope="module")
def verdicts(inbox: Path) -> dict[str, Verdict]:
    configuration = read_configuration(DEMO / "tidegate.toml")
    terms = gate_terms(configuration, configuration.gates[0])
    found = {}
    for folder in sorted(inbox.iterdir()):
        (found[folder.name],) = examine(list_drop(folder, terms.scheme), terms)
    return found


def test_the_table_names_every_drop_and_no_other(inbox: Path) -> None:
    assert sorted(EXPECTED) == sorted(folder.name for folder in inbox.iterdir())


@pytest.mark.parametrize("drop", sorted(EXPECTED))
def test_verdict_and_errors(drop: str, verdicts: dict[str, Verdict]) -> None:
    verdict = verdicts[drop]
    errors = sorted({finding.check for finding in verdict.findings if finding.level == "error"})
    assert (verdict.verdict, errors) == (EXPECTED[drop]["verdict"], sorted(EXPECTED[drop]["errors"]))


@pytest.mark.parametrize("drop", sorted(name for name, row in EXPECTED.items() if row["verdict"] == "approved"))
def test_right_props_have_no_finding_at_all(drop: str, verdicts: dict[str, Verdict]) -> None:
    assert [finding.message for finding in verdicts[drop].findings] == []


def test_measured_values_are_the_ones_the_props_were_built_with(verdicts: dict[str, Verdict]) -> None:
    # net_float is scaled by 0.74 from 1024 px/m
    (density,) = {round(value, 2) for value in islands(verdicts["handheld_net_float"], "density")}
    assert density == pytest.approx(0.74 * 1024, abs=0.01)
    # harbour_sign: one island turned counter-clockwise by 10.5 degrees, the other nine upright
    up = sorted(islands(verdicts["furniture_harbour_sign"], "up_degrees"))
    assert up == pytest.approx([90.0] * 9 + [100.5], abs=1e-3)
    # rope_chest: one of six sides mirrored
    assert sorted(islands(verdicts["furniture_rope_chest"], "winding")) == [-1, 1, 1, 1, 1, 1]
    # mooring_bollard: plate 5 sides of 2 triangles, shaft and head 2 x 24 each, crown 24, collar 2 x 24
    facts = verdicts["furniture_mooring_bollard"].facts
    assert sum(part.triangles for part in facts.parts) == 10 + 48 + 48 + 24 + 48
    assert facts.size == pytest.approx((0.5, 0.5, 0.5), abs=1e-6)


def islands(verdict: Verdict, column: str) -> Iterator[float]:
    columns = verdict.facts.islands
    assert columns is not None
    values: np.ndarray = getattr(columns, column)
    return iter(values.tolist())


def test_made_twice_the_files_are_the_same_bytes(inbox: Path, tmp_path: Path) -> None:
    assert digests(made(tmp_path / "again")) == digests(inbox)


def digests(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_paint_runs_past_every_edge_and_master_and_map_agree(inbox: Path) -> None:
    import io
    import zipfile

    folder = inbox / "furniture_mooring_bollard"
    flat = np.asarray(Image.open(folder / "mooring_bollard_base_color.png"))
    with zipfile.ZipFile(folder / "mooring_bollard_base_color.ora") as archive:
        assert archive.namelist()[0] == "mimetype"
        merged = np.asarray(Image.open(io.BytesIO(archive.read("mergedimage.png"))))
    assert np.array_equal(flat, merged)
    assert flat.shape == (1024, 1024, 3)
