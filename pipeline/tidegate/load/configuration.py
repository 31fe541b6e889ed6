"""`tidegate.toml`: read, proved, every path made absolute."""

from __future__ import annotations

import os.path
from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError

from tidegate.errors import AskedWrongly
from tidegate.model.settings import Configuration, Gate

from .faults import Faults
from .rule_folder import find_rule_set, is_path
from .toml_file import LocatedToml, read_toml
from .validation_faults import add_validation_faults

TREES = ("delivery", "returned", "aside", "kept")
"""Folders that several gates may share, each with its like; an inbox or a work folder is one gate's alone."""


def read_configuration(path: str | Path) -> Configuration:
    """The configuration in a file; relative paths in it count from its folder.

    Rule sets named by path become absolute. Raises ConfigurationFault with every fault found: keys and values first;
    when those are right, then names used twice, folders in each other's way, and files that are not there.
    """
    toml = read_toml(path)
    folder = Path(path).resolve().parent
    faults = Faults()
    try:
        configuration = Configuration.model_validate(toml.values, context={"folder": str(folder)})
    except ValidationError as error:
        add_validation_faults(error, Configuration, toml, faults)
        faults.raise_any()
        raise  # not reached: an error of pydantic names one thing at least
    configuration = _rule_sets_located(configuration, folder)
    _prove_names(configuration, toml, faults)
    _prove_folders(configuration, toml, faults)
    _prove_files(configuration, toml, faults)
    faults.raise_any()
    return configuration


def _rule_sets_located(configuration: Configuration, folder: Path) -> Configuration:
    def located(text: str) -> str:
        return str(folder / text) if text and is_path(text) else text

    gates = tuple(
        gate.model_copy(
            update={
                "rule_set": located(gate.rule_set),
                "rule_set_by_category": {key: located(text) for key, text in gate.rule_set_by_category.items()},
            }
        )
        for gate in configuration.gates
    )
    return configuration.model_copy(update={"gates": gates})


def _prove_names(configuration: Configuration, toml: LocatedToml, faults: Faults) -> None:
    first: dict[str, int] = {}
    for number, gate in enumerate(configuration.gates):
        line = toml.line_of("gate", number, "name")
        if gate.name in first:
            faults.add(
                f"there are two gates named `{gate.name}`", toml.path, line, came=f"also in line {first[gate.name]}"
            )
        first.setdefault(gate.name, line)


def _prove_folders(configuration: Configuration, toml: LocatedToml, faults: Faults) -> None:
    """No folder of a gate may be another one or lie in it: a drop would be taken twice, or a delivery swept up."""
    seen: list[tuple[int, str, Path]] = []
    for number, gate in enumerate(configuration.gates):
        for key, path in gate.folders.items():
            for other, other_key, other_path in seen:
                shared = key == other_key and key in TREES and _same(path, other_path)
                if not shared and (_within(path, other_path) or _within(other_path, path)):
                    faults.add(
                        f"`{key}` of gate `{gate.name}` and `{other_key}` of gate "
                        f"`{configuration.gates[other].name}` are the same folder or lie in each other",
                        toml.path,
                        toml.line_of("gate", number, key),
                        came=str(path),
                        help=f"the other one stands in line {toml.line_of('gate', other, other_key)}",
                    )
            seen.append((number, key, path))
    inboxes = [gate.inbox for gate in configuration.gates]
    for keys, path in _trusted(configuration, toml):
        if any(_within(path, inbox) for inbox in inboxes):
            name = next((f"`{key}`" for key in reversed(keys) if isinstance(key, str)), "the configuration")
            faults.add(
                f"{name} lies in an inbox",
                toml.path,
                toml.line_of(*keys),
                came=str(path),
                help="whoever drops files there could change how they are judged",
            )


def _trusted(configuration: Configuration, toml: LocatedToml) -> Iterator[tuple[tuple[str | int, ...], Path]]:
    """What decides how props are judged, with the key that names it."""
    studio = configuration.studio
    yield (), Path(toml.path)
    if studio.names:
        yield ("studio", "names"), studio.names
    for key in ("rule_folders", "library_folders"):
        yield from ((("studio", key, i), path) for i, path in enumerate(getattr(studio, key)))
    for number, gate in enumerate(configuration.gates):
        if gate.order_list:
            yield ("gate", number, "order_list"), gate.order_list
        yield from ((keys, Path(name)) for keys, name in _rule_sets(gate, number) if is_path(name))


def _rule_sets(gate: Gate, number: int) -> Iterator[tuple[tuple[str | int, ...], str]]:
    if gate.rule_set:
        yield ("gate", number, "rule_set"), gate.rule_set
    for category, name in gate.rule_set_by_category.items():
        yield ("gate", number, "rule_set_by_category", category), name


def _prove_files(configuration: Configuration, toml: LocatedToml, faults: Faults) -> None:
    """Files that are named have to be there. What stands in them is proved by those who read them."""
    for number, gate in enumerate(configuration.gates):
        for keys, name in _rule_sets(gate, number):
            try:
                find_rule_set(name, configuration.studio.rule_folders)
            except AskedWrongly as error:
                faults.add(error.what, toml.path, toml.line_of(*keys), came=error.path, help=error.help)
    named: list[tuple[tuple[str | int, ...], Path | None]] = [(("studio", "names"), configuration.studio.names)]
    named += [(("gate", i, "order_list"), gate.order_list) for i, gate in enumerate(configuration.gates)]
    for keys, path in named:
        if path is not None and not path.is_file():
            faults.add(
                f"the file of `{keys[-1]}` is not there"
                if not path.exists()
                else f"`{keys[-1]}` names no regular file",
                toml.path,
                toml.line_of(*keys),
                came=str(path),
                help="relative paths count from the folder of the configuration; mend the path, or take the key out",
            )


def _plain(path: Path) -> tuple[str, ...]:
    # Links are followed, and upper and lower case made one, since many disks and shares do not tell them apart.
    return tuple(part.casefold() for part in Path(os.path.realpath(path)).parts)


def _same(one: Path, two: Path) -> bool:
    return _plain(one) == _plain(two)


def _within(path: Path, folder: Path) -> bool:
    """Whether the path is the folder or lies somewhere in it."""
    inner, outer = _plain(path), _plain(folder)
    return inner[: len(outer)] == outer
