"""Selectors: what a rule looks at. Shared, so that rules stay small."""

from collections.abc import Iterable

from ventrules.job import Occupancy, Role
from ventrules.survey import (
    CableView,
    DeviceView,
    DwellingView,
    HopView,
    ModeSeasonView,
    ModeView,
    ProgramView,
    RingView,
    SegmentView,
    SupplyView,
    Survey,
    UntoldView,
    VentilatorView,
    WeekView,
)
from ventrules.survey.conductors import (
    ColorView,
    ConductorView,
    CrowdedView,
    colors_of_two_roles,
    crowded,
)
from ventrules.survey.untold import untold


def dwelling(survey: Survey) -> tuple[DwellingView]:
    """The dwelling, once."""
    return (survey.dwelling,)


def asked_dwelling(survey: Survey) -> tuple[DwellingView, ...]:
    """The dwelling, once, where it is known what is asked of it."""
    return (survey.dwelling,) if survey.unknown is None else ()


def devices(survey: Survey) -> tuple[DeviceView, ...]:
    """Every device."""
    return survey.devices


def exclusive_devices(survey: Survey) -> Iterable[DeviceView]:
    """Devices with ports of which only one may be wired at a time."""
    return (device for device in survey.devices if device.model.not_together)


def isolated_devices(survey: Survey) -> Iterable[DeviceView]:
    """Devices with bus ports and no cable."""
    return (survey.device(name) for name in survey.topology.isolated)


def serving_devices(survey: Survey) -> tuple[DeviceView, ...]:
    """Controllers and bridges: whatever serves ventilators."""
    return survey.of_role(Role.CONTROLLER, Role.INTERFACE_MODULE, Role.ZONE_PANEL)


def interface_modules(survey: Survey) -> tuple[DeviceView, ...]:
    """Interface modules."""
    return survey.of_role(Role.INTERFACE_MODULE)


def ventilators(survey: Survey) -> tuple[VentilatorView, ...]:
    """Every ventilator."""
    return survey.ventilators


def driven_ventilators(survey: Survey) -> tuple[VentilatorView, ...]:
    """Ventilators that the controller is to run."""
    return survey.driven


def hops(survey: Survey) -> tuple[HopView, ...]:
    """Every hop of every ventilator's route."""
    return survey.hops


def system_segments(survey: Survey) -> tuple[SegmentView, ...]:
    """Segments of the system bus that join ports."""
    return survey.system_segments


def mismatched_cables(survey: Survey) -> Iterable[CableView]:
    """Cables between ports of different kinds."""
    return (survey.cables[index] for index in survey.topology.mismatched)


def joined_cables(survey: Survey) -> tuple[CableView, ...]:
    """Cables between two ports of the same kind: buses, supplies and contacts."""
    return survey.joined_cables


def odd_cables(survey: Survey) -> tuple[CableView, ...]:
    """Those of them that are not straight through between ports alike, so that conductors may be wrong."""
    return survey.odd_cables


def counted_cables(survey: Survey) -> Iterable[CableView]:
    """Joined cables of which the job tells how many conductors they have."""
    return (cable for cable in survey.joined_cables if cable.cable.cores is not None)


def conductors(survey: Survey) -> Iterable[ConductorView]:
    """Conductors of the cables between two ports of the same kind, where any of them can be wrong."""
    return (conductor for cable in survey.odd_cables for conductor in cable.conductors)


def crowding_conductors(survey: Survey) -> tuple[CrowdedView, ...]:
    """The last conductor of each terminal that has more than it takes."""
    return crowded(survey)


def ambiguous_colors(survey: Survey) -> Iterable[ColorView]:
    """Colors of conductors that stand for two things along one bus."""
    return colors_of_two_roles(survey)


def rings(survey: Survey) -> tuple[RingView, ...]:
    """Rings of cables."""
    return survey.rings


def modes(survey: Survey) -> tuple[ModeView, ...]:
    """Every mode."""
    return survey.modes


def programs(survey: Survey) -> tuple[ProgramView, ...]:
    """The program of each driven ventilator, mode and season, written or missing."""
    return survey.programs


def missing_programs(survey: Survey) -> Iterable[ProgramView]:
    """Modes and seasons for which a driven ventilator has no program."""
    return (p for p in survey.programs if p.program is None)


def managed_programs(survey: Survey) -> Iterable[ProgramView]:
    """Programs that are left to the controller."""
    return (p for p in survey.programs if p.program is not None and p.program.managed)


def written_programs(survey: Survey) -> tuple[ProgramView, ...]:
    """Programs that the job has, with minutes."""
    return survey.written_programs


def unoccupied_programs(survey: Survey) -> Iterable[ProgramView]:
    """Programs of unoccupied modes, where it is known what is asked in them."""
    if survey.unknown is not None:
        return ()
    return (p for p in survey.written_programs if p.mode.occupancy is Occupancy.UNOCCUPIED)


def occupied_programs(survey: Survey) -> Iterable[ProgramView]:
    """Programs of occupied modes."""
    return (p for p in survey.written_programs if p.mode.occupancy is Occupancy.OCCUPIED)


def judged_modes(survey: Survey) -> Iterable[ModeSeasonView]:
    """Modes and seasons in which the requirement is held."""
    held = survey.requirement.judged if survey.unknown is None else frozenset()
    return (view for view in survey.mode_seasons if view.mode.occupancy in held)


def weeks(survey: Survey) -> tuple[WeekView, ...]:
    """The week in each season, where it is known what is asked in it."""
    return survey.weeks if survey.unknown is None else ()


def supplies(survey: Survey) -> Iterable[SupplyView]:
    """Supply nets whose conductors are as they should be."""
    return (supply for supply in survey.supplies if not supply.doubtful)


def fed_supplies(survey: Survey) -> Iterable[SupplyView]:
    """Likewise, those that one source feeds, through a cable or more."""
    return (supply for supply in supplies(survey) if supply.source is not None and supply.cables)


def untold_cables(survey: Survey) -> tuple[UntoldView, ...]:
    """What the job does not tell of its cables, once, where something depends on it."""
    found = untold(survey)
    return (found,) if found is not None else ()


def cables_beside_mains(survey: Survey) -> Iterable[CableView]:
    """Cables of which the job tells that they share a path with mains conductors."""
    return (cable for cable in survey.cables if cable.cable.beside_mains)
