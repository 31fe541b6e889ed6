"""A reference that fits a file only when upper and lower case are ignored."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for mesh in facts.prop.meshes:
        for reference in mesh.references:
            if reference.status == "wrong-case":
                yield Finding(
                    check="wrong-case-reference",
                    level="",
                    message=f"{mesh.path} names `{reference.text}`, but the file is called `{reference.path}`",
                    place=Place(file=mesh.path, map=reference.path),
                    measured=reference.text,
                    wanted=reference.path,
                    help="use the same upper and lower case in both: many systems treat them as two names",
                )


CHECK = Check(
    name="wrong-case-reference",
    group="files and names",
    stage=20,
    needs=frozenset({"files", "meshes"}),
    looks_at="whether references and file names agree in upper and lower case",
    why="a name that differs only in case is found on some systems and missing on others",
    put_right="rename the file or export again, so that both spell it the same way",
    blind_spots="nothing known",
    run=run,
)
