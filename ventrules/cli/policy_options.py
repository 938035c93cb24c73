"""Options about the project's policy. What they are given is kept for `in_force`; it is no argument of commands."""

from collections.abc import Callable
from datetime import date
from typing import Final, TypeVar

import click

from ventrules.files.leaves import day as read_day
from ventrules.policy import Threshold

F = TypeVar("F", bound=Callable[..., object])
_META: Final = "ventrules."


def _keep(ctx: click.Context, param: click.Parameter, value: object) -> object:
    """Keep what an option was given for `in_force`, so that commands need not hand it on."""
    if value == "":
        raise click.BadParameter("expected a file; found an empty name", ctx, param)
    ctx.meta[f"{_META}{param.name}"] = value
    return value


def kept(name: str) -> object:
    """Return what one of these options was given, for the command that runs."""
    return click.get_current_context().meta.get(f"{_META}{name}")


def _day(ctx: click.Context, param: click.Parameter, value: str | None) -> date | None:
    try:
        day = read_day(value, date) if value is not None else None
    except ValueError as error:
        raise click.BadParameter(f"expected a date such as 2027-06-30; found {value!r}") from error
    _keep(ctx, param, day)
    return day


def day_given() -> date | None:
    """Return the day that `--on` names, or None."""
    day = kept("on")
    return day if isinstance(day, date) else None


POLICY: Final = click.option(
    "--policy",
    "policy_file",
    metavar="FILE",
    expose_value=False,
    callback=_keep,
    help="Use this policy file.  [default: .ventrules.toml or pyproject.toml in the working folder or above it]",
)
NO_POLICY: Final = click.option(
    "--no-policy", is_flag=True, expose_value=False, callback=_keep, help="Use no policy file, even if there is one."
)
ON: Final = click.option(
    "--on",
    metavar="DATE",
    expose_value=False,
    callback=_day,
    help="The day for which the end dates of acceptances are judged.  [default: today]",
)
BASELINE: Final = click.option(
    "--baseline",
    metavar="FILE",
    expose_value=False,
    callback=_keep,
    help="Let stand what is in this baseline, which `ventrules baseline` writes.",
)
EXPLAIN: Final = click.option(
    "--explain-policy",
    is_flag=True,
    expose_value=False,
    callback=_keep,
    help="Show each setting, its value and where it came from, and check nothing.",
)
ONLY_JOBS: Final = click.option(
    "--only-jobs",
    is_flag=True,
    expose_value=False,
    callback=_keep,
    help="Pass over files named that are no jobs, and those that the policy leaves out.",
)


FAIL_AT: Final = click.option(
    "--fail-at",
    type=click.Choice([threshold.value for threshold in Threshold], case_sensitive=False),
    default=Threshold.ERROR.value,
    show_default=True,
    help="Least severity that makes the exit status 1.",
)
FAIL_UNCHECKED: Final = click.option(
    "--fail-unchecked/--no-fail-unchecked",
    default=False,
    help="A check that could not be made makes the exit status 1, too.",
)
WORKERS: Final = click.option(
    "--workers",
    type=click.IntRange(min=1),
    metavar="N",
    help="Processes to judge with, once that is worth their start.  [default: the processors that may be used]",
)


def project_options(command: F) -> F:
    """Add the options that say which policy is used."""
    return POLICY(NO_POLICY(command))


def policy_options(command: F) -> F:
    """Add every option about policy."""
    return project_options(BASELINE(ON(ONLY_JOBS(EXPLAIN(command)))))
