"""ventrules: checks how a ventilator is wired to, and set up on, a communicating home HVAC system.

The public face. Everything else is reached through these names:

    import ventrules
    job = ventrules.read_job("job.yaml")
    report = ventrules.check(job)
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ventrules.checking import Outcome, applied, check, check_file, check_many, installed_rules
    from ventrules.codes import Requirement, UnknownRequirementError
    from ventrules.diagnosis import Diagnosis, Symptoms, diagnose
    from ventrules.engine import Finding, Place, Position, Registry, Remedy, Report, Rule, Severity
    from ventrules.files import JobFileError, Problem, job_document, job_from_document, parse_job, read_job
    from ventrules.job import Job
    from ventrules.planner.planned import Plan
    from ventrules.planning import plan
    from ventrules.repairing import Repaired, repair
    from ventrules.survey import Survey
    from ventrules.targets import Asked, asked, every_requirement, requirement

__version__ = "0.1.0"

_HOMES = {
    "ventrules.checking": ("Outcome", "applied", "check", "check_file", "check_many", "installed_rules"),
    "ventrules.codes": ("Requirement", "UnknownRequirementError"),
    "ventrules.diagnosis": ("Diagnosis", "Symptoms", "diagnose"),
    "ventrules.engine": ("Finding", "Place", "Position", "Registry", "Remedy", "Report", "Rule", "Severity"),
    "ventrules.files": (
        "JobFileError",
        "Problem",
        "job_document",
        "job_from_document",
        "parse_job",
        "read_job",
    ),
    "ventrules.job": ("Job",),
    "ventrules.planner.planned": ("Plan",),
    "ventrules.planning": ("plan",),
    "ventrules.repairing": ("Repaired", "repair"),
    "ventrules.survey": ("Survey",),
    "ventrules.targets": ("Asked", "asked", "every_requirement", "requirement"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = [
    "Asked",
    "Diagnosis",
    "Finding",
    "Job",
    "JobFileError",
    "Outcome",
    "Place",
    "Plan",
    "Position",
    "Problem",
    "Registry",
    "Remedy",
    "Repaired",
    "Report",
    "Requirement",
    "Rule",
    "Severity",
    "Survey",
    "Symptoms",
    "UnknownRequirementError",
    "__version__",
    "applied",
    "asked",
    "check",
    "check_file",
    "check_many",
    "diagnose",
    "every_requirement",
    "installed_rules",
    "job_document",
    "job_from_document",
    "parse_job",
    "plan",
    "read_job",
    "repair",
    "requirement",
]


if not TYPE_CHECKING:  # a type checker sees the names above, and no others

    def __getattr__(name: str) -> object:
        """Import a public name when it is first used, so that `import ventrules` stays light."""
        home = _HOME_OF.get(name)
        if home is None:
            raise AttributeError(f"module 'ventrules' has no attribute {name!r}")
        value: object = getattr(import_module(home), name)
        globals()[name] = value
        return value

    def __dir__() -> list[str]:
        """List the public names, imported yet or not."""
        return sorted({*globals(), *__all__})
