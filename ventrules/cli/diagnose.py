"""`ventrules diagnose`: which faults explain what still talks and what does not, and what to measure next."""

import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final, TypeVar

import attrs
import click

from ventrules.cli.options import FORMAT, OUTSIDE
from ventrules.cli.policy_options import project_options
from ventrules.cli.standard import FINDINGS, one_job, paper, refuse
from ventrules.files import Problem
from ventrules.job import Job, Shown
from ventrules.words import listed, nearest, shown

if TYPE_CHECKING:  # wanted by this command alone, and imported when it runs
    from ventrules.diagnosis import Diagnosis, Symptoms

_T = TypeVar("_T")

_KIND: Final = "diagnosis"
_OF_DEVICES: Final = ("reachable", "unreachable", "powered", "unpowered")
_OF_PORTS: Final = ("voltage", "no-voltage")
_SECOND: Final = re.compile(r" \(\d+\)$")


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
@click.option("--seen-only", is_flag=True, help="Leave aside what the job records; it may be of an earlier day.")
@FORMAT
@OUTSIDE
@project_options
def diagnose_command(path: str, seen: tuple[str, ...], form: str, *, seen_only: bool, catalogs_outside: bool) -> None:
    """Find the fewest faults that explain what works and what does not, and what to measure next.

    PATH is a job's file, or - for standard input. What the job records of indicators and voltages counts as seen,
    unless --seen says otherwise or --seen-only is given. Exit status: 0 nothing to explain, 1 something to explain,
    2 input or usage unusable.
    """
    name, job = one_job(path, _KIND, form, outside=catalogs_outside)
    if seen_only:
        job = attrs.evolve(job, indicators={}, voltages={})
    from ventrules.diagnosis import SymptomError, diagnose  # noqa: PLC0415

    try:
        found = diagnose(job, _symptoms(job, seen))
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


def _symptoms(job: Job, seen: Sequence[str]) -> "Symptoms":
    """Return what was seen, from the words of the command line.

    Names of a catalog may hold commas, colons and equals signs: what the job has is looked for before words are parted.

    Raises:
        _WordsError: Words that are not known, or the same thing seen in two ways.
    """
    from ventrules.diagnosis import Symptoms  # noqa: PLC0415

    parts = _Parts(job)
    for text in seen:
        what, equals, words = text.partition("=")
        if what.strip() not in job.devices:
            what, equals, words = text.rpartition("=")
        if not equals or not what.strip() or not words.strip():
            raise _WordsError(f"{shown(text)!r} says nothing; expected WHAT=WORDS, such as ventilator=unreachable")
        parts.add(what.strip(), words)
    return Symptoms(parts.powered, parts.reachable, parts.indicators, parts.voltages, parts.conductors)


class _Parts:
    def __init__(self, job: Job) -> None:
        self._job: Final = job
        self._cables: Final = {end for c in job.cables for end in (f"{c.start} to {c.end}", f"{c.end} to {c.start}")}
        self.powered: dict[str, bool] = {}
        self.reachable: dict[str, bool] = {}
        self.indicators: dict[str, dict[str, Shown]] = {}
        self.voltages: dict[str, bool] = {}
        self.conductors: dict[str, dict[str, str]] = {}

    def add(self, what: str, words: str) -> None:
        """Take words about one thing."""
        states = self._states(what)
        for word in _parted(words, states):
            if ":" in what and not self._is_port(what):
                cable, conductor = self._conductor(what)
                _put(self.conductors.setdefault(cable, {}), conductor, word, what)
            elif "." in what:
                _put(self.voltages, what, _known(word, _OF_PORTS) == "voltage", what)
            else:
                self._add_of_device(what, word, states)

    def _add_of_device(self, what: str, word: str, states: Mapping[str, tuple[str, str]]) -> None:
        if ":" in word:
            light, _colon, state = word.partition(":")
            light, state = states.get(word, (light.strip(), state.strip()))
            _put(self.indicators.setdefault(what, {}), light, Shown(state), what)
        else:
            found = _known(word, _OF_DEVICES, "INDICATOR:STATE")
            about = self.reachable if found.endswith("reachable") else self.powered
            _put(about, what, not found.startswith("un"), what)

    def _states(self, device: str) -> Mapping[str, tuple[str, str]]:
        """Return every INDICATOR:STATE of a device, with its two parts."""
        lights = self._job.model_of(device).indicators if device in self._job.devices else {}
        return {f"{light}:{each.state}": (light, each.state) for light, states in lights.items() for each in states}

    def _is_port(self, what: str) -> bool:
        device, _dot, port = what.partition(".")
        return device in self._job.devices and port in self._job.model_of(device).ports

    def _conductor(self, what: str) -> tuple[str, str]:
        """Return cable and conductor, parted at the first colon behind a cable of the job, else at the first."""
        places = [place for place, letter in enumerate(what) if letter == ":"]
        place = next((p for p in places if _SECOND.sub("", what[:p].strip()) in self._cables), places[0])
        return what[:place].strip(), what[place + 1 :].strip()


def _put(into: dict[str, _T], key: str, value: _T, what: str) -> None:
    if into.setdefault(key, value) != value:
        raise _WordsError(f"{shown(what)!r} is told in two ways; leave one of them out")


def _parted(words: str, whole: Mapping[str, object]) -> Iterator[str]:
    """Yield words between commas, and whole what is known with commas in it."""
    parts = words.split(",")
    while parts:
        size = next((n for n in range(len(parts), 1, -1) if ",".join(parts[:n]).strip() in whole), 1)
        yield ",".join(parts[:size]).strip()
        parts = parts[size:]


def _known(word: str, valid: Sequence[str], also: str = "") -> str:
    if word in valid:
        return word
    close = nearest(word, valid)
    hint = f"nearest is {close!r}" if close else f"expected {listed([*valid, also] if also else valid, 'or')}"
    raise _WordsError(f"unknown word {shown(word)!r}; {hint}")
