"""ventrules: checks how a ventilator is wired to, and set up on, a communicating home HVAC system.

The public face. Everything else is reached through these names:

    import ventrules
    job = ventrules.read_job("job.yaml")
    report = ventrules.check(job)
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ventrules.bulk import JobText, Outcome, Tally, check_many, check_one, job_lines
    from ventrules.checking import applied, check, installed_rules
    from ventrules.codes import Requirement, UnknownRequirementError
    from ventrules.diagnosis import Diagnosis, SymptomError, Symptoms, diagnose
    from ventrules.engine import (
        Accepted,
        Finding,
        Place,
        Position,
        Registry,
        RegistryError,
        Remedy,
        Report,
        Rule,
        Severity,
    )
    from ventrules.files import JobFileError, Problem, job_document, job_from_document, parse_job, read_job
    from ventrules.job import Acceptance, Job
    from ventrules.ledger import Ledger
    from ventrules.outputs.schemas import UnknownSchemaError, schema
    from ventrules.planner.planned import Plan
    from ventrules.planning import plan
    from ventrules.policy import Baseline, Policy, find_policy, read_baseline, read_policy
    from ventrules.repairing import Repaired, repair
    from ventrules.survey import Survey
    from ventrules.targets import Asked, asked, every_requirement, requirement

__version__ = "0.1.0"

_HOMES = {
    "ventrules.bulk": ("JobText", "Outcome", "Tally", "check_many", "check_one", "job_lines"),
    "ventrules.checking": ("applied", "check", "installed_rules"),
    "ventrules.codes": ("Requirement", "UnknownRequirementError"),
    "ventrules.diagnosis": ("Diagnosis", "SymptomError", "Symptoms", "diagnose"),
    "ventrules.engine": (
        "Accepted",
        "Finding",
        "Place",
        "Position",
        "Registry",
        "RegistryError",
        "Remedy",
        "Report",
        "Rule",
        "Severity",
    ),
    "ventrules.files": (
        "JobFileError",
        "Problem",
        "job_document",
        "job_from_document",
        "parse_job",
        "read_job",
    ),
    "ventrules.job": ("Acceptance", "Job"),
    "ventrules.ledger": ("Ledger",),
    "ventrules.outputs.schemas": ("UnknownSchemaError", "schema"),
    "ventrules.planner.planned": ("Plan",),
    "ventrules.planning": ("plan",),
    "ventrules.policy": ("Baseline", "Policy", "find_policy", "read_baseline", "read_policy"),
    "ventrules.repairing": ("Repaired", "repair"),
    "ventrules.survey": ("Survey",),
    "ventrules.targets": ("Asked", "asked", "every_requirement", "requirement"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = [
    "Acceptance",
    "Accepted",
    "Asked",
    "Baseline",
    "Diagnosis",
    "Finding",
    "Job",
    "JobFileError",
    "JobText",
    "Ledger",
    "Outcome",
    "Place",
    "Plan",
    "Policy",
    "Position",
    "Problem",
    "Registry",
    "RegistryError",
    "Remedy",
    "Repaired",
    "Report",
    "Requirement",
    "Rule",
    "Severity",
    "Survey",
    "SymptomError",
    "Symptoms",
    "Tally",
    "UnknownRequirementError",
    "UnknownSchemaError",
    "__version__",
    "applied",
    "asked",
    "check",
    "check_many",
    "check_one",
    "diagnose",
    "every_requirement",
    "find_policy",
    "installed_rules",
    "job_document",
    "job_from_document",
    "job_lines",
    "parse_job",
    "plan",
    "read_baseline",
    "read_job",
    "read_policy",
    "repair",
    "requirement",
    "schema",
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
