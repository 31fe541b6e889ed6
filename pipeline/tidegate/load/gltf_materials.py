"""Materials of a glTF file: which picture fills which slot, on which UV layer, turned and wrapped how (section 3.9)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tidegate.model.mesh import MapSlot, Material, UvTransform

from .gltf_document import GltfDocument
from .gltf_values import Json, extension, index, integer, mapping, number, numbers, text

_WRAPS = {33071: "clamp", 33648: "mirror", 10497: "repeat"}
_TRANSFORM = "KHR_texture_transform"
# Where a texture states its picture in a format that core glTF does not know.
_IMAGE_EXTENSIONS = ("EXT_texture_webp", "KHR_texture_basisu", "EXT_texture_avif", "MSFT_texture_dds")


@dataclass(frozen=True, slots=True)
class _Use:
    """A texture property: what it is stated as, and the (slot, channels) it fills."""

    key: str
    fills: tuple[tuple[str, str], ...]


_METAL_ROUGH = (
    _Use("baseColorTexture", (("base_color", "rgb"),)),
    _Use("metallicRoughnessTexture", (("roughness", "g"), ("metalness", "b"))),  # section 3.9.2
)
_CORE = (
    _Use("normalTexture", (("normal", "rgb"),)),
    _Use("occlusionTexture", (("occlusion", "r"),)),
    _Use("emissiveTexture", (("emission", "rgb"),)),
)
# Channels from the README of each extension (KhronosGroup/glTF, extensions/2.0/Khronos).
_EXTENSIONS: dict[str, tuple[_Use, ...]] = {
    "KHR_materials_clearcoat": (
        _Use("clearcoatTexture", (("clearcoat", "r"),)),
        _Use("clearcoatRoughnessTexture", (("clearcoat_roughness", "g"),)),
        _Use("clearcoatNormalTexture", (("clearcoat_normal", "rgb"),)),
    ),
    "KHR_materials_sheen": (
        _Use("sheenColorTexture", (("sheen_color", "rgb"),)),
        _Use("sheenRoughnessTexture", (("sheen_roughness", "a"),)),
    ),
    "KHR_materials_specular": (
        _Use("specularTexture", (("specular", "a"),)),
        _Use("specularColorTexture", (("specular_color", "rgb"),)),
    ),
    "KHR_materials_transmission": (_Use("transmissionTexture", (("transmission", "r"),)),),
    "KHR_materials_volume": (_Use("thicknessTexture", (("thickness", "g"),)),),
    "KHR_materials_iridescence": (
        _Use("iridescenceTexture", (("iridescence", "r"),)),
        _Use("iridescenceThicknessTexture", (("iridescence_thickness", "g"),)),
    ),
    "KHR_materials_anisotropy": (_Use("anisotropyTexture", (("anisotropy", "rgb"),)),),
    "KHR_materials_diffuse_transmission": (
        _Use("diffuseTransmissionTexture", (("diffuse_transmission", "a"),)),
        _Use("diffuseTransmissionColorTexture", (("diffuse_transmission_color", "rgb"),)),
    ),
    "KHR_materials_pbrSpecularGlossiness": (
        _Use("diffuseTexture", (("base_color", "rgb"),)),
        _Use("specularGlossinessTexture", (("specular_color", "rgb"), ("glossiness", "a"))),
    ),
}
# Known to carry no picture of its own.
_WITHOUT_PICTURES = frozenset(
    {"KHR_materials_unlit", "KHR_materials_ior", "KHR_materials_emissive_strength", "KHR_materials_dispersion"}
)
KNOWN_MATERIAL_EXTENSIONS = frozenset(_EXTENSIONS) | _WITHOUT_PICTURES
KNOWN_TEXTURE_EXTENSIONS = frozenset({_TRANSFORM, *_IMAGE_EXTENSIONS})


def read_materials(document: GltfDocument) -> tuple[Material, ...]:
    """One record a material, in file order. Raises UnreadableFile for values of the wrong kind."""
    return tuple(_material(document, number) for number in range(len(document.materials)))


def _material(document: GltfDocument, number: int) -> Material:
    stated, where = document.materials[number], f"materials[{number}]"
    alpha_mode = text(stated, "alphaMode", where, "OPAQUE").lower()
    if alpha_mode not in ("opaque", "mask", "blend"):
        document.note("unknown-alpha-mode", "warning", f"the alpha mode {alpha_mode[:40]!r} is not known", place=where)
    double_sided = stated.get("doubleSided", False) is True
    slots = _slots(
        document, mapping(stated, "pbrMetallicRoughness", where), _METAL_ROUGH, f"{where}.pbrMetallicRoughness"
    )
    slots += _slots(document, stated, _CORE, where)
    for name in sorted(mapping(stated, "extensions", where)):
        body = extension(stated, name, where) or {}
        if name in _EXTENSIONS:
            slots += _slots(document, body, _EXTENSIONS[name], f"{where}.extensions.{name}")
        elif name not in _WITHOUT_PICTURES and name not in document.used_extensions:  # those are noted once, by name
            document.note("unknown-extension", "note", f"the material extension {name[:80]!r} is not read", place=where)
    if alpha_mode != "opaque":
        slots = [_with_alpha(slot) if slot.slot == "base_color" else slot for slot in slots]
    return Material(
        text(stated, "name", where),
        tuple(slots),
        double_sided=double_sided,
        alpha_mode=alpha_mode,
        tint=_tint(mapping(stated, "pbrMetallicRoughness", where)),
    )


def _tint(metal_rough: Json) -> tuple[float, float, float]:
    """The base color factor (section 3.9.2) without its alpha; white, its default, where what is stated is no color."""
    stated = metal_rough.get("baseColorFactor")
    if not isinstance(stated, list) or len(stated) != 4:
        return 1.0, 1.0, 1.0
    if not all(type(part) in (int, float) and 0 <= part <= 1 for part in stated):
        return 1.0, 1.0, 1.0
    red, green, blue = (float(part) for part in stated[:3])
    return red, green, blue


def _slots(document: GltfDocument, holder: Json, uses: tuple[_Use, ...], where: str) -> list[MapSlot]:
    slots = []
    group = where.partition(".")[2].removeprefix("extensions.")
    for use in uses:
        if use.key not in holder:
            continue
        info, place = mapping(holder, use.key, where), f"{where}.{use.key}"
        texture = index(info, "index", place, len(document.textures))
        turned = extension(info, _TRANSFORM, place)
        uv_layer = integer(info, "texCoord", place, default=0)
        if turned is not None and "texCoord" in turned:
            uv_layer = integer(turned, "texCoord", f"{place}.extensions.{_TRANSFORM}")
        for slot, channels in use.fills:
            slots.append(
                MapSlot(
                    slot=slot,
                    channels=channels,
                    stated_as=f"{group}.{use.key}" if group else use.key,
                    reference=_source(document, texture),
                    uv_layer=uv_layer,
                    transform=_transform(turned, place) if turned is not None else None,
                    wrap=_wrap(document, texture),
                )
            )
    return slots


def _with_alpha(slot: MapSlot) -> MapSlot:
    """Masked and blended materials read their opacity from the alpha channel of the base color (section 3.9.4)."""
    return MapSlot(
        slot.slot, "rgba", slot.stated_as, slot.reference, slot.uv_layer, slot.transform, slot.wrap, slot.options
    )


def _source(document: GltfDocument, number: int) -> int:
    """Image of a texture. The core picture counts before one in an extension's format: every reader shows it."""
    texture, where = document.textures[number], f"textures[{number}]"
    sources = [index(texture, "source", where, len(document.images), default=-1)]
    for name in _IMAGE_EXTENSIONS:
        body = extension(texture, name, where)
        if body is not None:
            sources.append(index(body, "source", f"{where}.extensions.{name}", len(document.images), default=-1))
    for name in sorted(mapping(texture, "extensions", where)):
        if name not in _IMAGE_EXTENSIONS and name not in document.used_extensions:
            document.note("unknown-extension", "note", f"the texture extension {name[:80]!r} is not read", place=where)
    found = [source for source in sources if source >= 0]
    if not found:
        document.note("texture-without-image", "error", "a texture that a material uses names no image", place=where)
        return -1
    return found[0]


def _wrap(document: GltfDocument, number: int) -> tuple[str, str]:
    where = f"textures[{number}]"
    sampler = index(document.textures[number], "sampler", where, len(document.samplers), default=-1)
    if sampler < 0:
        return "repeat", "repeat"
    place, wraps = f"samplers[{sampler}]", []
    for key in ("wrapS", "wrapT"):
        mode = integer(document.samplers[sampler], key, place, default=10497)
        if mode not in _WRAPS:
            document.note(
                "unknown-wrap", "warning", f"the wrap mode {mode} is not known; repeat was assumed", place=place
            )
        wraps.append(_WRAPS.get(mode, "repeat"))
    return wraps[0], wraps[1]


def _transform(stated: Json, where: str) -> UvTransform | None:
    place = f"{where}.extensions.{_TRANSFORM}"
    offset = numbers(stated, "offset", place, (0.0, 0.0))
    scale = numbers(stated, "scale", place, (1.0, 1.0))
    return v_up_transform(offset, number(stated, "rotation", place, 0.0), scale)


def v_up_transform(offset: tuple[float, ...], rotation: float, scale: tuple[float, ...]) -> UvTransform | None:
    """The V-up form of offset x rotation x scale given for V-down UVs; None when it changes nothing.

    KHR_texture_transform's worked example and its shader listing turn opposite ways; the example counts: the lower
    left quadrant comes out of offset (0, 1), rotation pi / 2, scale (0.5, 0.5), so R is ((cos, sin), (-sin, cos)).
    """
    c, s = math.cos(rotation), math.sin(rotation)
    (ox, oy), (sx, sy) = offset, scale
    if (rotation, ox, oy, sx, sy) == (0.0, 0.0, 0.0, 1.0, 1.0):
        return None
    # V-down: (u', w') = (a u + b w + ox, d u + e w + oy). With w = 1 - v and v' = 1 - w' that reads:
    a, b, d, e = c * sx, s * sy, -s * sx, c * sy
    return UvTransform(((a, -b, b + ox), (-d, e, 1.0 - e - oy)))
