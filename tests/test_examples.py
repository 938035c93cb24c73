"""The examples: sound jobs stay silent, each faulty one gives the finding it is named for, broken ones say where."""

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Final, NamedTuple

import pytest

from ventrules import Finding, JobFileError, Report, Survey, applied, check, read_job
from ventrules.checking import installed_rules, new_errors
from ventrules.files import apply_edits, find_jobs, job_document, read_catalog
from ventrules.testing import merged
from ventrules.units import Airflow

EXAMPLES: Final = Path(__file__).parents[1] / "examples"
NOBODY: Final[Mapping[str, str]] = MappingProxyType({})


class Expected(NamedTuple):
    """What one faulty example gives.

    `company` names the other rules that speak up, each with the reason why that cannot be avoided.
    """

    rule: str
    pointer: str
    company: Mapping[str, str] = NOBODY
    unchecked: bool = False


NO_WAY: Final = "what is not joined to the right port has no way to the controller"
PROGRAMS: Final = "/settings/ventilator/programs"

FAULTY: Final[Mapping[str, Expected]] = {
    "buses-joined.yaml": Expected("wiring/buses-joined", "/cables/3"),
    "cable-on-the-wrong-port.yaml": Expected(
        "wiring/wrong-port-kind", "/cables/2", {"wiring/no-path-to-controller": NO_WAY}
    ),
    "cable-run-twice.yaml": Expected("wiring/ring", "/cables"),
    "calendar-gap.yaml": Expected("settings/calendar-gap", "/calendar"),
    "cellar-ventilator-on-its-own.yaml": Expected("settings/run-outside-controller", "/devices/cellar"),
    "controller-decides.yaml": Expected(
        "settings/managed-program",
        f"{PROGRAMS}/day/cooling",
        {"airflow/window-below-target": "what the controller decides by itself keeps the windows from being judged"},
    ),
    "controller-off-the-bus.yaml": Expected(
        "equipment/no-controller",
        "/devices",
        {
            "wiring/device-without-cable": "the controller's only cable is the one that is missing",
            "wiring/no-path-to-controller": NO_WAY,
        },
    ),
    "credit-not-earned.yaml": Expected(
        "airflow/credit-not-earned",
        "/target/credits",
        {
            "airflow/unbalanced": "the imbalance is what loses the credit",
            "airflow/below-target": "the programs were made for the rate with the credit",
        },
    ),
    "credit-not-in-this-edition.yaml": Expected("airflow/credit-not-earned", "/target/credits"),
    "nobody-ever-at-home.yaml": Expected("airflow/target-held-nowhere", "/modes"),
    "route-not-in-this-edition.yaml": Expected("airflow/route-not-offered", "/target/route"),
    "design-temperatures-unknown.yaml": Expected(
        "settings/outdoor-limits-in-ordinary-weather", "/settings/ventilator/outdoor_limits", unchecked=True
    ),
    "entry-level-ventilator.yaml": Expected("equipment/no-bus-port", "/devices/ventilator"),
    "far-more-air-than-asked.yaml": Expected("airflow/above-target", f"{PROGRAMS}/day/cooling"),
    "filter-reminder-forgotten.yaml": Expected("upkeep/no-filter-reminder", "/settings/ventilator"),
    "filter-reminder-too-long.yaml": Expected(
        "upkeep/filter-interval-out-of-range", "/settings/ventilator/filter_reminder"
    ),
    "foreign-dialect.yaml": Expected("equipment/dialect-mismatch", "/devices/ventilator"),
    "half-hour-cycle.yaml": Expected("settings/cycle-not-offered", "/settings/ventilator/cycle"),
    "heat-pump-without-cable.yaml": Expected("wiring/device-without-cable", "/devices/heat pump"),
    "interface-module-missing.yaml": Expected(
        "wiring/no-path-to-controller",
        "/devices/ventilator",
        {"wiring/device-without-cable": "without the module the ventilator's cable has nowhere to go"},
    ),
    "limits-beyond-the-unit.yaml": Expected(
        "settings/outdoor-limits-beyond-unit", "/settings/ventilator/outdoor_limits"
    ),
    "limits-inverted.yaml": Expected("settings/outdoor-limits-inverted", "/settings/ventilator/outdoor_limits"),
    "mode-nobody-calls-up.yaml": Expected("settings/mode-never-used", "/modes/guests"),
    "module-beside-zone-panel.yaml": Expected("wiring/redundant-interface-module", "/devices/module"),
    "module-of-the-older-system.yaml": Expected("equipment/dialect-mismatch", "/devices/module"),
    "module-with-two-duties.yaml": Expected("equipment/conflicting-duties", "/devices/module"),
    "more-minutes-than-the-hour.yaml": Expected("settings/overfull-cycle", f"{PROGRAMS}/day/heating"),
    "night-without-cooling-program.yaml": Expected("settings/missing-program", f"{PROGRAMS}/night/cooling"),
    "no-calendar.yaml": Expected("settings/calendar-gap", "/calendar", unchecked=True),
    "occupied-mode-off.yaml": Expected("settings/occupied-mode-off", f"{PROGRAMS}/day/heating"),
    "out-of-balance.yaml": Expected("airflow/unbalanced", "/devices/ventilator"),
    "program-off-grid.yaml": Expected("settings/off-grid", f"{PROGRAMS}/day/heating"),
    "ring-of-cables.yaml": Expected("wiring/ring", "/cables"),
    "runs-too-seldom.yaml": Expected("airflow/run-time-too-short", f"{PROGRAMS}/night/cooling"),
    "second-controller.yaml": Expected("equipment/several-controllers", "/devices"),
    "stage-of-another-model.yaml": Expected("equipment/stage-not-offered", f"{PROGRAMS}/night/heating/medium"),
    "stops-in-an-ordinary-winter.yaml": Expected(
        "settings/outdoor-limits-in-ordinary-weather", "/settings/ventilator/outdoor_limits"
    ),
    "too-little-air-in-winter.yaml": Expected("airflow/below-target", f"{PROGRAMS}/day/heating"),
    "two-bridges.yaml": Expected("wiring/two-bridges", "/devices/ventilator"),
    "two-ventilators-on-a-module-for-one.yaml": Expected("equipment/too-many-ventilators", "/devices/module"),
    "unit-too-small.yaml": Expected("airflow/ventilator-too-small", "/target"),
    "ventilates-an-empty-house.yaml": Expected("settings/unoccupied-mode-ventilates", f"{PROGRAMS}/out/heating"),
    "ventilator-forgotten.yaml": Expected("equipment/no-ventilator", "/target"),
    "ventilator-wired-to-system-bus.yaml": Expected(
        "wiring/wrong-port-kind", "/cables/2", {"wiring/no-path-to-controller": NO_WAY}
    ),
    "worst-window-too-low.json": Expected("airflow/window-below-target", "/calendar"),
}

# Line and place of every problem, in the order of the file.
BROKEN: Final[Mapping[str, tuple[tuple[int, str], ...]]] = {
    "half-written.yaml": ((17, ""),),
    "misspelled.yaml": (
        (6, "dwelling / bedrooms"),
        (6, "dwelling / floor_area"),
        (6, "dwelling / bedroms"),
        (7, "target / code"),
        (8, "site / winter_design"),
        (12, "devices / furnace / model"),
        (18, "cables / 1 / to"),
        (19, "cables / 2 / from"),
        (19, "cables / 2 / guage"),
        (21, "modes / night"),
        (23, "calendar / weekdays / 6:00"),
        (23, "calendar / weekdays / 22:30"),
        (24, "calendar / weekends"),
        (26, "setings"),
    ),
    "not-a-job.json": ((1, ""),),
}

# What the published equations ask of each dwelling, worked out by hand; Equation 15-1 of the International
# Residential Code, M1505.4.3: 0.01 cfm per ft2 + 7.5 cfm x (bedrooms + 1), and in Exception 1 of the same
# section, 30 % less for a balanced and ducted system. Number 11 takes equation 4.1b of ASHRAE 62.2-2016,
# 0.15 L/s per m2 + 3.5 L/s x (bedrooms + 1).
BY_HAND: Final[Mapping[str, Airflow]] = {
    "number-02.yaml": Airflow.of(0.01 * 2150 + 7.5 * (3 + 1), "cfm"),
    "number-05.yaml": Airflow.of(0.01 * 2900 + 7.5 * (4 + 1), "cfm"),
    "number-08.yaml": Airflow.of(0.01 * 3600 + 7.5 * (5 + 1), "cfm"),
    "number-11.json": Airflow.of(0.15 * 118 + 3.5 * (2 + 1), "L/s"),
    "number-14.yaml": Airflow.of(0.01 * 1680 + 7.5 * (3 + 1), "cfm"),
    "number-17.yaml": Airflow.of(0.01 * 1450 + 7.5 * (2 + 1), "cfm"),
    "number-20.yaml": Airflow.of(0.7 * (0.01 * 2600 + 7.5 * (4 + 1)), "cfm"),
}


def files_in(folder: str) -> list[Path]:
    found = sorted(path for path in (EXAMPLES / folder).iterdir() if path.is_file())
    assert found, folder
    return found


SOUND: Final = [path for path in files_in("sound") if "catalog" not in path.name]


def report_on(name: str) -> Report:
    return check(read_job(EXAMPLES / "faulty" / name))


def test_the_tables_cover_every_file_and_nothing_else() -> None:
    assert {path.name for path in files_in("faulty")} == set(FAULTY)
    assert {path.name for path in files_in("broken")} == set(BROKEN)
    assert {path.name for path in SOUND} == set(BY_HAND)
    assert {path.name for path in files_in("sound")} - set(BY_HAND) == {"lane-catalog.yaml"}


def test_the_readme_names_every_file_and_only_files_that_exist() -> None:
    text = (EXAMPLES / "README.md").read_text(encoding="utf-8")
    files = {f"{folder}/{path.name}" for folder in ("sound", "faulty", "broken") for path in files_in(folder)}
    named = {part.partition(")")[0] for part in text.split("](")[1:]}
    assert named == files
    assert {path.name for path in EXAMPLES.iterdir()} == {"README.md", "sound", "faulty", "broken"}


@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.name)
def test_a_sound_example_has_no_finding_at_all(path: Path) -> None:
    report = check(read_job(path))
    assert report.findings == ()
    assert report.ok
    assert len(report.rules_run) == len(installed_rules())


def test_a_search_of_the_sound_folder_leaves_the_catalog_out() -> None:
    found = find_jobs([EXAMPLES / "sound"])
    assert list(found.files) == SOUND
    assert [path.name for path in found.left_out] == ["lane-catalog.yaml"]
    assert read_catalog(found.left_out[0]).models.keys() == {"lane-module", "lane-erv-90"}


@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.name)
def test_a_sound_example_asks_for_the_airflow_of_the_published_equation(path: Path) -> None:
    asked = Survey(read_job(path)).requirement
    assert asked.continuous_m3s == pytest.approx(BY_HAND[path.name].m3s, rel=1e-9)


@pytest.mark.parametrize("path", [path for path in SOUND if path.suffix == ".yaml"], ids=lambda path: path.name)
def test_the_airflow_in_a_sound_example_s_comments_is_the_one_worked_out(path: Path) -> None:
    number = f"{BY_HAND[path.name].to('cfm'):.6g}"
    stated = re.compile(rf"(?<![\d.]){re.escape(number)}(?!\.?\d)")
    comments = [line.partition("#")[2] for line in path.read_text(encoding="utf-8").splitlines()]
    assert any(stated.search(comment) for comment in comments), stated.pattern


@pytest.mark.parametrize("name", sorted(FAULTY))
def test_a_faulty_example_gives_its_one_finding_at_its_place(name: str) -> None:
    expected, findings = FAULTY[name], report_on(name).findings
    own = [finding for finding in findings if finding.rule == expected.rule]
    assert [(finding.pointer, finding.unchecked) for finding in own] == [(expected.pointer, expected.unchecked)]
    assert {finding.rule for finding in findings} - {expected.rule} == set(expected.company)


@pytest.mark.parametrize("name", sorted(FAULTY))
def test_a_finding_stands_on_a_line_of_the_file(name: str) -> None:
    lines = (EXAMPLES / "faulty" / name).read_text(encoding="utf-8").splitlines()
    findings = report_on(name).findings
    assert findings
    for finding in findings:
        assert finding.position is not None
        line = lines[finding.position.line - 1]
        assert line.strip()
        assert not line.startswith("#")
        assert 1 <= finding.position.column <= len(line)


def test_every_rule_of_our_own_has_a_faulty_example() -> None:
    shown = {expected.rule for expected in FAULTY.values()}
    ours = {rule.id for rule in installed_rules() if installed_rules().packs[rule.id] == "ventrules"}
    assert ours
    assert ours - shown == set()


@pytest.mark.parametrize("name", sorted(name for name in FAULTY if name.endswith(".yaml")))
def test_a_faulty_example_says_its_dwelling_and_fault_in_its_head(name: str) -> None:
    head = (EXAMPLES / "faulty" / name).read_text(encoding="utf-8").splitlines()[0]
    number = head.removeprefix("# Number ").partition(" with one fault: ")[0]
    assert head.startswith("# Number ")
    assert " with one fault: " in head
    assert (EXAMPLES / "sound" / f"number-{int(number):02d}.yaml").is_file()
    job = read_job(EXAMPLES / "faulty" / name)
    assert job.title == f"Quarry Lane {number}"


def offered() -> Iterator[tuple[str, Finding]]:
    for name in sorted(FAULTY):
        for finding in report_on(name).findings:
            if finding.remedy is not None:
                yield name, finding


OFFERED: Final = list(offered())


def test_remedies_of_several_families_are_offered() -> None:
    families = {finding.rule.partition("/")[0] for _name, finding in OFFERED}
    assert families >= {"airflow", "equipment", "settings", "upkeep", "wiring"}


@pytest.mark.parametrize(("name", "finding"), OFFERED, ids=lambda part: part if isinstance(part, str) else part.pointer)
def test_an_offered_remedy_alone_removes_its_finding_and_brings_no_new_error(name: str, finding: Finding) -> None:
    job = read_job(EXAMPLES / "faulty" / name)
    assert finding.remedy is not None
    before = check(job).findings
    after = check(applied(job, finding.remedy)).findings
    assert finding.fingerprint in {f.fingerprint for f in before}
    assert finding.fingerprint not in {f.fingerprint for f in after}
    assert [(f.rule, f.pointer) for f in new_errors(before, after)] == []


@pytest.mark.parametrize(("name", "finding"), OFFERED, ids=lambda part: part if isinstance(part, str) else part.pointer)
def test_an_offered_remedy_leaves_the_job_s_own_text_alone(name: str, finding: Finding) -> None:
    job = read_job(EXAMPLES / "faulty" / name)
    assert finding.remedy is not None
    document = job_document(job)
    changed = apply_edits(document, finding.remedy.edits)
    assert changed != document
    assert document == job_document(job)
    for key in ("job", "dwelling", "catalogs", "modes", "calendar"):
        assert changed.get(key) == document.get(key)
    targets = [merged(side["target"], {"route": None}) for side in (changed, document)]  # a route may be left out
    assert targets[0] == targets[1]


@pytest.mark.parametrize("name", sorted(BROKEN))
def test_a_broken_example_lists_every_problem_with_its_line(name: str) -> None:
    with pytest.raises(JobFileError) as caught:
        read_job(EXAMPLES / "broken" / name)
    problems = caught.value.problems
    assert [problem.where for problem in problems] == [where for _line, where in BROKEN[name]]
    for problem in problems:
        assert problem.file == str(EXAMPLES / "broken" / name)
    lines = [problem.position.line if problem.position is not None else 0 for problem in problems]
    assert lines == [line for line, _where in BROKEN[name]]


def test_every_misspelling_is_answered_with_what_is_expected() -> None:
    with pytest.raises(JobFileError) as caught:
        read_job(EXAMPLES / "broken" / "misspelled.yaml")
    assert len(caught.value.problems) == len(BROKEN["misspelled.yaml"])
    helpless = [
        problem.message
        for problem in caught.value.problems
        if not any(word in problem.message for word in ("expected ", "nearest is ", "needs a unit "))
    ]
    assert helpless == []
