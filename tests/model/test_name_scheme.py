"""Reading names into fields, saying what is wrong, and proposing names that pass."""

import copy
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.errors import AskedWrongly
from tidegate.model.name_scheme import NameScheme, read_scheme, scheme_faults
from tidegate.model.portable_names import name_faults

TABLE: dict[str, Any] = tomllib.loads((Path(__file__).parents[2] / "rules" / "names.toml").read_text("utf-8"))
SHIPPED = read_scheme(TABLE)
KINDS = ("folder", "mesh", "map", "master", "node", "material")


def changed(**fields: dict[str, Any]) -> NameScheme:
    """The shipped scheme with some keys of some fields replaced."""
    table = copy.deepcopy(TABLE)
    for name, form in fields.items():
        table["fields"].setdefault(name, {}).update(form)
    return read_scheme(table)


def failing(reading: Any) -> list[str]:
    return [field for field, _ in reading.problems]


@pytest.mark.parametrize(
    ("name", "kind", "fields"),
    [
        ("bench_base_color.png", "map", {"asset": "bench", "map": "base_color"}),
        ("mooring_bollard_normal.tga", "map", {"asset": "mooring_bollard", "map": "normal"}),
        (
            "furniture_bench_roughness_v012.png",
            "map",
            {"category": "furniture", "asset": "bench", "map": "roughness", "version": "v012"},
        ),
        ("bench_occlusion_roughness_metalness.png", "map", {"asset": "bench", "map": "occlusion_roughness_metalness"}),
        ("harbour_wall_base_color.1002.png", "map", {"asset": "harbour_wall", "map": "base_color", "tile": "1002"}),
        ("harbour_wall_base_color_1002.png", "map", {"asset": "harbour_wall", "map": "base_color", "tile": "1002"}),
        ("building_part_gate_v003", "folder", {"category": "building_part", "asset": "gate", "version": "v003"}),
        ("furniture.glb", "mesh", {"asset": "furniture"}),
        ("bench_lod0.glb", "mesh", {"asset": "bench", "role": "model"}),
        ("bench_lod12.glb", "mesh", {"asset": "bench", "role": "lod12"}),
        ("bench_collision_v001.obj", "mesh", {"asset": "bench", "role": "collision", "version": "v001"}),
        ("collision_barrier.glb", "mesh", {"asset": "collision_barrier"}),
        ("bench.psd", "master", {"asset": "bench"}),
        ("bench_base_color.psd", "master", {"asset": "bench", "map": "base_color"}),
        ("left_handle_lod1", "node", {"part": "left_handle", "role": "lod1"}),
        ("cast_iron", "material", {"surface": "cast_iron"}),
    ],
)
def test_right_names_are_read_whole(name: str, kind: str, fields: dict[str, str]) -> None:
    reading = SHIPPED.read(name, kind, "somewhere/" + name)
    assert dict(reading.fields) == fields
    assert reading.problems == ()
    assert reading.proposal == ""
    assert reading.path == "somewhere/" + name


@pytest.mark.parametrize(
    ("name", "kind", "field", "part_of_message", "proposal"),
    [
        ("bench_albedo.png", "map", "map", "did you mean 'base_color'?", "bench_base_color.png"),
        ("bench_nrm.png", "map", "map", "did you mean 'normal'?", "bench_normal.png"),
        ("bench_orm.png", "map", "map", "occlusion_roughness_metalness", "bench_occlusion_roughness_metalness.png"),
        ("bench_Normal.png", "map", "map", "did you mean 'normal'?", "bench_normal.png"),
        ("Bench_normal.png", "map", "asset", "lower case", "bench_normal.png"),
        ("fish crate_normal.png", "map", "asset", "'_' between words", "fish_crate_normal.png"),
        ("FishCrate.glb", "mesh", "asset", "lower case", "fish_crate.glb"),
        ("fish__crate.glb", "mesh", "asset", "'_' between words", "fish_crate.glb"),
        ("bench__normal.png", "map", "map", "'__' stands in front", "bench_normal.png"),
        ("bench-normal.png", "map", "map", "'-' stands in front", "bench_normal.png"),
        ("benchNormal.png", "map", "map", "'_' is missing in front", "bench_normal.png"),
        ("Grüne_Laterne.glb", "mesh", "asset", "'ü'", "gruene_laterne.glb"),
        ("bøye_größe.glb", "mesh", "asset", "'ß', 'ö', 'ø'", "boeye_groesse.glb"),
        ("cafe\u0301.glb", "mesh", "asset", "'é'", "cafe.glb"),
        ("bench_v1.glb", "mesh", "version", "3 digits", "bench_v001.glb"),
        ("bench_V002.glb", "mesh", "version", "'v002'", "bench_v002.glb"),
        ("bench_lod_1.glb", "mesh", "role", "did you mean 'lod1'?", "bench_lod1.glb"),
        ("bench_LOD01.glb", "mesh", "role", "did you mean 'lod1'?", "bench_lod1.glb"),
        ("bench_v001_normal.png", "map", "version", "out of order", "bench_normal_v001.png"),
        ("normal_bench.png", "map", "map", "out of order", "bench_normal.png"),
        ("bench.GLB", "mesh", "suffix", "lower case", "bench.glb"),
        ("_bench.glb", "mesh", "asset", "in front of the asset", "bench.glb"),
        ("bench (2).glb", "mesh", "asset", "behind the asset", "bench_2.glb"),
        ("bench.png", "map", "map", "missing", ""),
        ("base_color.png", "map", "asset", "missing", ""),
        ("b.glb", "mesh", "asset", "at least 2", ""),
        ("漁箱.glb", "mesh", "asset", "not allow", ""),
        ("Cube.001", "node", "part", "lower case", "cube_001"),
        ("bench_v000.glb", "mesh", "version", "outside 1 to 999", ""),
    ],
)
def test_the_failing_field_is_named_and_the_right_name_proposed(
    name: str, kind: str, field: str, part_of_message: str, proposal: str
) -> None:
    reading = SHIPPED.read(name, kind)
    messages = [message for one, message in reading.problems if one == field]
    assert any(part_of_message in message for message in messages), reading.problems
    assert reading.proposal == proposal
    if proposal:
        assert SHIPPED.read(proposal, kind).problems == ()


def test_only_the_failing_field_is_named() -> None:
    assert failing(SHIPPED.read("furniture_bench_albedo_v001.png", "map")) == ["map"]
    assert failing(SHIPPED.read("furniture_Bench_normal_v001.png", "map")) == ["asset"]
    assert failing(SHIPPED.read("furniture_bench_normal_v1.png", "map")) == ["version"]


def test_a_mesh_beside_a_map_decides_where_the_variant_begins() -> None:
    name = "bench_red_base_color.png"
    assert SHIPPED.read(name, "map").field("asset") == "bench_red"
    beside = SHIPPED.read(name, "map", "", ["bench"])
    assert (beside.field("asset"), beside.field("variant"), beside.problems) == ("bench", "red", ())
    assert SHIPPED.read(name, "map", "", ["crate"]).field("asset") == "bench_red"
    several = SHIPPED.read("bench_sun_bleached_base_color.png", "map", "", ["bench"])
    assert several.field("variant") == "sun_bleached"


def test_the_longest_known_asset_wins_and_the_doubt_is_told() -> None:
    reading = SHIPPED.read("bench_red_base_color.png", "map", "", ["bench", "bench_red"])
    assert (reading.field("asset"), reading.field("variant")) == ("bench_red", "")
    assert reading.problems == ()
    assert [field for field, _ in reading.doubts] == ["asset"]
    assert SHIPPED.read("bench_red_base_color.png", "map", "", ["bench"]).doubts == ()
    assert SHIPPED.read("bench_red_base_color.png", "map", "", ["bench_red", "bench"]) == reading


def test_known_assets_agree_whatever_their_case_and_joints() -> None:
    reading = SHIPPED.read("FishCrate_Red_Normal.png", "map", "", ["fish_crate"])
    assert dict(reading.fields) == {"asset": "fish_crate", "variant": "red", "map": "normal"}
    assert reading.proposal == "fish_crate_red_normal.png"


def test_a_role_word_in_front_counts_when_a_known_asset_is_left() -> None:
    reading = SHIPPED.read("collision_bench.glb", "mesh", "", ["bench"])
    assert (reading.field("role"), reading.field("asset")) == ("collision", "bench")
    assert failing(reading) == ["role"]
    assert reading.proposal == "bench_collision.glb"


def test_the_only_known_asset_fills_a_proposal_but_not_the_fields() -> None:
    reading = SHIPPED.read("base_color.png", "map", "", ["bench"])
    assert reading.field("asset") == ""
    assert reading.proposal == "bench_base_color.png"
    assert SHIPPED.read("base_color.png", "map", "", ["bench", "crate"]).proposal == ""


def test_hints_fill_what_a_name_leaves_open() -> None:
    reading = SHIPPED.read("wood.png", "map", hints={"map": "base_color"})
    assert reading.field("map") == ""
    assert reading.proposal == "wood_base_color.png"
    # what the name does say stands
    assert SHIPPED.read("Wood_nrm.png", "map", hints={"map": "base_color"}).proposal == "wood_normal.png"
    # propose() is asked for the right name, so there the hint wins
    assert SHIPPED.propose("wood_nrm.png", "map", hints={"map": "base_color"}) == "wood_base_color.png"
    assert SHIPPED.propose("wood_normal.png", "map") == "wood_normal.png"


def test_a_long_value_is_cut_between_words() -> None:
    # 48 characters are allowed; the ninth "driftwood" would end at 89
    name = "_".join(["driftwood"] * 9) + ".glb"
    reading = SHIPPED.read(name, "mesh")
    assert failing(reading) == ["asset"]
    assert reading.proposal == "driftwood_driftwood_driftwood_driftwood.glb"  # 39, a fifth would need 49
    assert SHIPPED.read("a" * 48 + ".glb", "mesh").problems == ()
    assert failing(SHIPPED.read("a" * 49 + ".glb", "mesh")) == ["asset"]


def test_a_proposal_is_never_a_device_name() -> None:
    assert SHIPPED.read("Con.glb", "mesh").proposal == ""
    assert SHIPPED.read("Cone.glb", "mesh").proposal == "cone.glb"


def test_slots_and_channels_of_map_words() -> None:
    assert SHIPPED.slots_of("base_color") == (("base_color", "rgb"),)
    # glTF 2.0 3.9.2 and 3.9.3: occlusion red, roughness green, metalness blue
    packed = (("occlusion", "r"), ("roughness", "g"), ("metalness", "b"))
    assert SHIPPED.slots_of("occlusion_roughness_metalness") == packed
    assert SHIPPED.slots_of("roughness_metalness") == packed[1:]
    assert SHIPPED.slots_of("base_color_opacity") == (("base_color", "rgb"), ("opacity", "a"))
    assert SHIPPED.slots_of("no_such_word") == ()


def test_masters_by_suffix() -> None:
    assert SHIPPED.is_master("bench.psd")
    assert SHIPPED.is_master("BENCH.PSD")
    assert not SHIPPED.is_master("bench.png")
    assert not SHIPPED.is_master("psd")


def test_other_casings() -> None:
    camel = {"casing": "camel", "characters": ["a-z", "A-Z", "0-9"]}
    scheme = changed(asset=camel, variant=camel)
    # Joints alone tell the fields apart here: words of one value run together, fields do not.
    reading = scheme.read("fishCrate_red_base_color.png", "map")
    assert (dict(reading.fields), reading.problems) == (
        {"asset": "fishCrate", "variant": "red", "map": "base_color"},
        (),
    )
    assert scheme.read("Fish_Crate_normal.png", "map", "", ["fishCrate"]).proposal == "fishCrate_normal.png"
    upper = changed(asset={"casing": "upper"})
    assert upper.read("FISH_CRATE.glb", "mesh").problems == ()
    assert upper.read("fish_crate.glb", "mesh").proposal == "FISH_CRATE.glb"
    capital = changed(asset={"casing": "capital"})
    assert capital.read("FishCrate.glb", "mesh").problems == ()
    assert capital.read("fish_crate.glb", "mesh").proposal == "FishCrate.glb"
    free = changed(asset={"casing": "any"})
    assert free.read("fishCrate_Old.glb", "mesh").problems == ()
    assert free.read("fish crate.glb", "mesh").proposal == "fish_crate.glb"


def test_one_word_assets() -> None:
    scheme = changed(asset={"several_words": False})
    reading = scheme.read("fish_crate_normal.png", "map")
    # order has an optional variant, so the second word is one
    assert dict(reading.fields) == {"asset": "fish", "variant": "crate", "map": "normal"}
    mesh = scheme.read("fish_crate.glb", "mesh")
    assert failing(mesh) == ["asset"]
    assert mesh.proposal == "fishcrate.glb"


def test_separator_between_words_other_than_between_fields() -> None:
    table = copy.deepcopy(TABLE)
    table["word_separator"] = "-"
    table["slots"]["base_color"]["right"] = ["base-color"]
    scheme = read_scheme(table)
    reading = scheme.read("fish-crate_sun-bleached_base-color.png", "map")
    assert dict(reading.fields) == {"asset": "fish-crate", "variant": "sun-bleached", "map": "base_color"}
    assert reading.problems == ()
    assert scheme.read("fish-crate_base_color.png", "map").proposal == "fish-crate_base-color.png"


def test_fields_of_the_studio() -> None:
    table = copy.deepcopy(TABLE)
    table["fields"]["vendor"] = {"words": {"north": ["n", "northern"], "south_pier": []}}
    table["kinds"]["mesh"] = {"order": ["vendor", "asset", "role"], "wanted": ["vendor", "asset"]}
    scheme = read_scheme(table)
    assert scheme.read("south_pier_bench_lod1.glb", "mesh").fields == (
        ("vendor", "south_pier"),
        ("asset", "bench"),
        ("role", "lod1"),
    )
    assert scheme.read("northern_bench.glb", "mesh").proposal == "north_bench.glb"
    missing = scheme.read("bench.glb", "mesh")
    assert failing(missing) == ["vendor"]
    assert "'north'" in missing.problems[0][1]
    assert missing.proposal == ""
    # a wanted listed field is found out of its place
    swapped = scheme.read("bench_north.glb", "mesh")
    assert failing(swapped) == ["vendor"]
    assert swapped.proposal == "north_bench.glb"


def test_two_free_fields_that_cannot_be_told_apart_are_a_doubt() -> None:
    table = copy.deepcopy(TABLE)
    table["fields"]["set"] = {"casing": "lower"}
    table["kinds"]["material"] = {"order": ["set", "surface"], "wanted": ["set", "surface"]}
    scheme = read_scheme(table)
    assert scheme.read("pier_iron", "material").doubts == ()
    assert len(scheme.read("pier_cast_iron", "material").doubts) == 1


def test_a_kind_without_a_form_is_left_alone() -> None:
    table = copy.deepcopy(TABLE)
    del table["kinds"]["material"]
    reading = read_scheme(table).read("Whatever It Is", "material")
    assert (reading.fields, reading.problems, reading.proposal) == ((), (), "")


@pytest.mark.parametrize(
    "name",
    [
        "", ".", "..", "...", "_", "___", ".png", "\x00", "\udcff\udcfe.png", "\ud800", "a\x1b[31mb.png", "x" * 10_000,
        "a_" * 5_000, "_" * 10_000, "base_color_" * 900, "9" * 10_000, "v" + "9" * 5_000, "lod" + "1" * 5_000,
        "A" * 10_000, "aB" * 5_000, "\u0301" * 300, "²³_normal.png", "bench_v٣.glb", "bench_１００１.png", "ﬁsh.glb",
        "\u202egnp.hcneb", "İ_ẞ_normal.png", "bench_normal.png\n", "bench\ufeff.glb", "😀_normal.png",
    ],
)  # fmt: skip  # a list of words, not of lines
@pytest.mark.parametrize("kind", KINDS)
def test_hostile_names(name: str, kind: str) -> None:
    reading = SHIPPED.read(name, kind, "", ["bench", name])
    assert reading.problems, "none of these may pass"
    for _, message in reading.problems:
        assert message.isprintable()
        assert len(message) < 400
    if reading.proposal:
        assert SHIPPED.read(reading.proposal, kind, "", ["bench", name]).problems == ()


def test_digits_of_other_scripts_are_no_number() -> None:
    assert SHIPPED.read("bench_normal_v٠٠١.png", "map").field("version") == ""
    assert SHIPPED.read("bench_normal_１００１.png", "map").field("tile") == ""


words = st.text("abcdefghijklmnopqrstuvwxyz0123456789", min_size=2, max_size=7)
names = st.one_of(
    st.text(max_size=30),
    st.text(st.characters(), max_size=30),
    st.lists(
        st.sampled_from(
            [
                "bench",
                "Fish",
                "crate",
                "RED",
                "base",
                "color",
                "baseColor",
                "nrm",
                "lod",
                "lod1",
                "v1",
                "v002",
                "1001",
                "1",
                "ü",
                "collision",
                "furniture",
                "orm",
                "normal",
                "é",
                "x" * 50,
                "building",
                "part",
            ]
        ),
        max_size=7,
    ).flatmap(
        lambda parts: st.sampled_from(["_", "__", "-", " ", "", "."]).map(lambda joint: joint.join(parts) + ".png")
    ),
)
schemes = st.sampled_from(
    [
        SHIPPED,
        changed(asset={"casing": "camel"}),
        changed(asset={"casing": "any", "characters": ["a-z", "A-Z", "0-9"], "longest": 9}),
        changed(asset={"casing": "upper", "several_words": False}, variant={"casing": "capital", "longest": 5}),
        changed(asset={"characters": ["a-z", "+"], "shortest": 3}),
    ]
)


def safe(name: str, kind: str) -> str:
    return "" if kind in ("mesh", "map", "master", "folder") and name_faults(name) else name


@given(
    names, st.sampled_from(KINDS), schemes, st.lists(st.sampled_from(["bench", "fish_crate", "bench_red"]), max_size=2)
)
@settings(max_examples=60, deadline=None)
def test_every_proposal_passes_and_reading_is_stable(
    name: str, kind: str, scheme: NameScheme, assets: list[str]
) -> None:
    reading = scheme.read(name, kind, "", assets)
    assert scheme.read(name, kind, "", assets) == reading
    assert reading.fields or reading.problems
    if reading.proposal:
        again = scheme.read(reading.proposal, kind, "", assets)
        assert again.problems == ()
        assert again.proposal == ""
        assert reading.proposal != name
        assert kind not in ("mesh", "map", "master", "folder") or name_faults(reading.proposal) == ()
    assert scheme.propose(name, kind, assets) == (reading.proposal if reading.problems else safe(name, kind))


@given(
    st.lists(words, min_size=1, max_size=3).map("_".join),
    st.none() | words,
    st.sampled_from(sorted([*TABLE["slots"], *TABLE["packed"]])),
    st.none() | st.integers(1001, 1999).map(str),
    st.none() | st.integers(1, 999).map(lambda n: f"v{n:03d}"),
    st.none() | st.sampled_from(TABLE["fields"]["category"]["words"]),
)
@settings(max_examples=60, deadline=None)
def test_reading_a_composed_name_gives_its_fields_back(
    asset: str, variant: str | None, slot: str, tile: str | None, version: str | None, category: str | None
) -> None:
    given_fields = {
        "category": category,
        "asset": asset,
        "variant": variant,
        "map": slot,
        "tile": tile,
        "version": version,
    }
    fields = {key: value for key, value in given_fields.items() if value is not None}
    name = SHIPPED.compose("map", fields, ".png")
    expected = (f"{category}_" if category else "") + asset + (f"_{variant}" if variant else "") + f"_{slot}"
    expected += (f".{tile}" if tile else "") + (f"_{version}" if version else "") + ".png"
    assert name == expected
    reading = SHIPPED.read(name, "map", "", [asset])
    taken = {"v" + digits for digits in "0123456789"} | {"lod"}
    if not any(part[:2] in taken for part in f"{asset}_{variant}".split("_")):
        assert reading.problems == ()
        assert dict(reading.fields) == fields


def test_compose_refuses_what_a_name_cannot_hold() -> None:
    assert SHIPPED.compose("map", {"asset": "bench"}) == ""
    assert SHIPPED.compose("map", {"asset": "bench", "map": "sparkle"}) == ""
    assert SHIPPED.compose("mesh", {"asset": "bench", "colour": "x"}) == ""
    assert SHIPPED.compose("mesh", {"asset": "bench", "role": "model"}, ".glb") == "bench.glb"
    assert SHIPPED.compose("mesh", {"asset": "bench", "role": "lod2"}, ".glb") == "bench_lod2.glb"


# What is wrong with a scheme ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "keys", "part_of_message"),
    [
        (lambda t: t.update(seperator="_"), ("seperator",), "unknown key"),
        (lambda t: t.update(separator="a"), ("separator",), "neither letters"),
        (lambda t: t.update(separator=""), ("separator",), "neither letters"),
        (lambda t: t.update(separator="/"), ("separator",), "safe"),
        (lambda t: t.update(separator=3), ("separator",), "text"),
        (lambda t: t.update(fields=[]), ("fields",), "table"),
        (lambda t: t.update(master_suffixes=["psd"]), ("master_suffixes", 0), "suffix"),
        (lambda t: t["fields"]["asset"].update(casing="lowr"), ("fields", "asset", "casing"), "cannot be 'lowr'"),
        (lambda t: t["fields"]["asset"].update(longest=0), ("fields", "asset", "longest"), "whole number"),
        (lambda t: t["fields"]["asset"].update(longest=True), ("fields", "asset", "longest"), "whole number"),
        (lambda t: t["fields"]["asset"].update(shortest=60), ("fields", "asset", "shortest"), "larger"),
        (lambda t: t["fields"]["asset"].update(characters=["z-a"]), ("fields", "asset", "characters", 0), "range"),
        (lambda t: t["fields"]["asset"].update(several_words=1), ("fields", "asset", "several_words"), "true or"),
        (lambda t: t["fields"]["asset"].update(lenght=1), ("fields", "asset", "lenght"), "unknown key"),
        (lambda t: t["fields"]["asset"].update(prefix="p"), ("fields", "asset", "prefix"), "digits"),
        (lambda t: t["fields"]["map"].update(words=["x"]), ("fields", "map", "words"), "[slots]"),
        (lambda t: t["fields"]["category"].update(words=["_"]), ("fields", "category", "words", 0), "neither"),
        (lambda t: t["fields"]["category"].update(digits=2), ("fields", "category", "digits"), "not both"),
        (lambda t: t["kinds"].update(texture={}), ("kinds", "texture"), "unknown key"),
        (lambda t: t["kinds"]["mesh"].update(order=[]), ("kinds", "mesh", "wanted", 0), "not in the order"),
        (lambda t: t["kinds"]["mesh"]["order"].append("assett"), ("kinds", "mesh", "order", 4), "no field"),
        (lambda t: t["kinds"]["mesh"]["order"].append("asset"), ("kinds", "mesh", "order", 4), "twice"),
        (lambda t: t["slots"]["normal"].update(channels="xyz"), ("slots", "normal", "channels"), "cannot be"),
        (lambda t: t["slots"]["normal"].update(right=["albedo"]), ("slots", "normal"), "already stands for"),
        (
            lambda t: t["packed"]["roughness_metalness"].update(green="ruffness"),
            ("packed", "roughness_metalness", "green"),
            "cannot be",
        ),
        (lambda t: t["packed"].update(noise={}), ("packed", "noise"), "for no channel"),
        (lambda t: t["roles"]["lod"].update(numbered="yes"), ("roles", "lod", "numbered"), "true or false"),
    ],
)
def test_mistakes_in_a_scheme_are_told_with_their_key_path(
    change: Any, keys: tuple[Any, ...], part_of_message: str
) -> None:
    table = copy.deepcopy(TABLE)
    change(table)
    faults = scheme_faults(table)
    assert [fault.keys for fault in faults][:1] == [keys], faults
    assert part_of_message in faults[0].what
    with pytest.raises(AskedWrongly) as caught:
        read_scheme(table)
    assert ".".join(map(str, keys)) in caught.value.what


def test_a_mistyped_key_gets_the_right_one() -> None:
    table = copy.deepcopy(TABLE)
    table["fields"]["asset"]["lenght"] = 3
    table["seperator"] = "_"
    helps = [fault.help for fault in scheme_faults(table)]
    assert any("separator" in text for text in helps)


def test_all_mistakes_are_told_at_once() -> None:
    table = copy.deepcopy(TABLE)
    table["separator"] = 1
    table["fields"]["asset"]["casing"] = "x"
    table["kinds"]["map"]["order"] = ["nothing"]
    assert len(scheme_faults(table)) >= 3


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers(-5, 5) | st.text(max_size=4),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(
                st.sampled_from(
                    [
                        "fields",
                        "kinds",
                        "slots",
                        "roles",
                        "packed",
                        "map",
                        "asset",
                        "mesh",
                        "order",
                        "words",
                        "right",
                        "characters",
                        "before",
                        "separator",
                    ]
                ),
                inner,
                max_size=4,
            )
        ),
        max_leaves=12,
    )
)
@settings(max_examples=60, deadline=None)
def test_any_table_is_read_or_refused_in_words(value: Any) -> None:
    table = value if isinstance(value, dict) else {"fields": value}
    faults = scheme_faults(table)
    if not faults:
        assert read_scheme(table).read("bench.png", "map").name == "bench.png"


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("bench_base_colr.png", "'base_colr' is no map word; did you mean 'base_color'?"),
        ("bench_base_clr.png", "'base_clr' is no map word; did you mean 'base_color'?"),
        # "red" is a fair variant and like no map word
        ("bench_red.png", "the map word is missing, such as 'base_color', 'normal' or 'roughness'"),
    ],
)
def test_a_mistyped_word_at_the_end_is_told_before_a_missing_one(name: str, says: str) -> None:
    assert ("map", says) in SHIPPED.read(name, "map", assets=("bench",)).problems


@pytest.mark.parametrize(
    ("kind", "form"),
    [
        ("folder", "[category_]asset[_version]"),
        ("map", "[category_]asset[_variant]_map[.tile][_version]"),
        ("material", "surface"),
    ],
)
def test_the_form_of_a_name_is_told_where_there_are_problems(kind: str, form: str) -> None:
    assert SHIPPED.read("_Bench", kind).form == form
    assert SHIPPED.read("bench_base_color.png" if kind == "map" else "bench", kind).form == ""


@pytest.mark.parametrize(
    ("name", "written"),
    [
        ("crate_1", "crate_1"),
        ("furniture_crate_1_lod1_v002", "crate_1"),
        ("crate 1", "crate 1"),
        ("crate-1", "crate-1"),
        ("a&b", "a&b"),
        ("é&b", "é&b"),
        ("lamp+_v002", "lamp+"),  # a sign that touches it is part of it
        ("furniture_+lamp", "+lamp"),
        ("crate (1)_lod1", "crate (1)"),
        ("crate (v002)", "crate"),  # this one stands at the version
        ("furniture crate", "crate"),
        ("_crate__1", "crate_1"),  # a separator too many is a slip
        ("FishCrate", "Fish_Crate"),  # and humps are a matter of casing
        ("long_" * 12 + "a", "long_" * 12 + "a"),  # the value is cut, this is not
        ("&&&", ""),
    ],
)
def test_the_asset_is_told_as_it_is_written(name: str, written: str) -> None:
    assert SHIPPED.read(f"{name}.glb", "mesh").written == written


def test_an_asset_that_is_written_right_is_told_as_its_value() -> None:
    reading = changed(asset={"casing": "capital"}).read("FishCrate.glb", "mesh")
    assert (reading.problems, reading.written) == ((), reading.field("asset"))
