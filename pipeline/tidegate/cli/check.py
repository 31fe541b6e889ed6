"""`tidegate check PATH...`"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tidegate.cli.exit_codes import EXPLAINED, code_for
from tidegate.cli.options import config_option, format_option, no_file_where_a_folder_is_wanted

if TYPE_CHECKING:
    from tidegate.model.prop import Drop
    from tidegate.model.verdict import Verdict


@click.command(
    "check",
    epilog=f"""\b
Examples:
  tidegate check bollard.glb                   one mesh with the files it names
  tidegate check drops/bollard drops/crate     folders, each one drop
  tidegate check drops --set furniture         every drop in a folder, by one rule set
  tidegate check bollard --report out          and write the sidecar reports

{EXPLAINED}""",
)
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@click.option(
    "--set", "set_name", metavar="NAME", help="Judge by this rule set, a name or a file, whatever names and orders say."
)
@click.option("--gate", metavar="NAME", help="Judge on the terms of this gate of the configuration.")
@click.option("--report", "report_dir", metavar="DIR", help="Write report and pictures of every prop into this folder.")
@click.option("--unit", metavar="UNIT", help="Unit of files that state none: m, cm, mm, in, ft, or metres per unit.")
@click.option("--up-axis", type=click.Choice(["y", "z"]), help="Axis that points up in files that state none.")
@click.option("--concise", is_flag=True, help="One line a finding instead of full reports.")
@config_option
@format_option
def command(
    paths: tuple[str, ...],
    set_name: str | None,
    gate: str | None,
    report_dir: str | None,
    unit: str | None,
    up_axis: str | None,
    concise: bool,
    config: str | None,
    output: str,
) -> int:
    """Judge files, folders or drops; writes nothing unless told where."""
    from tidegate.cli.drops import drops_of
    from tidegate.cli.progress import Progress
    from tidegate.cli.terms import terms_for
    from tidegate.passage import examine

    if report_dir:
        no_file_where_a_folder_is_wanted(Path(report_dir), "nothing was judged")
    terms = terms_for(config, gate=gate, set_name=set_name, unit=unit, up_axis=up_axis, pictures=bool(report_dir))
    drops = drops_of(paths, terms.scheme)
    if output == "text":
        _tell_companions(paths, drops)
    verdicts: list[Verdict] = []
    records: list[dict[str, Any]] = []
    taken: set[str] = set()
    shut = False
    with Progress(len(drops), "checking") as progress:
        for drop in drops:
            progress.step(drop.name)
            examined = examine(drop, terms)
            progress.clear()
            shut = (not examined and _tell_shut(drop)) or shut
            for verdict in examined:
                record = _record(verdict)
                verdicts.append(verdict)
                records.append(record)
                if report_dir:
                    _write(_free_folder(Path(report_dir), drop.name, verdict.prop, taken), verdict, record)
                if output == "text":
                    click.echo(_text(record, concise), nl=False)
    if output == "json":
        click.echo(json.dumps({"schema": "tidegate-check/1", "props": records}, indent=1))
    elif verdicts:
        click.echo(_tally(verdicts))
    elif not shut:
        _tell_nothing(paths)
    return int(code_for([*(verdict.verdict for verdict in verdicts), *(["unjudged"] if shut else [])]))


def _tell_shut(drop: Drop) -> bool:
    """Says of a drop without any prop that it, or a folder in it, could not be listed."""
    from tidegate.cli.drops import shut
    from tidegate.model.printable import printable

    found = shut(drop)
    for file in found:
        click.echo(printable(f"tidegate: {file.location}: {file.note}"), err=True)
        click.echo("  done: what lies in it was not judged\n  help: ask its owner for permission", err=True)
    return bool(found)


def _tell_nothing(paths: tuple[str, ...]) -> None:
    from tidegate.model.printable import printable
    from tidegate.model.wording import one_of

    listed = [*(f"`{path}`" for path in paths[:4]), *([f"{len(paths) - 4} more"] if len(paths) > 4 else [])]
    click.echo(printable(f"tidegate: nothing to check: no mesh and no map in {one_of(listed, 'and')}"), err=True)
    click.echo("  help: name a mesh file, or the folder of a drop; links out of a drop are never followed", err=True)


def _tell_companions(paths: tuple[str, ...], drops: list[Drop]) -> None:
    """Says which files a mesh file named alone brought with it, since they are judged too."""
    from tidegate.model.printable import printable
    from tidegate.model.wording import one_of

    named = {os.path.abspath(path) for path in paths}  # noqa: PTH100 - `resolve` would follow links
    for drop in drops:
        brought = [file.path for file in drop.files if file.location not in named]
        if drop.is_folder or not brought:
            continue
        listed = brought[:4] if len(brought) > 5 else brought
        more = [f"{len(brought) - len(listed)} more"] if len(listed) < len(brought) else []
        click.echo(printable(f"tidegate: with {drop.name}: {one_of([*listed, *more], 'and')}"), err=True)


def _record(verdict: Verdict) -> dict[str, Any]:
    from tidegate.report.record import report_record

    return report_record(verdict)


def _text(record: dict[str, Any], concise: bool) -> str:
    from tidegate.cli.colors import colored
    from tidegate.cli.width import terminal_width
    from tidegate.report.text_report import WIDTH, concise_line, text_report, verdict_line

    if concise:
        lines = [concise_line(finding, record["prop"]) for finding in record["findings"]]
        return "\n".join([*lines, verdict_line(record)]) + "\n"
    return colored(text_report(record, min(terminal_width() or WIDTH, WIDTH))) + "\n"


def _tally(verdicts: list[Verdict]) -> str:
    from tidegate.model.wording import count

    parts = [
        f"{sum(v.verdict == word for v in verdicts)} {word}"
        for word in ("approved", "returned", "unjudged")
        if any(v.verdict == word for v in verdicts)
    ]
    return f"checked {count(len(verdicts), 'prop')}: {', '.join(parts)}"


def _free_folder(folder: Path, drop: str, prop: str, taken: set[str]) -> Path:
    """Where the reports of a prop go: the folder named, or one inside it when two props of this run share a name."""
    from tidegate.model.file_stem import file_stem

    inside, number = folder, 1
    while (key := f"{inside}/{file_stem(prop)}".casefold()) in taken:
        inside = folder / (file_stem(drop) if number == 1 else f"{file_stem(drop)}-{number}")
        number += 1
    taken.add(key)
    return inside


def _write(folder: Path, verdict: Verdict, record: dict[str, Any]) -> None:
    from tidegate.report.sidecars import sidecars

    folder.mkdir(parents=True, exist_ok=True)
    for name, data in sidecars(verdict, record):
        (folder / name).write_bytes(data)
