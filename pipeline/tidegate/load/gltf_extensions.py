"""Which extensions a file may require, and what is said about those that are not read."""

from __future__ import annotations

from tidegate.errors import NoReader

from .gltf_document import GltfDocument
from .gltf_materials import KNOWN_MATERIAL_EXTENSIONS, KNOWN_TEXTURE_EXTENSIONS

_READ = (
    frozenset({"KHR_mesh_quantization", "KHR_draco_mesh_compression", "KHR_lights_punctual"})
    | KNOWN_MATERIAL_EXTENSIONS
    | KNOWN_TEXTURE_EXTENSIONS
)
# Not read, and no triangle or UV changes by that. Whatever else a file requires may change the geometry.
_HARMLESS_PREFIXES = ("KHR_materials_", "EXT_materials_", "KHR_texture_", "EXT_texture_", "EXT_lights_", "KHR_xmp")
_HARMLESS = frozenset(
    {
        "EXT_mesh_gpu_instancing",  # noted at the node
        "KHR_animation_pointer",
        "KHR_interactivity",
        "KHR_node_hoverability",
        "KHR_node_selectability",
        "KHR_node_visibility",
        "MSFT_lod",
    }
)
_MESHOPT = ("EXT_meshopt_compression", "KHR_meshopt_compression")


def check_extensions(document: GltfDocument) -> None:
    """Raises NoReader for a required extension that may change the geometry; notes the others that are not read."""
    for name in document.required_extensions:
        if name in _MESHOPT:
            raise NoReader(
                "the geometry is packed with meshopt compression, which is not read here",
                came=f"the required extension {name}",
                help="export without mesh compression",
            )
        if not _is_harmless(name):
            raise NoReader(
                f"the file requires the extension {name[:80]!r}, which is not read here and may change the geometry",
                help="export without that extension",
            )
        if name not in document.used_extensions:
            document.note("undeclared-extension", "warning", f"{name[:80]!r} is required but not listed as used")
    if "KHR_materials_variants" in document.used_extensions:
        document.note(
            "material-variants",
            "note",
            "KHR_materials_variants is not read: the materials of the plain form are measured",
        )
    for name in document.used_extensions:
        if name not in _READ and name not in ("EXT_mesh_gpu_instancing", "KHR_materials_variants"):
            document.note("unknown-extension", "note", f"the extension {name[:80]!r} is not read")


def _is_harmless(name: str) -> bool:
    return name in _READ or name in _HARMLESS or name.startswith(_HARMLESS_PREFIXES)
