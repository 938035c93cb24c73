"""Our own rules, as a pack: they enter through the same door as any other pack's."""

from typing import Final

from ventrules.engine import Pack
from ventrules.rules import airflow, equipment, power, readings, safety, settings, upkeep, wiring
from ventrules.survey import Survey

FAMILIES: Final = frozenset({"equipment", "wiring", "power", "settings", "airflow", "upkeep", "readings", "safety"})

PACK: Final[Pack[Survey]] = Pack(
    name="ventrules",
    rules=(
        *equipment.RULES,
        *wiring.RULES,
        *power.RULES,
        *settings.RULES,
        *airflow.RULES,
        *upkeep.RULES,
        *readings.RULES,
        *safety.RULES,
    ),
    families=FAMILIES,
    pages="ventrules.rules.pages",
)
