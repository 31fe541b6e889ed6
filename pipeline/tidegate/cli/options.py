"""Options that several commands share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from pathlib import Path

format_option = click.option(
    "--format",
    "output",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="text for people, json for programs.",
)

config_option = click.option(
    "--config",
    metavar="FILE",
    help="The configuration; without it, tidegate.toml here or in a folder above, if there is one.",
)


def find_configuration(config: str | None) -> str | None:
    """The configuration file meant: the one named, else the nearest tidegate.toml upwards, else None."""
    from pathlib import Path

    from tidegate.errors import AskedWrongly

    if config:
        path = Path(config)
        if path.is_dir():
            inside = path / "tidegate.toml"
            raise AskedWrongly(
                "is a folder, not a configuration file",
                path=config,
                help=f"did you mean `{inside}`?" if inside.is_file() else "`tidegate new DIR` makes one to start from",
            )
        if path.exists() and not path.is_file():
            raise AskedWrongly(
                "is no regular file and was not opened",
                path=config,
                help="name a configuration file, such as tidegate.toml",
            )
        if not path.is_file():
            raise AskedWrongly(
                "there is no such configuration file",
                path=config,
                help=near_path(path) or "`tidegate new DIR` makes one to start from",
            )
        return config
    here = Path.cwd()
    for folder in (here, *here.parents):
        if (folder / "tidegate.toml").is_file():
            return str(folder / "tidegate.toml")
    return None


def near_path(path: Path) -> str:
    """What a path that is not there may have been meant for, "" when nothing lies near."""
    from tidegate.model.nearest import nearest

    if path.is_symlink():
        return "it is a link that leads nowhere or back to itself: name the file itself"
    if not path.parent.is_dir():
        return f"the folder {path.parent} is not there either"
    like = nearest(path.name, sorted(entry.name for entry in path.parent.iterdir())[:2000])
    return f"did you mean `{path.parent / like}`?" if like else ""


def no_file_where_a_folder_is_wanted(folder: Path, done: str) -> None:
    """Raises AskedWrongly where a folder to write into, or one above it, is a file."""
    from tidegate.errors import AskedWrongly

    there = next((one for one in (folder, *folder.parents) if one.exists()), folder)
    if there.exists() and not there.is_dir():
        raise AskedWrongly("is a file where a folder is wanted", path=str(there), done=done, help="name another folder")


def rule_folders(config: str | None) -> tuple[str, ...]:
    """Studio folders with rule sets, from the configuration if there is one."""
    path = find_configuration(config)
    if path is None:
        return ()
    from tidegate.load.configuration import read_configuration

    return tuple(str(folder) for folder in read_configuration(path).studio.rule_folders)
