"""What the command-line library found wrong with the words of a command, told in our own form and words."""

from __future__ import annotations

import re
from collections.abc import Sequence

import click

from tidegate.errors import AskedWrongly
from tidegate.model.nearest import nearest
from tidegate.model.wording import one_of

DONE = "nothing was begun"


def wrong_usage(problem: click.UsageError, command: click.Command, name: str) -> AskedWrongly:
    """The same fault as ours. command, name: that was asked for; the group and "" when there was none."""
    said = f"`{name}`" if name else "tidegate"
    helps = f"`tidegate {name} --help`" if name else "`tidegate --help`"
    shows = f"{helps} shows what there is, with examples"
    if isinstance(problem, click.NoSuchOption):
        like = nearest(problem.option_name, _options(command))
        return AskedWrongly(
            f"{said} has no option `{problem.option_name}`",
            done=DONE,
            help=f"did you mean `{like}`? {shows}" if like else shows,
        )
    if isinstance(problem, click.MissingParameter):
        return AskedWrongly(f"{said} needs {_shown(problem.param)}", came="none", done=DONE, help=shows)
    if isinstance(problem, click.BadOptionUsage):
        return _bad_option(problem.option_name, command, shows)
    if isinstance(problem, click.BadParameter):
        return _bad_value(problem, shows)
    message = problem.format_message().rstrip(".")
    if further := re.search(r"unexpected extra arguments? \((.*)\)", message):
        takes = one_of([_shown(one) for one in command.params if isinstance(one, click.Argument)], "and")
        return AskedWrongly(
            f"{said} does not know what to do with `{further[1]}`",
            expected=takes or "options only",
            done=DONE,
            help=f"put a name with spaces into quotes; {shows}",
        )
    return AskedWrongly(message[:1].lower() + message[1:], done=DONE, help=shows)


def _bad_option(option: str, command: click.Command, shows: str) -> AskedWrongly:
    parameter = next((one for one in command.params if option in (*one.opts, *one.secondary_opts)), None)
    if isinstance(parameter, click.Option) and parameter.is_flag:
        return AskedWrongly(
            f"`{option}` is a switch and takes no value", expected=f"`{option}` alone", done=DONE, help=shows
        )
    return AskedWrongly(
        f"`{option}` is given no value",
        expected=_expected(parameter) or f"{option} {_metavar(parameter)}",
        came="nothing behind it",
        done=DONE,
        help=shows,
    )


def _bad_value(problem: click.BadParameter, shows: str) -> AskedWrongly:
    parameter, message = problem.param, problem.message.rstrip(".")
    option = _shown(parameter)
    typed = re.match(r"'?(.*?)'? is not ", message)
    expected = _expected(parameter)
    if not expected or not typed:
        return AskedWrongly(f"{option}: {message}", done=DONE, help=shows)
    like = nearest(typed[1], _choices(parameter))
    return AskedWrongly(
        f"{option} does not take `{typed[1]}`",
        expected=expected,
        came=typed[1],
        done=DONE,
        help=f"did you mean `{like}`?" if like else shows,
    )


def _expected(parameter: click.Parameter | None) -> str:
    """What the type of a parameter takes, "" when anything goes."""
    kind = parameter.type if parameter is not None else None
    if isinstance(kind, click.Choice):
        return one_of(_choices(parameter))
    if isinstance(kind, click.IntRange | click.FloatRange):
        number = "a whole number" if isinstance(kind, click.IntRange) else "a number"
        if kind.max is None:
            return f"{number} of at least {kind.min}"
        return f"{number} from {kind.min} to {kind.max}"
    return ""


def _choices(parameter: click.Parameter | None) -> Sequence[str]:
    kind = parameter.type if parameter is not None else None
    return [str(one) for one in kind.choices] if isinstance(kind, click.Choice) else []


def _shown(parameter: click.Parameter | None) -> str:
    """`--size` of an option, a PATH of an argument."""
    if isinstance(parameter, click.Argument):
        metavar = _metavar(parameter)
        return f"one {metavar.removesuffix('...')} or more" if metavar.endswith("...") else f"one {metavar}"
    return f"`{max(parameter.opts, key=len)}`" if parameter is not None else "a value"


def _metavar(parameter: click.Parameter | None) -> str:
    if parameter is None:
        return "VALUE"
    return (parameter.metavar or (parameter.name or "value").upper()).strip("[]")


def _options(command: click.Command) -> list[str]:
    return [*(word for one in command.params for word in one.opts if word.startswith("--")), "--help"]
