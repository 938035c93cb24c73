"""What is in force for a run, setting by setting, and where each came from."""

from collections.abc import Iterator, Mapping
from enum import StrEnum
from typing import Final

import attrs
from attrs import frozen

from ventrules.engine import Path, Position
from ventrules.engine.findings import Document
from ventrules.policy.installed import installed_rules
from ventrules.policy.model import PolicyTable
from ventrules.policy.terms import Policy
from ventrules.words import listed

KEYS: Final = tuple(field.name for field in attrs.fields(PolicyTable))
"""The keys of a policy, in the order in which they are told."""

_UNSET: Final[Mapping[str, str]] = {
    "packs": "every installed pack",
    "severity": "each rule's own",
    "paths": "none: the command has to name them",
    "leave_out": "nothing",
    "workers": "as many as there are cores",
    "catalogs": "the packaged ones, and those that jobs name by a path",
    "codes": "the packaged ones, and those that jobs name by a path",
    "limits": "the packaged ones",
    "accepted": "nothing but what jobs let stand themselves",
    "baseline": "none",
}


class From(StrEnum):
    """Where a setting came from."""

    COMMAND_LINE = "command line"
    POLICY = "policy"
    DEFAULT = "default"


@frozen
class Setting:
    """One setting of a run.

    Attributes:
        key: Its name; parts of a table are told one by one, as `severity / upkeep`.
        value: What it is, as it would be written; None where nothing says so.
        source: Where it came from.
        position: The line that says so, in a policy.
        note: What is worth knowing besides: what holds by default, or what a rule's own severity is.
    """

    key: str
    value: Document
    source: From
    position: Position | None = None
    note: str = ""


def settings(policy: Policy | None, given: Mapping[str, Document]) -> tuple[Setting, ...]:
    """Return every key of a policy with its value, in the order of the keys.

    Args:
        policy: The policy in force, or None.
        given: What the command line says instead, by key.
    """
    return tuple(setting for key in KEYS for setting in _settings(key, policy, given))


def _settings(key: str, policy: Policy | None, given: Mapping[str, Document]) -> Iterator[Setting]:
    if key in given:
        yield Setting(key, given[key], From.COMMAND_LINE)
        return
    written = policy.written.get(key) if policy is not None else None
    if policy is None or written is None:
        default = getattr(PolicyTable(), key)
        yield Setting(
            key, default if isinstance(default, (str, bool)) else None, From.DEFAULT, note=_UNSET.get(key, "")
        )
        return
    for path, value in _parts(key, written):
        name = " / ".join(map(str, path))
        yield Setting(name, value, From.POLICY, policy.position(*path), _note(path, policy))


def _parts(key: str, value: Document) -> Iterator[tuple[Path, Document]]:
    """Yield what is told one by one: the entries of tables, the limits figure by figure, each acceptance."""
    if key == "limits" and isinstance(value, dict):
        for name, table in value.items():
            for figure, number in table.items() if isinstance(table, dict) else ():
                yield (key, name, figure), number
            if not isinstance(table, dict):
                yield (key, name), table
    elif isinstance(value, dict) and value:
        yield from (((key, name), entry) for name, entry in value.items())
    elif key == "accepted" and isinstance(value, list) and value:
        yield from (((key, number), entry) for number, entry in enumerate(value))
    else:
        yield (key,), value


def _note(path: Path, policy: Policy) -> str:
    if path[0] != "severity":
        return ""
    changed = []
    for rule in installed_rules():
        level, key = policy.level(rule)
        if level is not None and key == path[-1] and level.value != rule.severity.value:
            changed.append(f"{rule.id} is {rule.severity.value} by itself")
    return listed(changed)
