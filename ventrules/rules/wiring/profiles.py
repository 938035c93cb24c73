"""What rules about the shape of a bus rest on."""

from typing import Final

from ventrules.sources import Basis, Known
from ventrules.survey.bus_shape import ShapeView

PROFILE: Final = Basis("the bus profile of the ports", Known.PER_FINDING)


def basis_of(shape: ShapeView, part: Basis | None) -> Basis:
    """Return what a part of a bus profile rests on: its own source, the profile's, else the catalog."""
    return part or shape.profile.basis or Basis(f"bus profile {shape.profile.title!r} of the catalog", Known.CATALOG)
