"""From a drop on the disk to a verdict: clean props pass, one fault gives one finding, and sets differ for a reason."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from tests.support.clean_prop import net_locker
from tests.support.gltf_writer import GltfBuilder
from tidegate import Finding, RuleSet, Terms, Verdict, examine, list_drop, read_names, read_rule_set

SCHEME = read_names()
DENSITY = {"first_look": 512, "handheld": 1024, "furniture": 512, "building_part": 256}
TEXELS = {"handheld": 1024}
BASE = "net_locker_base_color.png"
MESH = "furniture_net_locker.glb"


@cache
def shipped() -> dict[str, RuleSet]:
    return {name: read_rule_set(name) for name in DENSITY}


def judged(drop: Path, rule_set: str = "furniture", **more: Any) -> Verdict:
    terms = Terms(scheme=SCHEME, rule_set=rule_set, forced_set=True, rule_sets=shipped(), **more)
    (verdict,) = examine(list_drop(drop, SCHEME), terms)
    return verdict


def found(verdict: Verdict, check: str) -> list[Finding]:
    return [finding for finding in verdict.findings if finding.check == check and finding.level != "note"]


def loud(verdict: Verdict) -> list[str]:
    return [finding.check for finding in verdict.findings if finding.level != "note"]


@pytest.mark.parametrize("rule_set", DENSITY)
def test_a_clean_prop_is_approved_without_a_word(tmp_path: Path, rule_set: str) -> None:
    verdict = judged(net_locker(tmp_path, density=DENSITY[rule_set], texels=TEXELS.get(rule_set, 512)), rule_set)
    assert verdict.verdict == "approved"
    assert loud(verdict) == []


# Each pair lies just beyond and just inside a limit of the furniture set: 10 degrees, 512 px/m a quarter either way.
BEYOND_AND_INSIDE = {
    "tilted one way": ("tilted-islands", {"tilt": {1: 10.4}}, {"tilt": {1: 9.6}}, 2),
    "tilted the other way": ("tilted-islands", {"tilt": {2: -10.4}}, {"tilt": {2: -9.6}}, 3),
    "too dense": ("texel-density-out-of-range", {"scale": {0: 1.26}}, {"scale": {0: 1.24}}, 1),
    "too coarse": ("texel-density-out-of-range", {"scale": {3: 0.74}}, {"scale": {3: 0.76}}, 4),
}


@pytest.mark.parametrize("case", BEYOND_AND_INSIDE)
def test_just_beyond_a_limit_is_found_and_just_inside_is_not(tmp_path: Path, case: str) -> None:
    check, beyond, inside, panel = BEYOND_AND_INSIDE[case]
    bad = judged(net_locker(tmp_path / "bad", **beyond))
    (finding,) = found(bad, check)
    assert (bad.verdict, finding.level) == ("returned", "error")
    # Islands are numbered by where they lie in the tile; each panel lies right of the one before it.
    assert finding.place.islands == (panel,)
    assert [f.check for f in bad.findings if f.level == "error"] == [check]
    good = judged(net_locker(tmp_path / "good", **inside))
    assert (good.verdict, found(good, check)) == ("approved", [])


def rename_in_mesh(text: str) -> Callable[[GltfBuilder], None]:
    def spoil(build: GltfBuilder) -> None:
        build.json["images"][0]["uri"] = text

    return spoil


# The fault, the check that has to name it, and the place it has to point at.
LAID_OUT_WRONG: dict[str, tuple[dict[str, Any], str, dict[str, Any]]] = {
    "one mirrored": ({"mirrored": (3,)}, "mirrored-islands", {"islands": (4,)}),
    "all mirrored": ({"mirrored": (0, 1, 2, 3)}, "mirrored-islands", {"islands": (1, 2, 3, 4)}),
    "a quarter turn": ({"tilt": {2: 90}}, "tilted-islands", {"islands": (3,)}),
    "upside down": ({"tilt": {2: 180}}, "tilted-islands", {"islands": (3,)}),
    "on each other": ({"shift": {0: (0.05, 0)}}, "overlapping-islands", {"islands": (1, 2)}),
    "out of the tile": ({"shift": {0: (0, 0.9)}}, "islands-outside-tile", {"islands": (1,)}),
    "no UVs": ({"uvs": False}, "uvs-missing", {"mesh": "locker"}),
    "absolute": ({"spoil": rename_in_mesh(f"/srv/props/{BASE}")}, "outside-reference", {"map": f"/srv/props/{BASE}"}),
    "a drive": ({"spoil": rename_in_mesh(f"C:\\work\\{BASE}")}, "outside-reference", {"map": f"C:\\work\\{BASE}"}),
    "above the drop": ({"spoil": rename_in_mesh(f"../{BASE}")}, "outside-reference", {"map": f"../{BASE}"}),
    "a web address": (
        {"spoil": rename_in_mesh(f"https://x.invalid/{BASE}")},
        "outside-reference",
        {"map": f"https://x.invalid/{BASE}"},
    ),
    "no power of two": ({"sizes": {"normal": (500, 500)}}, "map-size-out-of-range", {"map": "net_locker_normal.png"}),
    "an eighth of the others": (
        {"sizes": {"roughness": (64, 64)}},
        "map-size-out-of-range",
        {"map": "net_locker_roughness.png"},
    ),
    "no roughness": ({"maps": ("base_color", "normal")}, "missing-map", {"slot": "roughness"}),
    "no master": ({"master": False}, "missing-master", {"map": BASE}),
}


@pytest.mark.parametrize("case", LAID_OUT_WRONG)
def test_a_seeded_fault_is_found_at_its_place(tmp_path: Path, case: str) -> None:
    how, check, place = LAID_OUT_WRONG[case]
    verdict = judged(net_locker(tmp_path, **how))
    findings = found(verdict, check)
    assert findings, [(f.check, f.message) for f in verdict.findings]
    told = findings[0].place
    assert {key: getattr(told, key) for key in place} == place
    assert set(loud(verdict)) == {check}  # one cause, no other complaint


def test_half_a_size_is_an_allowed_fraction(tmp_path: Path) -> None:
    assert loud(judged(net_locker(tmp_path, sizes={"roughness": (256, 256)}))) == []


def spoiled_on_disk(tmp_path: Path, spoil: Callable[[Path], object]) -> Verdict:
    drop = net_locker(tmp_path)
    spoil(drop)
    return judged(drop)


POINTER = f"version https://git-lfs.github.com/spec/v1\noid sha256:{'a' * 64}\nsize 12345\n"
FILES_WRONG: dict[str, tuple[Callable[[Path], object], str, str]] = {
    "not there": (lambda d: (d / BASE).unlink(), "missing-texture-file", BASE),
    "another name": (lambda d: (d / BASE).rename(d / "net_locker_tint.png"), "missing-texture-file", BASE),
    "another case": (
        lambda d: (d / BASE).rename(d / "net_locker_Base_Color.png"),
        "wrong-case-reference",
        "net_locker_Base_Color.png",
    ),
    "empty": (lambda d: (d / BASE).write_bytes(b""), "unreadable-map", "empty"),
    "cut in half": (
        lambda d: (d / BASE).write_bytes((d / BASE).read_bytes()[:9_000]),
        "unreadable-map",
        "byte 9,000",
    ),
    "one byte short": (lambda d: (d / BASE).write_bytes((d / BASE).read_bytes()[:-1]), "unreadable-map", "IEND"),
    "a pointer text": (lambda d: (d / BASE).write_text(POINTER), "unreadable-map", "pointer text"),
    "a plain text": (lambda d: (d / BASE).write_text("ask Wanja for the file"), "unreadable-map", "plain text"),
    "a wrong suffix": (
        lambda d: Image.new("RGB", (512, 512), (90, 80, 70)).save(d / BASE, "JPEG"),
        "misleading-suffix",
        "jpeg",
    ),
    "a stray map": (
        lambda d: shutil.copy(d / BASE, d / "rope_coil_base_color.png"),
        "stray-file",
        "rope_coil_base_color.png",
    ),
}


@pytest.mark.parametrize("case", FILES_WRONG)
def test_a_spoiled_file_is_named_as_what_it_is(tmp_path: Path, case: str) -> None:
    spoil, check, word = FILES_WRONG[case]
    verdict = spoiled_on_disk(tmp_path, spoil)
    findings = found(verdict, check)
    assert findings, [(f.check, f.message) for f in verdict.findings]
    assert word in findings[0].message


def test_a_map_named_outside_and_not_sent_is_missing_whatever_the_set(tmp_path: Path) -> None:
    drop = net_locker(tmp_path, spoil=rename_in_mesh("/srv/props/gone.png"))
    (drop / BASE).unlink()
    verdict = judged(drop, "first_look")
    assert verdict.verdict == "returned"
    assert [f.place.map for f in found(verdict, "missing-texture-file")] == ["/srv/props/gone.png"]


NAMES: dict[str, tuple[str, str, str, str | None]] = {
    # old name, new name, what the message has to say, the proposal
    "casing of the asset": (MESH, "furniture_Net_Locker.glb", "'Net_Locker' should be written in lower case", MESH),
    "casing of the category": (MESH, "Furniture_net_locker.glb", "'Furniture' is no category word", MESH),
    "separator": (MESH, "furniture-net-locker.glb", "'-' stands in front of the asset", MESH),
    "separator twice": (MESH, "furniture__net_locker.glb", "'__' stands in front of the asset", MESH),
    "digits of the version": (
        MESH,
        "furniture_net_locker_v1.glb",
        "with 3 digits: 'v001'",
        "furniture_net_locker_v001.glb",
    ),
    "suffix of the slot": (
        "net_locker_normal.png",
        "net_locker_nrm.png",
        "'nrm' is no map word",
        "net_locker_normal.png",
    ),
    "casing of the suffix": (
        "net_locker_normal.png",
        "net_locker_normal.PNG",
        "'.PNG' should be written in lower case: '.png'",
        "net_locker_normal.png",
    ),
    "digits of the tile": ("net_locker_normal.png", "net_locker_normal.12.png", "'12' fits nowhere", None),
    "master": (
        "net_locker_base_color.tif",
        "Net_locker_base_color.tif",
        "'Net_locker' should be written in lower case",
        "net_locker_base_color.tif",
    ),
}


@pytest.mark.parametrize("case", NAMES)
def test_a_bad_name_is_told_field_by_field_with_one_that_passes(tmp_path: Path, case: str) -> None:
    old, new, says, proposal = NAMES[case]

    def spoil(build: GltfBuilder) -> None:
        for image in build.json["images"]:
            if image["uri"] == old:
                image["uri"] = new

    drop = net_locker(tmp_path, spoil=spoil)
    (drop / old).rename(drop / new)
    findings = [f for f in judged(drop).findings if f.check == "name-out-of-form" and f.measured == new]
    assert findings and any(says in finding.message for finding in findings)
    if proposal is not None:
        assert {finding.wanted for finding in findings} == {proposal}
        kind = "mesh" if proposal.endswith(".glb") else "master" if proposal.endswith(".tif") else "map"
        assert not SCHEME.read(proposal, kind, proposal, ("net_locker",)).problems


def test_names_no_disk_can_hold_everywhere_are_told(tmp_path: Path) -> None:
    """FAT and NTFS names that Windows refuses ("Naming Files, Paths, and Namespaces"); POSIX.1-2017 XBD 3.282 for the rest."""
    drop = net_locker(tmp_path)
    for name in ("con.txt", "rope coil.txt", "seil_größe.txt", "net_locker_notes.txt."):
        (drop / name).write_text("x")
    told = {f.measured for f in judged(drop).findings if f.check == "unportable-name"}
    assert told == {"con.txt", "rope coil.txt", "seil_größe.txt", "net_locker_notes.txt."}


def test_one_prop_four_sets_different_verdicts_each_for_a_stated_reason(tmp_path: Path) -> None:
    """512 px/m with one panel as in a mirror, one on its side: right for some work and wrong for other."""
    drop = net_locker(tmp_path, density=512, mirrored=(3,), tilt={1: 90})
    said = {name: judged(drop, name) for name in DENSITY}
    errors = {name: sorted({f.check for f in v.findings if f.level == "error"}) for name, v in said.items()}
    assert errors == {
        "first_look": [],  # tells, and returns nothing for it
        "handheld": ["mirrored-islands", "texel-density-out-of-range", "tilted-islands"],  # wants 1024 px/m
        "furniture": ["mirrored-islands", "tilted-islands"],  # 512 px/m is right for it
        "building_part": ["texel-density-out-of-range"],  # may be mirrored and lie sideways, but wants 256 px/m
    }
    assert {name: verdict.verdict for name, verdict in said.items()} == {
        "first_look": "approved",
        "handheld": "returned",
        "furniture": "returned",
        "building_part": "returned",
    }
    for name, wanted in (("handheld", 1024.0), ("building_part", 256.0)):
        (density,) = found(said[name], "texel-density-out-of-range")
        assert (density.measured, density.wanted, density.unit) == (512.0, wanted, "px/m")


def test_the_set_follows_the_order_then_the_name_then_the_gate_and_none_is_a_reason(tmp_path: Path) -> None:
    from tidegate.model.order_row import OrderRow

    drop = list_drop(net_locker(tmp_path), SCHEME)
    order = OrderRow(name="net_locker", rule_set="handheld")

    def chosen(**more: Any) -> str | None:
        (verdict,) = examine(drop, Terms(scheme=SCHEME, **more))
        return verdict.rule_set.name if verdict.rule_set else None

    by_category = {"furniture": "building_part"}
    assert chosen(orders={"net_locker": order}, by_category=by_category) == "handheld"
    assert chosen(by_category=by_category) == "building_part"
    assert chosen(rule_set="furniture", by_category={"handheld": "handheld"}) == "furniture"
    (refused,) = examine(drop, Terms(scheme=SCHEME, rule_set="", by_category={"handheld": "handheld"}))
    assert refused.verdict == "returned"
    assert [finding.check for finding in refused.findings] == ["no-rule-set"]


def test_a_drop_cannot_choose_its_set(tmp_path: Path) -> None:
    drop = net_locker(tmp_path, mirrored=(0,))
    (drop / "tidegate.toml").write_text('[[gate]]\nname = "mine"\nrule_set = "first_look"\n')
    (drop / "rules.toml").write_text('title = "mine"\n')
    assert judged(drop, "furniture").verdict == "returned"


def test_the_same_files_give_the_same_verdict(tmp_path: Path) -> None:
    one, two = judged(net_locker(tmp_path / "a")), judged(net_locker(tmp_path / "b"))
    assert one.findings == two.findings
