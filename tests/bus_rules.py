"""The rules about the shape and the fittings of a bus, asked one by one."""

from typing import Final

from tests.survey.buses import line
from ventrules import Survey
from ventrules.engine import AnyRule, Finding
from ventrules.job import PortSetting
from ventrules.rules.wiring import shape, untold
from ventrules.units import Resistance

OURS: Final[tuple[AnyRule[Survey], ...]] = (*shape.RULES, *untold.RULES)
BY_ID: Final = {rule.id.partition("/")[2]: rule for rule in OURS}
SHORT: Final = line("9 m", "9 m")


def found(survey: Survey, rule: str) -> list[Finding]:
    findings = list(BY_ID[rule].examine(survey))
    assert all(isinstance(finding, Finding) for finding in findings), findings
    return [finding for finding in findings if isinstance(finding, Finding)]


def faults(survey: Survey, rule: str) -> list[Finding]:
    return [finding for finding in found(survey, rule) if not finding.unchecked]


def only(survey: Survey, rule: str) -> Finding:
    (finding,) = found(survey, rule)
    return finding


def terminated(ohm: float) -> PortSetting:
    return PortSetting(termination=Resistance.of(ohm, "ohm"))


def biased(ohm: float) -> PortSetting:
    return PortSetting(bias=Resistance.of(ohm, "ohm"))
