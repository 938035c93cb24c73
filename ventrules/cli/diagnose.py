"""`ventrules diagnose`: which faults explain what still talks and what does not, and what to measure next."""

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, TypeVar

import click

from ventrules.cli.options import FORMAT, OUTSIDE
from ventrules.cli.standard import FINDINGS, one_job, paper, refuse
from ventrules.files import Problem
from ventrules.job import Shown
from ventrules.words import listed, nearest, shown

if TYPE_CHECKING:  # wanted by this command alone, and imported when it runs
    from ventrules.diagnosis import Diagnosis, Symptoms

_T = TypeVar("_T")

_KIND: Final = "diagnosis"
_OF_DEVICES: Final = ("reachable", "unreachable", "powered", "unpowered")
_OF_PORTS: Final = ("voltage", "no-voltage")


@click.command("diagnose")
@click.argument("path", metavar="PATH")
@click.option(
    "--seen",
    "seen",
    multiple=True,
    metavar="WHAT=WORDS",
    help=(
        "Something seen or measured; repeatable. DEVICE=reachable, unreachable, powered, unpowered or INDICATOR:STATE, "
        "several with commas between; DEVICE.PORT=voltage or no-voltage, between supply and common; "
        '"DEVICE.PORT to DEVICE.PORT:CONDUCTOR=through", open, shorted or crossed, with the power off.'
    ),
)
@FORMAT
@OUTSIDE
def diagnose_command(path: str, seen: tuple[str, ...], form: str, *, catalogs_outside: bool) -> None:
    """Find the fewest faults that explain what works and what does not, and what to measure next.

    PATH is a job's file, or - for standard input. What the job records of indicators and voltages counts as seen,
    unless --seen says otherwise. Exit status: 0 nothing to explain, 1 something to explain, 2 input or usage unusable.
    """
    name, job = one_job(path, _KIND, form, outside=catalogs_outside)
    from ventrules.diagnosis import SymptomError, diagnose  # noqa: PLC0415

    try:
        found = diagnose(job, _symptoms(seen))
    except (SymptomError, _WordsError) as error:
        refuse(_KIND, form, name, [Problem(f"--seen: {error}", file=name)])
    if not found.seen:
        said = "nothing was seen, so nothing can be told; say what was, such as --seen DEVICE=unreachable"
        refuse(_KIND, form, name, [Problem(said, file=name)])
    sys.exit(_show(name, found, form))


def _show(name: str, found: "Diagnosis", form: str) -> int:
    if form == "json":
        from ventrules.outputs.diagnosis_json import diagnosis_json  # noqa: PLC0415

        click.echo(diagnosis_json(name, found), nl=False)
    else:
        from ventrules.outputs.diagnosis_text import diagnosis_text  # noqa: PLC0415

        diagnosis_text(paper(), name, found)
    return 0 if found.nothing_to_explain else FINDINGS


class _WordsError(ValueError):
    """Words of the command line that are not known, or that tell the same thing in two ways."""


def _symptoms(seen: Sequence[str]) -> "Symptoms":
    """Return what was seen, from the words of the command line.

    Raises:
        _WordsError: Words that are not known, or the same thing seen in two ways.
    """
    from ventrules.diagnosis import Symptoms  # noqa: PLC0415

    parts = _Parts()
    for text in seen:
        what, equals, words = text.rpartition("=")
        if not equals or not what.strip() or not words.strip():
            raise _WordsError(f"{shown(text)!r} says nothing; expected WHAT=WORDS, such as ventilator=unreachable")
        for word in words.split(","):
            parts.add(what.strip(), word.strip())
    return Symptoms(parts.powered, parts.reachable, parts.indicators, parts.voltages, parts.conductors)


class _Parts:
    def __init__(self) -> None:
        self.powered: dict[str, bool] = {}
        self.reachable: dict[str, bool] = {}
        self.indicators: dict[str, dict[str, Shown]] = {}
        self.voltages: dict[str, bool] = {}
        self.conductors: dict[str, dict[str, str]] = {}

    def add(self, what: str, word: str) -> None:
        """Take one word about one thing."""
        if ":" in what:
            cable, _colon, conductor = what.partition(":")
            _put(self.conductors.setdefault(cable.strip(), {}), conductor.strip(), word, what)
        elif "." in what:
            _put(self.voltages, what, _known(word, _OF_PORTS) == "voltage", what)
        elif ":" in word:
            light, _colon, state = word.partition(":")
            _put(self.indicators.setdefault(what, {}), light.strip(), Shown(state.strip()), what)
        else:
            found = _known(word, _OF_DEVICES, "INDICATOR:STATE")
            about = self.reachable if found.endswith("reachable") else self.powered
            _put(about, what, not found.startswith("un"), what)


def _put(into: dict[str, _T], key: str, value: _T, what: str) -> None:
    if into.setdefault(key, value) != value:
        raise _WordsError(f"{shown(what)!r} is told in two ways; leave one of them out")


def _known(word: str, valid: Sequence[str], also: str = "") -> str:
    if word in valid:
        return word
    close = nearest(word, valid)
    hint = f"nearest is {close!r}" if close else f"expected {listed([*valid, also] if also else valid, 'or')}"
    raise _WordsError(f"unknown word {shown(word)!r}; {hint}")
