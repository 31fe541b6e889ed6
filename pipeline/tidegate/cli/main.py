"""The command group. Commands are imported when they run, so `tidegate --help` stays quick."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from importlib import import_module
from typing import Any

import click

from tidegate.cli.exit_codes import EXPLAINED, ExitCode
from tidegate.errors import AskedWrongly, TidegateError
from tidegate.model.nearest import did_you_mean

# name -> one line for the list of commands; a test holds each equal to the command's own help.
COMMANDS: dict[str, str] = {
    "check": "Judge files, folders or drops; writes nothing unless told where.",
    "watch": "Take in what arrives in the inboxes and hand it over.",
    "new": "Make a folder with a commented configuration and a rule set to edit.",
    "why": "Explain a check: what it looks at, why it matters, how to put it right.",
    "rules": "List rule sets, show one with its effective limits, prove a file valid.",
    "status": "Show what waits, what is in hand and what went aside.",
    "sheet": "Draw the guide sheets of a mesh, to paint over.",
    "history": "Show what happened to a prop, from the ledger.",
    "recover": "Show and mend what a crash left behind.",
}


class Commands(click.Group):
    """A group whose commands live one a file in this folder."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"tidegate.cli.{cmd_name}").command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS:
            raise AskedWrongly(f"there is no command `{args[0]}`", help=did_you_mean(args[0], list(COMMANDS)))
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog=EXPLAINED,
    invoke_without_command=True,
)
@click.option("--version", is_flag=True, help="Print the version and end.")
@click.pass_context
def group(ctx: click.Context, version: bool) -> None:
    """Measure finished 3D props, judge them by rule sets, and move approved ones into a delivery tree.

    \b
    Examples:
      tidegate new harbour                 make a project to start from
      tidegate check bollard/              judge one drop, change nothing
      tidegate watch --once                drain the inboxes and end
      tidegate why tilted-islands          what this check looks at
    """
    if version:
        from importlib.metadata import version as of

        click.echo(f"tidegate {of('tidegate')}")
    elif ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


def run(args: list[str] | None = None) -> None:
    """Run a command and end the process. No bare traceback ever reaches a user."""
    sys.exit(exit_code(args))


def exit_code(args: list[str] | None = None) -> int:
    """Run a command; its exit code. Findings go to stdout, everything else to stderr."""
    try:
        result = _result(args)
        return int(result) if isinstance(result, int) else int(ExitCode.ALL_APPROVED)
    except click.UsageError as problem:
        from tidegate.cli.wrong_usage import wrong_usage

        _say(str(wrong_usage(problem, *_asked(args))))
    except click.ClickException as problem:
        _say(problem.format_message())
    except (click.Abort, KeyboardInterrupt):
        _say("stopped")
        return int(ExitCode.STOPPED)
    except click.exceptions.Exit as ended:
        return ended.exit_code
    except AskedWrongly as problem:
        _say(str(problem))
    except TidegateError as problem:
        _say(str(problem))
        return int(ExitCode.NOT_JUDGED)
    except BrokenPipeError:
        # The reader of our output went away, as `head` does. Nobody's fault, but what was not told was not approved.
        _silence()
        return int(ExitCode.READER_GONE)
    except OSError as problem:
        from tidegate.cli.disk_words import refused

        _say(str(refused(problem)))
    except Exception as problem:  # noqa: BLE001 - the last net under every command
        _say(
            f"tidegate itself failed: {type(problem).__name__}: {problem}\n"
            "  done: nothing was moved beyond what the gate's folders show\n"
            "  help: run `tidegate recover --dry-run` if a gate was at work, and report this with the command you gave"
        )
        return int(ExitCode.NOT_JUDGED)
    return int(ExitCode.ASKED_WRONGLY)


def _result(args: list[str] | None) -> Any:
    """What the command returns. Entered by hand, since click's own `main` ends the process with 1 on a broken pipe."""
    arguments = list(sys.argv[1:] if args is None else args)
    _no_empty_word(arguments)
    with group.make_context("tidegate", arguments) as context:
        result = group.invoke(context)
    sys.stdout.flush()  # here, so that a reader that went away is met where it can be told
    return result


def _no_empty_word(arguments: list[str]) -> None:
    """An empty word is most often a variable of a script that was never set, and would be taken for an option not given."""
    for number, word in enumerate(arguments):
        if word and not (word.startswith("--") and word.endswith("=")):
            continue
        before = word.rstrip("=") or (arguments[number - 1] if number else "tidegate")
        raise AskedWrongly(
            f"an empty word stands behind `{before}`",
            expected="a name or a path",
            came="nothing between the quotes",
            done="nothing was begun",
            help="a variable of a script may not be set; `.` is the folder you stand in",
        )


def _silence() -> None:
    """Output that nobody reads goes nowhere, or Python would complain about it on its way out."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _say(text: str) -> None:
    from tidegate.model.printable import printable_lines

    click.echo(printable_lines(f"tidegate: {text}"), err=True)


def _asked(args: list[str] | None) -> tuple[click.Command, str]:
    """The command that was asked for, and its name; the group and "" when it was none."""
    arguments = sys.argv[1:] if args is None else args
    name = next((word for word in arguments if not word.startswith("-")), "")
    if name not in COMMANDS:
        return group, ""
    return import_module(f"tidegate.cli.{name}").command, name
