"""`tidegate sheet PATH...`"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tidegate.cli.exit_codes import told
from tidegate.cli.options import config_option, no_file_where_a_folder_is_wanted
from tidegate.errors import AskedWrongly, UnreadableFile

if TYPE_CHECKING:
    from tidegate.draw.guide_layers import GuideLayers
    from tidegate.model.facts import Facts
    from tidegate.passage import Terms

FORMS = ("png", "flat", "tga", "svg", "ora")
LARGEST = 16_384


def _ground(ctx: click.Context, param: click.Parameter, value: str) -> tuple[int, int, int]:
    if not re.fullmatch(r"#?[0-9a-fA-F]{6}", value):
        raise click.BadParameter(f"`{value}` is no color; write six digits, such as #d8d8d4")
    digits = value.removeprefix("#")
    return int(digits[0:2], 16), int(digits[2:4], 16), int(digits[4:6], 16)


@click.command(
    "sheet",
    epilog=f"""\b
Examples:
  tidegate sheet bollard.glb                        lines on a see-through PNG of the map's size
  tidegate sheet bollard.glb --size 4096 --as ora   layers, so that the guide can be hidden
  tidegate sheet crate/ --bleed 8 --as flat --as svg --out guides

{
        told(
            done="drawn",
            wrongly="there is no layout to draw, a file may not be written, or asked wrongly",
            failed="the mesh could not be read",
        )
    }""",
)
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@click.option(
    "--size",
    type=click.IntRange(16, LARGEST),
    metavar="TEXELS",
    help="Longer side: 512, 1024, 2048, 4096 or any other; without it, that of the map.",
)
@click.option(
    "--bleed",
    type=click.IntRange(0, 1024),
    default=0,
    show_default=True,
    metavar="TEXELS",
    help="Show how far paint must be carried past the edges.",
)
@click.option(
    "--line",
    type=click.FloatRange(0.25, 64),
    default=1.0,
    show_default=True,
    metavar="TEXELS",
    help="Width of edges inside islands; outlines are twice as wide.",
)
@click.option(
    "--ground",
    default="#ffffff",
    show_default=True,
    metavar="#RRGGBB",
    callback=_ground,
    help="Color under the layout, as #rrggbb; on a dark one lines, markers and numbers are light.",
)
@click.option(
    "--as",
    "forms",
    type=click.Choice([*FORMS, "all"]),
    multiple=True,
    default=("png",),
    show_default=True,
    help="png: lines alone, see-through. flat, tga: all in one picture. svg: strokes. ora: layers. May be repeated.",
)
@click.option("--out", default=".", show_default=True, metavar="DIR", help="Folder to write into.")
@click.option("--up-axis", type=click.Choice(["y", "z"]), help="Axis that points up in files that state none.")
@click.option("--dry-run", is_flag=True, help="Show what would be written, and write nothing.")
@config_option
def command(
    paths: tuple[str, ...],
    size: int | None,
    bleed: int,
    line: float,
    ground: tuple[int, int, int],
    forms: tuple[str, ...],
    out: str,
    up_axis: str | None,
    dry_run: bool,
    config: str | None,
) -> int:
    """Draw the guide sheets of a mesh, to paint over.

    Outlines of islands are heavier than the edges inside them. An outline drawn through is a seam: the surface goes on at
    another island. A dashed one is an open edge: the surface ends there. Arrows point to where the model's up lands, two
    points that face each other across an arrow say that the island is mirrored, a ring that its up is uncertain.
    """
    from tidegate.cli.terms import terms_for
    from tidegate.draw.guide_sheets import guide_sheets
    from tidegate.geometry.beyond_numbers import beyond_numbers
    from tidegate.model.wording import count

    folder = Path(out)
    no_file_where_a_folder_is_wanted(folder, "nothing was written")
    terms = terms_for(config, gate=None, set_name=None, unit=None, up_axis=up_axis, pictures=False, judging=False)
    wanted = [form for form in FORMS if form in forms or "all" in forms]
    with beyond_numbers():
        for facts in _measured(paths, terms):
            for name, layers in guide_sheets(facts, size, line=line, bleed=bleed):
                for form in wanted:
                    _put(folder, name, layers, form, ground, dry_run)
                if layers.clipped and not dry_run:
                    reach = count(layers.clipped, "island reaches", "islands reach")
                    click.echo(f"  {reach} beyond the map: that is not on the sheet")
                if layers.unnumbered and not dry_run and wanted != ["png"]:
                    few = f"{layers.unnumbered} of {len(layers.rows)}"
                    click.echo(f"  {few} islands are too small for a number at this size")
    return 0


def _measured(paths: tuple[str, ...], terms: Terms) -> Iterator[Facts]:
    """The facts a guide sheet is drawn from, prop by prop. Raises for what cannot be read or has no layout."""
    from tidegate.cli.drops import drops_of, shut
    from tidegate.load.drop import read_props
    from tidegate.measure.measure import measure
    from tidegate.model.set_settings import SETTINGS

    settings = {setting.name: setting.default for setting in SETTINGS}
    drops = drops_of(paths, terms.scheme)
    meshes = 0
    for drop in drops:
        for prop in read_props(drop, terms.scheme, unit=terms.unit, up_axis=terms.up_axis, libraries=terms.libraries):
            broken = {path for path, _, _ in prop.unreadable}
            for file in prop.files:
                if file.kind == "mesh" and file.path in broken:
                    what, help = next((w, h) for path, w, h in prop.unreadable if path == file.path)
                    raise UnreadableFile(what, path=file.path, help=help)
            if not prop.meshes:
                continue
            meshes += 1
            facts = measure(prop, ("islands", "upright"), settings)
            if not facts.pictures:
                raise AskedWrongly(
                    "has no UVs, so there is no layout to draw",
                    path=prop.meshes[0].path,
                    help="lay the surface out and export it with its UVs",
                )
            yield facts
    for file in (file for drop in drops for file in shut(drop)):
        raise UnreadableFile(file.note, path=file.location, help="ask its owner for permission")
    if not meshes:
        raise AskedWrongly("there is no mesh to draw", path=paths[0], help="name a mesh file or the folder of one")


def _put(folder: Path, name: str, layers: GuideLayers, form: str, ground: tuple[int, int, int], dry_run: bool) -> None:
    from tidegate.draw.guide_files import FORMS as MADE

    ending, make = MADE[form]
    path = folder / f"{name}.{ending}"
    size = f"{layers.width} x {layers.height}"
    if dry_run:
        click.echo(f"would write {path} ({size}){', where a file of that name is' if path.exists() else ''}")
        return
    click.echo(f"{_written(path, make(layers, ground))} {path} ({size})")


def _written(path: Path, data: bytes) -> str:
    """Writes a file that is not there yet. One that is there stays, and must be the same."""
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        file = path.open("xb")
    except FileExistsError:
        if path.is_file() and path.read_bytes() == data:
            return "the same already"
        raise AskedWrongly(
            "there is another file of that name",
            path=str(path),
            done="it was left as it is",
            help="choose another folder with --out, or move the file away",
        ) from None
    try:
        with file:
            file.write(data)
    except OSError:
        path.unlink(missing_ok=True)  # half a picture is no picture
        raise
    return "write"
