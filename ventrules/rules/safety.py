"""Rules about safety."""

from ventrules.engine import Evidence, Rule, Severity, evidence
from ventrules.rules import selectors
from ventrules.rules.cautions import WIRING
from ventrules.sources import Basis, Known
from ventrules.survey import CableView


def _beside_mains(cable: CableView) -> Evidence:
    apart = cable.survey.limits.power_limited
    return evidence(
        basis=apart.separation_basis,
        start=cable.cable.start,
        end=cable.cable.end,
        apart=apart.separation,
    )


BESIDE_MAINS = Rule(
    id="safety/beside-mains",
    title="A low-voltage cable shares a path with mains conductors",
    severity=Severity.WARNING,
    each=selectors.cables_beside_mains,
    check=_beside_mains,
    message=(
        "The cable from {start} to {end} runs with mains conductors. As a rule low voltage and mains share no cable, "
        "raceway, box or enclosure, and elsewhere stay {apart} apart unless a barrier or the kind of cable divides "
        "them."
    ),
    todo=(
        "Have it looked at by someone who knows the local electrical code, which decides; where in doubt, run the "
        "cable another way."
    ),
    basis=Basis("the electrical code's separation of low voltage from mains", Known.PER_FINDING),
    cautions=(WIRING,),
)
RULES = (BESIDE_MAINS,)
