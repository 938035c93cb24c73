"""What the people at the desk ask of a job: what to mend, what to set, what has failed."""

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import ventrules
from ventrules.engine import Edit
from ventrules.sources import Basis, Known
from ventrules.units import Quantity


def mended(path: Path) -> tuple[ventrules.Job, list[str]]:
    """Return a job with every remedy that costs nothing, and what was done."""
    repaired: ventrules.Repaired = ventrules.repair(ventrules.read_job(path))
    return repaired.job, [change.remedy.title for change in repaired.changes]


def one_remedy(job: ventrules.Job) -> ventrules.Job:
    """Return a job with the first remedy that is offered."""
    for finding in ventrules.check(job).findings:
        if finding.remedy is not None:
            return ventrules.applied(job, finding.remedy)
    return job


def edits(finding: ventrules.Finding) -> tuple[Edit, ...]:
    """Return the edits of a finding's remedy."""
    return () if finding.remedy is None else finding.remedy.edits


def figures(finding: ventrules.Finding) -> Mapping[str, float]:
    """Return the quantities that a finding rests on, in SI."""
    return {name: value.si for name, value in finding.evidence.items() if isinstance(value, Quantity)}


def sure(basis: Basis) -> bool:
    """Say whether somebody has seen the source."""
    return basis.known is Known.SEEN


def minutes(job: ventrules.Job) -> dict[tuple[str, str], list[tuple[str, float]]]:
    """Return the planned minutes of each mode's programs."""
    planned: ventrules.Plan = ventrules.plan(job, least="energy", hold=())
    return {
        (mode.mode, program.ventilator): [(stage.stage, stage.time_s / 60.0) for stage in program.stages]
        for season in planned.seasons
        for mode in season.modes
        for program in mode.programs
    }


def suspects(job: ventrules.Job, dark: str) -> list[str]:
    """Return what may have failed where a device shows no light."""
    found: ventrules.Diagnosis = ventrules.diagnose(job, ventrules.Symptoms(powered={dark: False}), most_faults=2)
    return [str(candidate) for candidate in found.candidates]


def asked(job: ventrules.Job) -> dict[str, float | str]:
    """Return what each code would ask, m3/s, or why it cannot be told."""
    every: tuple[ventrules.Asked, ...] = ventrules.every_requirement(job)
    return {one.name: one.requirement.continuous_m3s if one.requirement else one.missing for one in every}


def airless_hours(job: ventrules.Job) -> float | None:
    """Return the airflow asked for, m3/s, or None where the job does not tell."""
    try:
        wanted: ventrules.Requirement = ventrules.requirement(job)
    except ventrules.UnknownRequirementError:
        return None
    return wanted.continuous_m3s


def air_only() -> ventrules.Registry[ventrules.Survey]:
    """Return the rules about airflow."""
    return ventrules.installed_rules().select(only=["airflow"])


def at_once(paths: list[Path]) -> list[bool]:
    """Return the verdicts on some files, from a few threads."""
    with ThreadPoolExecutor(2) as executor:
        return [outcome.report is not None for outcome in ventrules.check_many(paths, executor=executor)]
