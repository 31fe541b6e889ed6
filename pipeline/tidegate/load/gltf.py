"""glTF 2.0 and GLB -> MeshFile.

A map of the reader, in the order of the work: container (GLB or JSON text), JSON, version, document, extensions,
buffers and accessors, primitives, nodes, images, materials. Each has its own file, `gltf_<part>.py`.
"""

from __future__ import annotations

from collections import Counter

from tidegate.errors import UnreadableFile
from tidegate.model.mesh import MeshFile, MeshPart, frozen_array

from . import matrices
from .gltf_buffers import GltfBuffers
from .gltf_container import open_container
from .gltf_document import GltfDocument
from .gltf_extensions import check_extensions
from .gltf_images import read_images
from .gltf_json import parse_json
from .gltf_materials import read_materials
from .gltf_nodes import NodeTree, read_nodes
from .gltf_primitives import GltfPrimitives, Primitive
from .gltf_values import array, mapping, objects, text
from .gltf_version import check_version
from .limits import DEFAULT_LIMITS, ReadLimits
from .references import DropFolder


def read_gltf(folder: DropFolder, path: str, limits: ReadLimits = DEFAULT_LIMITS) -> MeshFile:
    """Reads a glTF 2.0 file, JSON or GLB by its content.

    path: relative to the drop. The parts are in metres, Y up and V up as `MeshPart` says: one part for each primitive
    of each node that the scene shows. Raises UnreadableFile, with NoReader for extensions that change the geometry
    and are not read, and LimitExceeded; all three name the file.
    """
    try:
        return _read(folder, path, limits)
    except UnreadableFile as fault:
        fault.path = fault.path or path
        raise


def _read(folder: DropFolder, path: str, limits: ReadLimits) -> MeshFile:
    document, form = _open(folder, path, limits)
    version = check_version(document.json)
    check_extensions(document)
    buffers = GltfBuffers(document)
    mesh_names = tuple(text(mesh, "name", f"meshes[{i}]") for i, mesh in enumerate(document.meshes))
    materials = read_materials(document)
    tree = read_nodes(document, mesh_names)
    parts = _parts(document, buffers, tree, mesh_names, tuple(material.name for material in materials))
    references = read_images(document, buffers) + buffers.references
    _note_names(document, tree, mesh_names, tuple(material.name for material in materials))
    if not parts:
        document.note("no-triangles", "error", "the file shows no triangles", help="export the mesh with its geometry")
    asset = mapping(document.json, "asset", "the file")
    lights = mapping(mapping(document.json, "extensions", "the file"), "KHR_lights_punctual", "extensions")
    return MeshFile(
        path=path,
        format=form,
        parts=parts,
        materials=materials,
        references=references,
        nodes=tree.nodes,
        notes=document.all_notes(),
        unit=1.0,
        unit_stated=True,
        up_axis="y",
        animations=len(array(document.json, "animations", "the file")),
        cameras=len(array(document.json, "cameras", "the file")),
        lights=len(array(lights, "lights", "extensions.KHR_lights_punctual")),
        skins=len(objects(document.json, "skins", "", limits.nodes)),
        generator=text(asset, "generator", "asset"),
        mesh_names=mesh_names,
        extras=(("asset.version", version), ("asset.copyright", text(asset, "copyright", "asset"))),
    )


def _open(folder: DropFolder, path: str, limits: ReadLimits) -> tuple[GltfDocument, str]:
    from tidegate.model.reference import ReadNote

    notes: list[ReadNote] = []
    container = open_container(folder.read_bytes(path, limits.file_bytes), notes)
    root = parse_json(container.json, limits, notes)
    suffix = path.rpartition(".")[2].lower()
    if suffix in ("gltf", "glb") and suffix != container.format:
        notes.append(
            ReadNote(
                "misleading-suffix", "warning", f"the file is named .{suffix} and holds {container.format.upper()}"
            )
        )
    return GltfDocument(path, folder, root, container.binary, limits, notes), container.format


def _parts(
    document: GltfDocument,
    buffers: GltfBuffers,
    tree: NodeTree,
    mesh_names: tuple[str, ...],
    material_names: tuple[str, ...],
) -> tuple[MeshPart, ...]:
    primitives = GltfPrimitives(document, buffers)
    shown: set[int] = set()
    placed: list[tuple[tuple[str, str, str], MeshPart]] = []
    for number in tree.placed:
        node = document.nodes[number]
        if "mesh" not in node:
            continue
        mesh = int(node["mesh"])
        again = mesh in shown
        shown.add(mesh)
        for primitive in primitives.of_mesh(mesh):
            if again:
                primitives.take(triangles=len(primitive.triangles), vertices=len(primitive.positions))
            part = _placed(document, tree, number, mesh_names[mesh], primitive, skinned="skin" in node)
            material = material_names[part.material] if part.material >= 0 else ""
            placed.append(((part.mesh, part.node, material), part))
    for number in range(len(document.meshes)):
        if number not in shown:
            document.note(
                "mesh-not-shown",
                "warning",
                f"the mesh {mesh_names[number]!r} is placed by no node of the scene and was left out",
                place=f"meshes[{number}]",
                help="remove it, or place it in the scene",
            )
    placed.sort(key=lambda keyed: keyed[0])  # stable: file order decides between equal names
    return tuple(part for _, part in placed)


def _placed(
    document: GltfDocument, tree: NodeTree, number: int, mesh: str, primitive: Primitive, *, skinned: bool
) -> MeshPart:
    """The primitive in the world. Its arrays are shared where the node changes nothing about them."""
    world, place = tree.world[number], f"nodes[{number}]"
    determinant = matrices.determinant(world)
    positions, normals, tangents = primitive.positions, primitive.normals, primitive.tangents
    triangles, uv_layers = primitive.triangles, primitive.uv_layers
    if world != matrices.IDENTITY:
        positions = frozen_array(matrices.turned_points(world, positions))
        try:
            turn = matrices.normal_matrix(world)
        except ZeroDivisionError:
            document.note(
                "flattened-node", "warning", "a node flattens its mesh to nothing: a scale is zero", place=place
            )
            normals = tangents = None
        else:
            if normals is not None:
                normals = frozen_array(matrices.turned_directions(turn, normals))
            if tangents is not None:
                turned = tangents.copy()
                turned[:, :3] = matrices.turned_directions(world, tangents[:, :3])
                if determinant < 0:  # keeps bitangent = cross(normal, tangent) * w true in the mirrored frame
                    turned[:, 3] *= -1.0
                tangents = frozen_array(turned)
    if determinant < 0:
        triangles = frozen_array(triangles[:, [0, 2, 1]])
        uv_layers = tuple(type(layer)(layer.index, layer.name, layer.uv, triangles) for layer in uv_layers)
    if skinned:
        document.note(
            "skinned",
            "note",
            "skinned meshes are measured in the pose of their node; joints are not applied",
            place=place,
        )
    return MeshPart(
        node=tree.nodes[number].name,
        mesh=mesh,
        material=primitive.material,
        positions=positions,
        triangles=triangles,
        uv_layers=uv_layers,
        normals=normals,
        normal_triangles=triangles if normals is not None else None,
        tangents=tangents,
        colors=primitive.colors,
        flipped=determinant < 0,
        skinned=skinned,
        node_number=number,
    )


def _note_names(
    document: GltfDocument, tree: NodeTree, mesh_names: tuple[str, ...], material_names: tuple[str, ...]
) -> None:
    """Names are kept as they are; a name that several things share is said aloud, since reports go by names."""
    node_names = tuple(node.name for node in tree.nodes)
    for kind, names in (("node", node_names), ("mesh", mesh_names), ("material", material_names)):
        shared = [f"{name!r} ({count} times)" for name, count in Counter(names).items() if name and count > 1]
        if shared:
            more = f" and {len(shared) - 5:,} more" if len(shared) > 5 else ""
            document.note("name-twice", "note", f"{kind} names are not unique: {', '.join(shared[:5])}{more}")
