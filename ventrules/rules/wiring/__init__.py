"""Rules about wiring."""

from ventrules.engine import AnyRule
from ventrules.rules.wiring import conductors, paths, shape, untold
from ventrules.survey import Survey

RULES: tuple[AnyRule[Survey], ...] = (*paths.RULES, *conductors.RULES, *shape.RULES, *untold.RULES)
