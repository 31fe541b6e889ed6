"""Options that several commands share."""

from __future__ import annotations

import click

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
        if not Path(config).is_file():
            raise AskedWrongly(
                "there is no such configuration file", path=config, help="`tidegate new DIR` makes one to start from"
            )
        return config
    here = Path.cwd()
    for folder in (here, *here.parents):
        if (folder / "tidegate.toml").is_file():
            return str(folder / "tidegate.toml")
    return None


def rule_folders(config: str | None) -> tuple[str, ...]:
    """Studio folders with rule sets, from the configuration if there is one."""
    path = find_configuration(config)
    if path is None:
        return ()
    from tidegate.load.configuration import read_configuration

    return tuple(str(folder) for folder in read_configuration(path).studio.rule_folders)
