"""Bus remedies as edits: terminate the two ends, bias and earth once, give a free address."""

from typing import Final

from ventrules.engine import Edit, Path, Remedy
from ventrules.job import Layout, Resistors
from ventrules.planner.edits import put, put_all, remove
from ventrules.survey.bus_shape import Fitted, ShapeView, StationView
from ventrules.survey.topology import PortRef
from ventrules.units import Resistance, at_least, at_most
from ventrules.words import listed

_POWER_OFF: Final = "Power off first; then measure between the two data conductors: both terminators in parallel."


def in_range(asked: Resistors, value: Resistance) -> bool:
    """Say whether a resistor has a value that a bus profile allows."""
    return at_least(value.ohm, asked.lowest.ohm) and at_most(value.ohm, asked.highest.ohm)


def _setting(port: PortRef, key: str) -> Path:
    return ("devices", port.device, "ports", port.port, key)


def terminate(shape: ShapeView) -> Remedy | None:
    """Return the remedy that leaves one terminating resistor at each end of a line and none elsewhere.

    There is none where a resistor that is built in is at the wrong place, or where it is not known which the ends are.
    """
    asked, ends = shape.profile.termination, shape.trunk_ends
    if asked is None or ends is None or shape.untold or shape.profile.layout is Layout.FREE or asked.least < len(ends):
        return None
    built_in = [fitted for fitted in shape.terminations if fitted.built_in]
    if any(fitted.port not in ends or not in_range(asked, fitted.value) for fitted in built_in):
        return None
    done = {fitted.port for fitted in built_in}
    on_site = {fitted.port: fitted.value for fitted in shape.terminations if not fitted.built_in}
    sound = sorted((one.value for one in shape.terminations if in_range(asked, one.value)), key=lambda value: value.ohm)
    right = sound[0] if sound else asked.usual or asked.highest
    fit = [end for end in ends if end not in done and not (end in on_site and in_range(asked, on_site[end]))]
    take_out = [port for port in on_site if port not in ends or port in done]
    edits = [
        *(remove(_setting(port, "termination")) for port in take_out),
        *put_all(shape.survey.job, [(_setting(end, "termination"), str(right)) for end in fit]),
    ]
    steps = [f"take out the terminator at {port}" for port in take_out] + [
        f"terminate {end} with {right}" for end in fit
    ]
    return _remedy(steps, edits, "A terminator can be fitted or switched at each of these ports.", _POWER_OFF)


def bias_once(shape: ShapeView) -> Remedy | None:
    """Return the remedy that takes bias resistors out where there are too many of them."""
    asked = shape.profile.bias
    if asked is None or len(shape.biases) <= asked.most:
        return None
    kept = sorted(shape.biases, key=lambda fitted: _last_to_go(shape, asked, fitted))[: asked.most]
    gone = [fitted for fitted in shape.biases if fitted not in kept]
    if any(fitted.built_in for fitted in gone) or not all(in_range(asked, fitted.value) for fitted in kept):
        return None
    return _remedy(
        [f"take out the bias resistors at {fitted.port}" for fitted in gone],
        [remove(_setting(fitted.port, "bias")) for fitted in gone],
        "The bias resistors can be taken out or switched off there.",
        "Power off first; then see that the bus still answers.",
    )


def _last_to_go(shape: ShapeView, asked: Resistors, fitted: Fitted) -> tuple[bool, bool, bool, PortRef]:
    return (not fitted.built_in, not in_range(asked, fitted.value), fitted.port != shape.head, fitted.port)


def earth_once(shape: ShapeView) -> Remedy | None:
    """Return the remedy that earths a shield at as many places as it should be, at the controller or bridge first."""
    asked, earthed = shape.profile.shield, shape.earthed
    if asked is None:
        return None
    best_first = sorted(shape.ports, key=lambda port: (port != shape.head, port))
    gone = [port for port in best_first if port in earthed][asked.most :]
    new = [port for port in best_first if port not in earthed][: max(asked.least - len(earthed), 0)]
    return _remedy(
        [f"lift the shield from earth at {port}" for port in gone] + [f"earth the shield at {port}" for port in new],
        [
            *(remove(_setting(port, "shield_earthed")) for port in gone),
            *put_all(shape.survey.job, [(_setting(port, "shield_earthed"), True) for port in new]),
        ],
        "The shield goes through at every device on the way, and touches no metal there.",
        "Power off first; with the one earth lifted, a meter shows no way from shield to earth.",
    )


def give_address(station: StationView) -> Remedy | None:
    """Return the remedy that gives a device an address that is free on its bus and that no other is offered."""
    free = station.free_address
    if free is None:
        return None
    return Remedy(
        title=f"Set {station.port} to address {free}",
        edits=put(station.shape.survey.job, _setting(station.port, "address"), free),
        check_on_site="Set it on the device itself; then see that the bridge finds the device.",
        assumes=f"The device can be set to address {free}, and nothing else on the bus has it.",
    )


def _remedy(steps: list[str], edits: list[Edit], assumes: str, check_on_site: str) -> Remedy | None:
    if not edits:
        return None
    title = listed(steps)
    return Remedy(title=title[0].upper() + title[1:], edits=tuple(edits), check_on_site=check_on_site, assumes=assumes)
