"""The office's own rule: every ventilator has its settings."""

import ventrules
from ventrules.engine import CannotTell, Evidence, Pack, evidence
from ventrules.sources import practice
from ventrules.survey import VentilatorView


def ventilators(survey: ventrules.Survey) -> tuple[VentilatorView, ...]:
    return survey.ventilators


def unset(ventilator: VentilatorView) -> Evidence | CannotTell | None:
    if ventilator.settings is None:
        return CannotTell("the settings of the ventilator are missing")
    if ventilator.settings.filter_reminder is not None:
        return None
    return evidence(ventilator=ventilator.name)


REMINDER: ventrules.Rule[ventrules.Survey, VentilatorView] = ventrules.Rule(
    id="lane/no-reminder",
    title="Nobody is reminded of the filter",
    severity=ventrules.Severity.ADVICE,
    each=ventilators,
    check=unset,
    message="{ventilator} has no filter reminder.",
    todo="Set one.",
    basis=practice("the office changes filters when it is reminded"),
)

PACK: Pack[ventrules.Survey] = Pack(name="lane", rules=(REMINDER,), families=frozenset({"lane"}))
RULES: ventrules.Registry[ventrules.Survey] = ventrules.Registry.build([(PACK.name, PACK.rules)], PACK.families)
