"""Cables whose gauge or length a job does not tell, though something depends on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from attrs import field, frozen

from ventrules.engine import Place

if TYPE_CHECKING:
    from ventrules.survey.bus_views import CableView
    from ventrules.survey.survey import Survey


@frozen(eq=False, slots=False)
class UntoldView:
    """What a job does not tell of its cables.

    Attributes:
        survey: The survey.
        ungauged: The cables without a gauge on which something depends.
        unmeasured: Likewise without a length.
        needed_for: What cannot be judged without them.
    """

    survey: Survey = field(repr=False)
    ungauged: tuple[CableView, ...]
    unmeasured: tuple[CableView, ...]
    needed_for: tuple[str, ...]

    @property
    def cables(self) -> tuple[CableView, ...]:
        """All of them, in the job's order."""
        both = {cable.index: cable for cable in (*self.ungauged, *self.unmeasured)}
        return tuple(both[index] for index in sorted(both))

    @property
    def place(self) -> Place:
        """The cable where there is one only; else all cables."""
        return self.cables[0].place if len(self.cables) == 1 else Place(("cables",), "cables")


def untold(survey: Survey) -> UntoldView | None:
    """Return what a job does not tell of its cables and what depends on it, or None where nothing does."""
    if all(cable.cable.gauge is not None and cable.cable.length is not None for cable in survey.cables):
        return None
    ungauged: dict[int, CableView] = {}
    unmeasured: dict[int, CableView] = {}
    needed: list[str] = []

    def note(what: str, gauges: list[CableView], lengths: list[CableView]) -> None:
        ungauged.update({cable.index: cable for cable in gauges if cable.cable.gauge is None})
        unmeasured.update({cable.index: cable for cable in lengths if cable.cable.length is None})
        if any(c.cable.gauge is None for c in gauges) or any(c.cable.length is None for c in lengths):
            needed.append(what)

    carrying = [cable for supply in survey.supplies if supply.draws for cable in supply.carrying]
    note("the voltage at the devices", carrying, carrying)
    shaped = [(shape.profile, cable) for shape in survey.shapes for cable in shape.cables]
    note("the length and the ends of the bus", [], [c for p, c in shaped if p.trunk or p.stubs or p.termination])
    note("whether the cable is thick enough for the bus", [c for p, c in shaped if p.trunk and p.trunk.thinnest], [])
    screwed = [cable for cable in survey.cables if cable.kinds[0] is cable.kinds[1] and _sized(cable)]
    note("whether it fits the terminals", screwed, [])
    if not needed:
        return None
    return UntoldView(
        survey,
        tuple(ungauged[index] for index in sorted(ungauged)),
        tuple(unmeasured[index] for index in sorted(unmeasured)),
        tuple(needed),
    )


def _sized(cable: CableView) -> bool:
    """Say whether a port of a cable takes some sizes only."""
    models = cable.survey.models
    return any(models[end.device].ports[end.port].gauges is not None for end in cable.ends)
