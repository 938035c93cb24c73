"""What is drawn from the supply nets of a job, exactly and at most.

What is fed comes before what it is fed from, since that has to bear the losses too. Nets that feed each other in a
circle, and those above them, bear the nominal draws instead.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from ventrules.survey.feeding import Draw
from ventrules.survey.topology import PortRef

if TYPE_CHECKING:
    from ventrules.survey.power import SupplyView

_ROUNDING: Final = 1.0 + 1e-9


class AtMost(NamedTuple):
    """Bounds of one net.

    Attributes:
        drawing: The ports that draw.
        most_va: A bound of what its sources have to give, VA; infinite where only the voltages tell.
        fed: True when no device on it can have too little voltage.
    """

    drawing: tuple[PortRef, ...]
    most_va: float
    fed: bool


class Drawn:
    """What is drawn from each net.

    The voltages are worth knowing only where something may be wrong. So there is a bound: as long as every voltage is
    at least U, no more than S / U flows anywhere, S being all draws together, and no more than R S / U is lost on any
    way, R being all loops together. If the source's voltage less that is at least U, all voltages fall to no less than
    U on their way down from the source's own; and the wires lose no more than R (S / U)^2.

    Args:
        supplies: The nets, by number.
    """

    def __init__(self, supplies: Sequence[SupplyView]) -> None:
        self._supplies = supplies
        self._draws: dict[int, tuple[Draw, ...]] = {}
        self._at_most: dict[int, AtMost] = {}

    def draws(self, number: int) -> tuple[Draw, ...]:
        """Return what is drawn from a net, by port."""
        if number not in self._draws:
            self._settle()
        return self._draws[number]

    def _settle(self) -> None:
        """Work out the draws of all nets, those that are fed first."""
        feeding = self._supplies[0].feeding
        taken_va: dict[int, float] = {}
        for number in feeding.fed_first:
            self._draws[number] = tuple(feeding.draws(feeding.nets[number], taken_va))
            if feeding.is_fed(number):
                taken_va[number] = self._supplies[number].taken_va
        for number, net in enumerate(feeding.nets):
            if number not in self._draws:
                self._draws[number] = tuple(feeding.draws(net, taken_va))

    def at_most(self, number: int) -> AtMost:
        """Return the bounds of a net."""
        if number not in self._at_most:
            self._bound()
        return self._at_most[number]

    def _bound(self) -> None:
        """Work out the bounds of all nets, those that are fed first."""
        feeding = self._supplies[0].feeding
        most_va: dict[int, float] = {}
        for number in feeding.fed_first:
            found = self._bounds(self._supplies[number], tuple(feeding.draws(feeding.nets[number], most_va)))
            self._at_most[number] = found
            if feeding.is_fed(number):
                most_va[number] = found.most_va
        for number, net in enumerate(feeding.nets):
            if number not in self._at_most:
                self._at_most[number] = self._bounds(self._supplies[number], tuple(feeding.draws(net, most_va)))

    @staticmethod
    def _bounds(supply: SupplyView, draws: Sequence[Draw]) -> AtMost:
        drawing = tuple([draw.port for draw in draws])
        total_va = math.fsum([draw.va for draw in draws])
        loops = [cable.loop_ohm for cable in supply.cables]
        known = [loop for loop in loops if loop is not None]
        windows = [supply.survey.port_facts.window(ref) for ref in drawing]
        lowest = [window[0].lowest.v for window in windows if window is not None]
        voltage = supply.voltage
        nothing = AtMost(drawing, math.inf if total_va > 0.0 else 0.0, fed=False)
        if len(known) < len(loops) or len(lowest) < len(windows) or voltage is None or supply.doubtful:
            return nothing
        least_v = max(lowest, default=voltage.v)
        if least_v <= 0.0:
            return nothing
        ampere, ohm = total_va / least_v, math.fsum(known)
        fed = voltage.v - ohm * ampere * _ROUNDING >= least_v
        return AtMost(drawing, (total_va + ohm * ampere * ampere) * _ROUNDING, fed) if fed else nothing
