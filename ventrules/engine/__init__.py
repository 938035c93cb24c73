"""The rules engine: rules as values, evidence, findings, the registry and the run. Knows no ventilation."""

from ventrules.engine.findings import (
    CannotTell,
    Edit,
    EditKind,
    Evidence,
    Finding,
    Path,
    Place,
    Position,
    Remedy,
    RuleFault,
    Severity,
    Value,
    evidence,
    pointer,
)
from ventrules.engine.packs import ENGINE_INTERFACE, Pack, PackFailure, load_packs
from ventrules.engine.registry import AnyRule, Registry, RegistryError
from ventrules.engine.report import Accepted, AcceptedBy, Report
from ventrules.engine.rule import Rule
from ventrules.engine.run import ENGINE_FINDINGS, run

__all__ = [
    "ENGINE_FINDINGS",
    "ENGINE_INTERFACE",
    "Accepted",
    "AcceptedBy",
    "AnyRule",
    "CannotTell",
    "Edit",
    "EditKind",
    "Evidence",
    "Finding",
    "Pack",
    "PackFailure",
    "Path",
    "Place",
    "Position",
    "Registry",
    "RegistryError",
    "Remedy",
    "Report",
    "Rule",
    "RuleFault",
    "Severity",
    "Value",
    "evidence",
    "load_packs",
    "pointer",
    "run",
]
