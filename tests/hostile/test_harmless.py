"""No text of a job, a catalog, a code file or a file's name does harm in anything that the package writes."""

import json
import re
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Final

import attrs
import click
import pytest

import ventrules
from tests.cli.running import FAULTY, SOUND, invoke
from tests.codes.county import county
from tests.codes.trees import text_of
from tests.fuzz.laws import written
from tests.hostile.texts import HARMFUL, JUDGES, csv_has_no_formulas, json_is_json, no_text_is_obeyed, page_is_text
from ventrules import Outcome, Problem, Report, check, read_job
from ventrules.cli import main
from ventrules.engine import Place, Position
from ventrules.engine.findings import Document
from ventrules.files import load_text
from ventrules.outputs import FORMATS

# The formats of a check, told of findings and problems that say harmful things everywhere


@cache
def _report() -> Report:
    return check(read_job(FAULTY / "credit-not-earned.yaml"))


def said_everywhere(text: str) -> tuple[Outcome, Outcome]:
    """Return what came of a job that says something everywhere, and of one that cannot be used."""
    position = Position(text, 3, 5)
    findings = tuple(
        attrs.evolve(
            finding,
            message=text,
            working=text,
            todo=text,
            place=Place(("devices", text), text),
            position=position,
            basis=attrs.evolve(finding.basis, title=text, clause=text, note=text),
            remedy=attrs.evolve(finding.remedy, title=text, assumes=text) if finding.remedy else None,
        )
        for finding in _report().findings
    )
    report = attrs.evolve(_report(), job=text, file=text, findings=findings)
    problems = (Problem(text, ("devices", text), position=position, file=text), Problem(text, file=text))
    return Outcome(text, report), Outcome(text, problems=problems)


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("text", HARMFUL, ids=lambda text: ascii(text)[:24])
def test_a_format_makes_harmless_what_is_said_everywhere(form: str, text: str) -> None:
    for outcome in said_everywhere(text):
        JUDGES[form](written(outcome, form, left_out=[text, "b"]))


@pytest.mark.parametrize(
    ("form", "alive"),
    [
        ("sarif", "[text](javascript:alert(1))"),
        ("junit", "<!-- -->"),
        ("annotations", "x\n::error::pwned"),
        ("markdown", "<script>alert(1)</script>"),
        ("markdown", "[text](javascript:alert(1))"),
        ("markdown", "@someone"),
        ("csv", "=1+1"),
    ],
)
def test_the_judges_see_what_they_are_for(form: str, alive: str) -> None:
    told, _unusable = said_everywhere("zzz zzz")
    as_written = json.dumps(alive)[1:-1] if form == "sarif" else alive
    with pytest.raises(AssertionError):
        JUDGES[form](written(told, form).replace("zzz zzz", as_written))


def test_every_format_is_judged() -> None:
    assert JUDGES.keys() == FORMATS.keys()


@pytest.mark.parametrize("form", FORMATS)
def test_harmless_text_is_told_and_terminals_are_thought_of_in_every_format(form: str) -> None:
    told, _unusable = said_everywhere("a plain word")
    assert "a plain word" in written(told, form)
    with pytest.raises(AssertionError):
        JUDGES[form](written(told, form).replace("a plain word", "\x1b[2J"))


# The commands, given files that say harmful things wherever a file may say anything

_MODELS: Final = ("demo-control", "demo-furnace", "demo-interface", "demo-erv-130")
_NOT_IN_FILE_NAMES: Final = str.maketrans(dict.fromkeys("/\x00", "_"))


def _word(number: int) -> str:
    """Return a harmful text, another for each number; short, so that names and files can bear it."""
    return HARMFUL[number % len(HARMFUL)][:40]


class _Words:
    """Gives each name of a catalog a harmful text at its end, always the same for the same name."""

    def __init__(self, start: int) -> None:
        self._start = start
        self._given: dict[str, str] = {}

    def __call__(self, name: str) -> str:
        return self._given.setdefault(name, name + _word(self._start + len(self._given)))


def _mapping(value: Document) -> dict[str, Document]:
    assert isinstance(value, dict)
    return value


def harmful_files(folder: Path, start: int) -> Path:
    """Write a job, its catalog and its code file with harmful texts and names; return the job's path."""
    words = _Words(start)
    models: dict[str, Document] = {}
    catalog = _mapping(load_text((Path(ventrules.__file__).parent / "catalogs" / "demo.yaml").read_text(), "<text>"))
    for name in _MODELS:
        model = dict(_mapping(_mapping(catalog["models"])[name]))
        ports: dict[str, Document] = {
            words(port): _terminals(_mapping(each), words) for port, each in _mapping(model["ports"]).items()
        }
        model["ports"] = ports
        if "stages" in model:
            model["stages"] = {words(stage): each for stage, each in _mapping(model["stages"]).items()}
        models[words(name)] = model
    catalog = {**catalog, "models": models, "catalog": _word(start + 1)}
    job = _harmful_job(words, start)
    named = "".join(_word(start + number) for number in range(3)).translate(_NOT_IN_FILE_NAMES)
    code = county("capacity")
    (folder / "own.json").write_text(json.dumps(catalog), encoding="utf-8")
    (folder / "own.toml").write_text(code, encoding="utf-8")
    path = folder / f"{named[:60]}.json"
    path.write_text(json.dumps(job), encoding="utf-8")
    return path


def _toml(text: str) -> str:
    """Return text as a basic string: TOML 1.0.0, string."""
    return '"' + "".join(char if char.isalnum() else f"\\u{ord(char):04x}" for char in text) + '"'


def _terminals(port: dict[str, Document], words: _Words) -> dict[str, Document]:
    done = {**port, "terminals": {words(name): role for name, role in _mapping(port.get("terminals", {})).items()}}
    if "fed_from" in done:
        done["fed_from"] = words(str(done["fed_from"]))
    return done


def _harmful_job(words: _Words, start: int) -> dict[str, Document]:
    system, bus, ventilator = words("system"), words("bus"), words("ventilator")
    conductors: Document = [
        {"from": words("data+"), "to": words("data-"), "color": _word(start + 3)},
        {"from": words("data-"), "to": words("data+"), "color": _word(start + 4)},
        {"from": words("common"), "to": words("common")},
    ]
    low = words("low")
    return {
        "ventrules": 1,
        "job": _word(start + 5),
        "notes": _word(start + 6),
        "catalogs": ["own.json"],
        "dwelling": {"floor_area": "2150 ft2", "bedrooms": 3},
        "target": {"code": "us-irc-2021"},
        "devices": {
            "control": {"model": words("demo-control")},
            "furnace": {"model": words("demo-furnace")},
            "module": {"model": words("demo-interface")},
            "ventilator": {"model": words("demo-erv-130")},
        },
        "cables": [
            {"from": f"control.{system}", "to": f"furnace.{system}", "gauge": "18 AWG", "length": "30 ft"},
            {"from": f"furnace.{system}", "to": f"module.{system}", "gauge": "18 AWG", "length": "6 ft"},
            {"from": f"module.{ventilator}", "to": f"ventilator.{bus}", "length": "6 ft", "conductors": conductors},
        ],
        "modes": {"day": "occupied", "out": "unoccupied"},
        "calendar": {"every-day": {"07:30": "day", "23:00": "out"}},
        "settings": {"ventilator": {"programs": {"day": {"heating": {low: "10 min"}, "cooling": {low: "55 min"}}}}},
        "readings": {"ventilator": {low: {"supply": "20 cfm", "exhaust": "71 cfm"}}},
    }


_COMMANDS: Final[Mapping[str, tuple[tuple[str, ...], Callable[[str], None]]]] = {
    **{f"check {form}": (("check", "--format", form), judge) for form, judge in JUDGES.items()},
    "repair": (("repair",), no_text_is_obeyed),
    "repair json": (("repair", "--purchases", "--format", "json"), json_is_json),
    "plan": (("plan",), no_text_is_obeyed),
    "plan json": (("plan", "--format", "json"), json_is_json),
    "plan edits": (("plan", "--format", "edits"), json_is_json),
    "diagnose": (("diagnose", "--seen", "ventilator=unreachable"), no_text_is_obeyed),
    "diagnose json": (("diagnose", "--seen", "ventilator=unreachable", "--format", "json"), json_is_json),
    "draw svg": (("draw", "--format", "svg"), no_text_is_obeyed),
    "draw mermaid": (("draw", "--format", "mermaid"), no_text_is_obeyed),
    "draw table": (("draw", "--format", "table"), no_text_is_obeyed),
    "draw csv": (("draw", "--format", "csv"), csv_has_no_formulas),
    "baseline": (("baseline", "--out", "OUT"), no_text_is_obeyed),
    "target": (("target",), no_text_is_obeyed),
    "target every": (("target", "--every-code"), no_text_is_obeyed),
    "target json": (("target", "--every-code", "--format", "json"), json_is_json),
}


@pytest.mark.parametrize("name", _COMMANDS)
@pytest.mark.parametrize("start", [0, 11, 22])
def test_a_command_makes_harmless_what_files_say(tmp_path: Path, name: str, start: int) -> None:
    path = harmful_files(tmp_path, start)
    args, judge = _COMMANDS[name]
    out = path.with_suffix(".out")
    result = invoke(*(out if arg == "OUT" else arg for arg in args), path)
    assert result.stdout
    judge(result.stdout)
    assert not result.stderr
    if out.exists():
        judge(out.read_text(encoding="utf-8"))


@pytest.mark.parametrize("text", HARMFUL, ids=lambda text: ascii(text)[:24])
def test_the_page_of_a_code_file_is_text(tmp_path: Path, text: str) -> None:
    path = tmp_path / "own.toml"
    said = _toml(text[:200])
    whole = re.sub(r"(?m)^(title|edition|jurisdiction) = .*$", lambda at: f"{at[1]} = {said}", county("capacity"))
    whole = re.sub(r"\b(title|clause|note) = \"[^\"]*\"", lambda at: f"{at[1]} = {said}", whole)
    path.write_text(whole.replace("kind =", f"note = {said}\nkind =", 1), encoding="utf-8")
    result = invoke("codes", path)
    assert result.exit_code == 0
    page_is_text(result.stdout)
    json_is_json(invoke("codes", path, "--format", "json").stdout)
    assert not result.stderr


def test_the_page_of_a_code_whose_example_tells_too_little_says_so(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(re.sub(r"(?m)^main_rooms = .*$", "", text_of("fr-1982")), encoding="utf-8")
    result = invoke("codes", path)
    assert result.exit_code == 1
    assert "cannot be told" in result.stdout
    assert "does not reproduce its own example 1" in result.stderr


def hostile_keys(text: str) -> dict[str, Document]:
    """Return a job with a harmful text in place of every kind of name, and as a key where none is known."""
    return {
        "ventrules": 1,
        "job": "x",
        text: 1,
        "catalogs": [text, f"{text}.yaml"],
        "dwelling": {"floor_area": text, "bedrooms": text, text: text},
        "target": {"code": text},
        "devices": {text: {"model": text}, "control": {"model": "demo-control", text: 1}},
        "cables": [{"from": text, "to": f"control.{text}", "conductors": {text: text}}],
        "modes": {text: text},
        "calendar": {text: {text: text}},
        "settings": {text: {"programs": {text: {text: {text: text}}}}},
        "readings": {text: {text: {text: text}}},
    }


_VERBS: Final = ("repair", "plan", "diagnose", "draw", "target")


@pytest.mark.parametrize("text", HARMFUL, ids=lambda text: ascii(text)[:24])
def test_what_is_said_of_a_file_that_cannot_be_used_is_harmless(tmp_path: Path, text: str) -> None:
    path = tmp_path / f"{text[:40].translate(_NOT_IN_FILE_NAMES)}.json"
    path.write_text(json.dumps(hostile_keys(text)), encoding="utf-8")
    for verb in ("check", _VERBS[HARMFUL.index(text) % len(_VERBS)]):
        result = invoke(verb, path)
        assert result.exit_code == 2
        no_text_is_obeyed(result.stdout + result.stderr)
        assert "1 file could not be used" in result.stdout or "Error: " in result.stderr


@pytest.mark.parametrize("text", HARMFUL, ids=lambda text: ascii(text)[:24])
def test_what_is_said_of_words_of_the_command_line_is_harmless(text: str) -> None:
    word = text[:40].replace("\x00", "")
    for args in (
        ("check", word),
        ("check", "--only", word, SOUND / "number-02.yaml"),
        ("check", "--output", f"{word}=x", SOUND / "number-02.yaml"),
        ("explain", word),
        ("codes", word),
        ("codes", f"{word}.toml"),
        ("plan", SOUND / "number-02.yaml", "--hold", word),
        ("diagnose", SOUND / "number-02.yaml", "--seen", word),
        ("diagnose", SOUND / "number-02.yaml", "--seen", f"{word}={word}"),
    ):
        result = invoke(*args)
        assert result.exit_code == 2, args
        no_text_is_obeyed(result.stdout + result.stderr)


# Nothing that writes is left out

_NOT_OF_JOBS: Final = frozenset({"codes", "explain", "rules", "schema"})


def test_every_command_that_reads_jobs_is_judged_in_every_format() -> None:
    context = click.Context(main)
    asked = set()
    for name in set(main.list_commands(context)) - _NOT_OF_JOBS:
        command = main.get_command(context, name)
        assert command is not None
        choices = [option.type for option in command.params if option.name == "form"]
        forms = [form for choice in choices if isinstance(choice, click.Choice) for form in choice.choices]
        asked |= {(name, form) for form in forms or ["text"]}
    judged = {
        (args[0], args[args.index("--format") + 1] if "--format" in args else "text")
        for args, _judge in _COMMANDS.values()
    }
    assert judged == asked
