"""`tidegate watch`"""

from __future__ import annotations

import json
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO, cast

import click

from tidegate.cli.exit_codes import EXPLAINED, ExitCode, code_for
from tidegate.cli.options import config_option, format_option
from tidegate.errors import AskedWrongly, TidegateError

if TYPE_CHECKING:
    from tidegate.daemon.log import Log
    from tidegate.daemon.loop import Drained
    from tidegate.daemon.setup import Everything


@click.command(
    "watch",
    epilog=f"""\b
Examples:
  tidegate watch                     all gates of tidegate.toml, until told to stop
  tidegate watch --once              drain the inboxes, print what became of each prop, end
  tidegate watch --gate quayside     one gate alone
  tidegate watch --once --dry-run    say what would be taken in, and move nothing

{EXPLAINED}""",
)
@click.option("--once", is_flag=True, help="Drain the inboxes and end.")
@click.option("--gate", "gates", multiple=True, metavar="NAME", help="Only this gate; may be given again.")
@click.option("--dry-run", is_flag=True, help="Show what would be taken in and how it would be judged; move nothing.")
@click.option(
    "--log",
    "log_form",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="Form of log lines.",
)
@click.option(
    "--log-level", type=click.Choice(["debug", "info", "warning", "error"]), help="Lowest level that is logged."
)
@config_option
@format_option
def command(
    once: bool,
    gates: tuple[str, ...],
    dry_run: bool,
    log_form: str,
    log_level: str | None,
    config: str | None,
    output: str,
) -> int:
    """Take in what arrives in the inboxes and hand it over."""
    from tidegate.cli.gates import chosen_gates, configuration_file, everything
    from tidegate.daemon.log import Log
    from tidegate.load.configuration import read_configuration

    # What --once tells in words is told by lines of the log where a program reads them.
    log = Log(log_form, log_level or ("warning" if once and log_form == "text" else "info"))
    log.hear_warnings()
    try:
        path = configuration_file(config)
        configuration = read_configuration(path)
        chosen = chosen_gates(configuration, gates, path)
        if dry_run:
            from tidegate.cli.dry_run import show

            return show(configuration, chosen, output)
        return _work(path, everything(configuration, chosen), gates, once, log, output)
    except TidegateError as error:
        if log_form == "text":
            raise
        log.fault("error", "tidegate ends", error)
        return int(ExitCode.ASKED_WRONGLY if isinstance(error, AskedWrongly) else ExitCode.NOT_JUDGED)


def _work(
    path: str,
    all_of_it: Everything,
    gates: tuple[str, ...],
    once: bool,
    log: Log,
    output: str,
) -> int:
    import time

    from tidegate.cli.at_work import AtWork
    from tidegate.daemon.loop import Loop
    from tidegate.daemon.workers import Workers

    setups = all_of_it.gates
    loop = Loop(
        setups,
        Workers(all_of_it.workers, time.monotonic, log),
        rules=all_of_it.rules,
        log=log,
        reload=_reloader(path, gates),
    )
    if not once:
        if sys.stderr.isatty():
            names = ", ".join(f"{gate.paths.name} ({gate.paths.inbox})" for gate in setups)
            click.echo(f"tidegate: watching {names}; Ctrl-C ends it", err=True)
        loop.run()
        # A service manager stops with SIGTERM and takes 0 for well done; a person at the keyboard gets the usual 130.
        return int(ExitCode.STOPPED if loop.stopped_by == signal.SIGINT else ExitCode.ALL_APPROVED)
    # What settles by time alone within a minute is waited for; a copy that stalls for an hour is not.
    patience = max(max(rule.quiet + rule.wait, min(rule.stalled, 60.0)) for rule in (setup.rules for setup in setups))
    with AtWork(sys.stderr, loop.counts, log if log.tells("info") else None) as at_work:
        loop.told = at_work.told
        log.out = log.out or cast("TextIO", at_work)
        drained = loop.run_once(patience)
    log.out = None
    _tell(drained, output)
    if (drained.held_up or drained.waiting) and not drained.delivered:
        return int(ExitCode.NOT_JUDGED)
    return int(code_for(one.record.verdict for one in drained.delivered if one.record.verdict != "kept"))


def _reloader(path: str, gates: tuple[str, ...]) -> Any:
    from tidegate.cli.gates import chosen_gates, everything
    from tidegate.load.configuration import read_configuration
    from tidegate.load.last_good import LastGood

    def read() -> tuple[Everything, list[str]]:
        configuration = read_configuration(path)
        chosen = chosen_gates(configuration, gates, path)
        found = everything(configuration, chosen)
        files = [path, *(str(folder) for folder in configuration.studio.rule_folders)]
        if configuration.studio.names is not None:
            files.append(str(configuration.studio.names))
        for gate in chosen:
            if gate.order_list is not None:
                files.append(str(gate.order_list))
        for setup in found.gates:
            # Examine is any callable to the gate; the ones made here are TakeThrough, which carries its terms.
            files.extend(file for one in setup.examine.terms.rule_sets.values() for file in one.files)  # type: ignore[attr-defined]
        return found, sorted(set(files))

    state = LastGood(read, lambda value: value[1])

    def reload() -> Everything | None:
        if not state.refresh():
            return None
        if state.fault is not None:
            raise state.fault
        return state.value[0]

    return reload


def _tell(drained: Drained, output: str) -> None:
    from tidegate.model.printable import printable

    rows: list[dict[str, Any]] = [
        {
            "prop": one.record.prop,
            "verdict": one.record.verdict,
            "version": one.version or None,
            "unchanged": one.same,
            "at": str(one.at),
            "reason": one.record.reason,
        }
        for one in sorted(drained.delivered, key=lambda one: (one.record.prop, str(one.at)))
    ]
    waiting = [{"drop": one.drop.name, "reason": one.reason} for one in drained.waiting]
    held_up = [{"gate": gate, "what": what, "why": why} for gate, what, why in drained.held_up]
    if output == "json":
        click.echo(
            json.dumps({"schema": "tidegate-watch/1", "props": rows, "waiting": waiting, "held_up": held_up}, indent=1)
        )
        return
    for drop in waiting:
        click.echo(printable(f"waits: {drop['drop']}: {drop['reason']}"), err=True)
    for one in held_up:
        click.echo(printable(f"held up: {one['gate']}: {one['what']}: {one['why']}"), err=True)
    if not rows:
        click.echo("tidegate: nothing to take in", err=True)
        return
    props = [row for row in rows if row["verdict"] != "kept"]
    width = max((len(printable(row["prop"])) for row in props), default=0) + 2
    for row in props:
        name, at = printable(row["prop"]), printable(_from_here(row["at"]))
        version = " (unchanged)" if row["unchanged"] else ""
        click.echo(f"{name:<{width}}{row['verdict']:<10}{at}{version}")
        if row["verdict"] != "approved":
            reason = row["reason"].removeprefix(f"{row['prop']} {row['verdict']} ")  # both stand in the line above
            click.echo(f"{'':<{width}}{printable(reason)}")
    counts = {word: sum(row["verdict"] == word for row in props) for word in ("approved", "returned", "unjudged")}
    click.echo(", ".join(f"{number} {word}" for word, number in counts.items() if number))
    click.echo("the report <prop>.tidegate.txt lies in each of these folders")
    for row in rows:
        if row["verdict"] == "kept":
            click.echo(printable(f"kept: {_from_here(row['at'])}: {row['reason']}"))


def _from_here(path: str) -> str:
    """A short table: places below the current folder as seen from there, others whole. Everywhere else paths are whole."""
    here = Path.cwd()
    return str(Path(path).relative_to(here)) if here != here.parent and Path(path).is_relative_to(here) else path
