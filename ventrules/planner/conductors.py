"""The remedy for the conductors of a cable, as edits: each on terminals of one role."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

import attrs

from ventrules.engine import Edit, EditKind, Remedy
from ventrules.engine.findings import Document
from ventrules.job import Carries, Conductor
from ventrules.planner.edits import remove
from ventrules.survey import CableView
from ventrules.survey.conductors import ConductorView, in_order, missing, needed, terminals
from ventrules.words import nearest

_AS_THE_JOB_HAS_THEM: Final = (
    "The conductors are as the job has them, and both devices still work after the wrong connection."
)
_ON_SITE: Final = "Power off before wiring; meter each conductor from end to end before power is back."
_TEST_BOTH: Final = "Power was on terminals for data: test both devices."


def straighten(cable: CableView) -> Remedy | None:
    """Return the remedy that joins a cable's conductors by what their terminals carry.

    Conductors that are joined rightly stay as they are; so do a list of them and its colors. There is no remedy where
    a port has two terminals of one role, where nothing tells what a conductor is, and where the cable has too few.
    """
    here, there = terminals(cable)
    if len(set(here.values())) < len(here) or len(set(there.values())) < len(there):
        return None  # two terminals of one role: which of them is meant, nobody can tell
    wrong = [conductor for conductor in in_order(cable) if conductor.wrong]
    if not wrong and not missing(cable):
        return None
    roles = _roles(cable, wrong)
    if roles is None:
        return None
    straight, free = _joined(cable, wrong, roles)
    cores = cable.cable.cores
    if cores is not None and cores < sum(1 for conductor in straight if _is_core(cable, conductor)):
        return None
    title = f"Join the cable between {cable.cable.start} and {cable.cable.end} terminal by terminal of the same role"
    assumes = f"The cable has {free} more conductor{'s' if free > 1 else ''} than the job shows. " if free else ""
    return Remedy(
        title=title,
        edits=(_edit(cable, straight),),
        check_on_site=_ON_SITE if not any(c.powers_data for c in wrong) else f"{_ON_SITE} {_TEST_BOTH}",
        assumes=assumes + _AS_THE_JOB_HAS_THEM,
    )


def _open_roles(cable: CableView) -> set[str]:
    """Return the roles that both ports have and no conductor joins rightly."""
    here, there = terminals(cable)
    kept = (conductor.joint for conductor in cable.conductors if not conductor.wrong)
    joined = {joint.start_role for joint in kept if joint is not None and joint.start_role == joint.end_role}
    return (set(here.values()) & set(there.values())) - joined


def _roles(cable: CableView, wrong: Sequence[ConductorView]) -> Mapping[int, str] | None:
    """Return the role that each wrong conductor is to have, by its index in the sequence.

    It is the one at its start, else at its end, else the one of the name most like those that the ports lack.
    What joins roles that may not meet, and belongs nowhere, has none and comes off. None where nothing tells.
    """
    free = _open_roles(cable)
    found: dict[int, str] = {}
    looks = (lambda c: c.start_role, lambda c: c.end_role, _like)
    for look in looks:
        for index, conductor in enumerate(wrong):
            role = look(conductor)
            if index not in found and role in free and role is not None:
                found[index] = role
                free.discard(role)
    lost = [index for index, conductor in enumerate(wrong) if index not in found and conductor.fits]
    wanted = [role for role in sorted(free) if needed(cable.survey, role)]
    if len(lost) == len(wanted) == 1 and wrong[lost[0]].role is None:
        return {**found, lost[0]: wanted[0]}  # the last conductor, and the last role
    return None if lost else found


def _like(conductor: ConductorView) -> str | None:
    """Return the role of the terminals whose names are most like those that a conductor is on, where both agree."""
    ends = (conductor.conductor.start, conductor.conductor.end)
    sides = zip(terminals(conductor.cable), ends, strict=True)
    roles = {side[like] for side, name in sides if name is not None and (like := nearest(name, side)) is not None}
    return roles.pop() if len(roles) == 1 else None


def _joined(cable: CableView, wrong: Sequence[ConductorView], roles: Mapping[int, str]) -> tuple[list[Conductor], int]:
    """Return the conductors as they should be, and how many there are that the job does not show."""
    start, end = ({role: terminal for terminal, role in side.items()} for side in terminals(cable))
    at = {id(conductor): index for index, conductor in enumerate(wrong)}
    lacking = [r for r in sorted(_open_roles(cable) - set(roles.values())) if needed(cable.survey, r)]

    def by_role(conductor: Conductor, role: str | None) -> Conductor:
        ends = (start[role], end[role]) if role is not None else (None, None)
        return attrs.evolve(conductor, start=ends[0], end=ends[1])

    def placed() -> Iterator[Conductor]:
        for view in cable.conductors:
            if id(view) in at:
                yield by_role(view.conductor, roles.get(at[id(view)]))
            elif not view.landed and lacking:
                yield by_role(view.conductor, lacking.pop(0))  # a spare conductor
            else:
                yield view.conductor

    known = list(placed())
    return [*known, *(by_role(Conductor(), role) for role in lacking)], len(lacking)


def _is_core(cable: CableView, conductor: Conductor) -> bool:
    here, _there = terminals(cable)
    role = cable.survey.roles.get(here.get(conductor.start or "", ""))
    on = conductor.start is not None or conductor.end is not None
    return on and (role is None or role.carries is not Carries.SCREEN)


def _edit(cable: CableView, straight: Sequence[Conductor]) -> Edit:
    here, there = terminals(cable)
    path, joined = ("cables", cable.index, "conductors"), cable.cable.conductors
    pairs = {c.start: c.end for c in straight if c.start is not None and c.end is not None}
    landed = [conductor for conductor in straight if conductor.start is not None or conductor.end is not None]
    if (joined is not None and joined.listed) or len(pairs) < len(landed):
        return Edit(EditKind.ADD, path, [_item(conductor) for conductor in straight])
    if pairs == {terminal: terminal for terminal in here if terminal in there}:
        return remove(path)
    mapping: dict[str, Document] = {terminal: pairs[terminal] for terminal in sorted(pairs)}
    return Edit(EditKind.ADD, path, mapping)


def _item(conductor: Conductor) -> dict[str, Document]:
    parts = {"from": conductor.start, "to": conductor.end, "color": conductor.color}
    return {key: value for key, value in parts.items() if value is not None}
