"""What buses are called by: places, and so fingerprints, tell two buses of the same devices apart."""

from hypothesis import given
from hypothesis import strategies as st

from tests.survey.power_jobs import job
from ventrules import Survey
from ventrules.engine import Finding
from ventrules.job import BusKind, Cable, Model, Port, ProgramGrid, Role
from ventrules.rules import equipment
from ventrules.units import Period

HOUR = ProgramGrid(Period.of(60, "min"), Period.of(5, "min"), 2)


def device(role: Role, *ports: str) -> Model:
    return Model(
        role,
        ports={name: Port(BusKind.SYSTEM) for name in ports},
        programs=HOUR if role is Role.CONTROLLER else None,
    )


@given(st.sampled_from([Role.CONTROLLER, Role.INDOOR_UNIT]), st.integers(1, 4))
def test_buses_of_the_same_devices_have_names_of_their_own(role: Role, buses: int) -> None:
    ports = [f"bus {number}" for number in range(buses)]
    survey = Survey(
        job(
            {"east": device(role, *ports), "west": device(role, *ports)},
            [Cable(f"east.{port}", f"west.{port}") for port in ports],
        )
    )
    rule = equipment.SEVERAL_CONTROLLERS if role is Role.CONTROLLER else equipment.NO_CONTROLLER
    findings = [finding for finding in rule.examine(survey) if isinstance(finding, Finding)]
    assert len(findings) == len({finding.fingerprint for finding in findings}) == buses
    assert len({finding.place.path for finding in findings}) == 1
    if buses == 1:
        assert findings[0].place.name == "devices / east + west"
    else:
        assert findings[0].place.name == "devices / east.bus 0 + west.bus 0"


def test_buses_of_other_devices_keep_their_names() -> None:
    models = {
        "east": device(Role.CONTROLLER, "system"),
        "west": device(Role.CONTROLLER, "system"),
        "furnace": device(Role.INDOOR_UNIT, "system"),
        "north": device(Role.INDOOR_UNIT, "system"),
        "south": device(Role.INDOOR_UNIT, "system"),
    }
    cables = [
        Cable("east.system", "west.system"),
        Cable("west.system", "furnace.system"),
        Cable("north.system", "south.system"),
    ]
    names = {segment.place.name for segment in Survey(job(models, cables)).system_segments}
    assert names == {"devices / east + west", "devices / north + south"}
