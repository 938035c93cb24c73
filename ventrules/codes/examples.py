"""The worked examples of a code file: whether the file reproduces them."""

from ventrules.codes.code import Code, Example
from ventrules.codes.evaluate import requirement
from ventrules.codes.leakage import System
from ventrules.codes.rating import UnknownRequirementError
from ventrules.job import Dwelling, Target
from ventrules.units import Airflow


def worked(code: Code, example: Example) -> float:
    """Return what a code asks of the dwelling of one of its examples, m3/s.

    Raises:
        UnknownRequirementError: The example does not tell what the code needs.
    """
    dwelling = Dwelling(
        example.floor_area,
        example.bedrooms,
        occupants=example.occupants,
        main_rooms=example.main_rooms,
        distributed=example.distributed,
        rooms={f"room {number:03}": room for number, room in enumerate(example.rooms)},
    )
    target = Target(code=code.code, route=example.route, credits=example.credits)
    system = System(balanced=example.balanced, unbalanced_part=0.0 if example.balanced else 1.0)
    return requirement(code, dwelling, target, example.credits, system).continuous_m3s


def failed_examples(code: Code) -> tuple[str, ...]:
    """Return what the examples of a code that it does not reproduce say, one line each."""
    lines = []
    for number, example in enumerate(code.examples, start=1):
        try:
            found = worked(code, example)
        except UnknownRequirementError as unknown:
            lines.append(f"example {number} ({example.source}): {unknown}")
            continue
        if abs(found - example.airflow.m3s) > example.tolerance * example.airflow.m3s:
            shown = Airflow.shown(found, example.airflow.unit)
            lines.append(f"example {number} ({example.source}): expected {example.airflow}, found {shown}")
    return tuple(lines)
