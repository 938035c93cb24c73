"""Safety cautions that go with findings."""

from typing import Final

WIRING: Final = (
    "Disconnect and lock out power before you touch terminals; the same enclosure may hold mains. "
    "Follow the local electrical code, and leave mains work to those licensed for it."
)
COMBUSTION: Final = (
    "Where a fuel-burning appliance takes its air from the dwelling, a ventilator that exhausts more than it "
    "supplies can draw flue gas indoors: have a qualified person test for depressurization and spillage."
)
FROST: Final = (
    "A core may be frozen in cold weather: switch off, let it thaw, never chip ice. Keep clear of moving fans."
)
ACCESS: Final = (
    "Unplug or disconnect the ventilator before opening it for its filters; set a ladder on firm ground, "
    "one out for four up."
)
