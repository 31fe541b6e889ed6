"""A file name that some system in the pipeline cannot hold."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.portable_names import collisions, name_faults


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    # Files that belong to no prop are handed over beside it all the same.
    paths = sorted({*(file.path for file in facts.prop.files if not file.library), *facts.prop.stray})
    for path in paths:
        for part in path.split("/"):
            for _, sentence in name_faults(part):
                yield Finding(
                    check="unportable-name",
                    level="",
                    message=f"`{part}`: {sentence}",
                    place=Place(file=path),
                    measured=part,
                    help="use letters, digits, dot, underscore and hyphen, and do not begin with a hyphen",
                )
    for group in collisions(paths):
        yield Finding(
            check="unportable-name",
            level="",
            message=f"`{group[0]}` and `{group[1]}` are one name where upper and lower case or accents are not told apart",
            place=Place(file=group[0]),
            measured=group[1],
            help="rename one of them",
        )


CHECK = Check(
    name="unportable-name",
    group="files and names",
    stage=26,
    needs=frozenset({"files"}),
    looks_at="file and folder names: characters, length, reserved words, and names that differ in case or accents only",
    why="POSIX and Windows forbid different names; a file that cannot be copied is a file lost on the way",
    put_right="rename with letters, digits, dot, underscore and hyphen",
    blind_spots="limits of a particular server's file system",
    run=run,
)
