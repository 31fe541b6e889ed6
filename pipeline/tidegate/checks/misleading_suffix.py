"""A picture whose file name promises another format than its content has."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    prop = facts.prop
    pictures = [(m.path, m.header) for m in prop.maps if m.blob is None] + [(m.path, m.header) for m in prop.masters]
    for path, header in pictures:
        if header.format and header.suffix_format and header.format != header.suffix_format:
            yield Finding(
                check="misleading-suffix",
                level="",
                message=f"{path} is a {header.format} file under the name of a {header.suffix_format} file",
                place=Place(map=path),
                measured=header.format,
                wanted=header.suffix_format,
                help=f"save it as {header.suffix_format}, or give it the suffix of {header.format}",
            )


CHECK = Check(
    name="misleading-suffix",
    group="maps and masters",
    stage=70,
    needs=frozenset({"files", "headers"}),
    looks_at="whether the content of each picture is the format that its suffix promises",
    why="some readers trust the suffix and fail, others look inside and hide the mistake until later",
    put_right="save again in the format of the suffix, or rename",
    blind_spots="formats without a signature (TGA) are known by their suffix and the sanity of their header only",
    level="warning",
    run=run,
)
