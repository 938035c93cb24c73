"""What a project has decided for all its jobs: rules, severities, limits, catalogs, and what is let stand.

Most runs have no policy and all have to start fast, so what reads policies and baselines is imported when it is wanted.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from ventrules.policy.accepting import settled, today_here
from ventrules.policy.finding import find_policy
from ventrules.policy.installed import Rules, installed_rules, packs
from ventrules.policy.model import Level, PolicyTable, ProjectAcceptance, Threshold
from ventrules.policy.terms import Policy, rules_under

if TYPE_CHECKING:
    from ventrules.policy.baseline import Baseline, read_baseline
    from ventrules.policy.reading import read_policy

_HOME_OF = {"Baseline": "baseline", "read_baseline": "baseline", "read_policy": "reading"}

__all__ = [
    "Baseline",
    "Level",
    "Policy",
    "PolicyTable",
    "ProjectAcceptance",
    "Rules",
    "Threshold",
    "find_policy",
    "installed_rules",
    "packs",
    "read_baseline",
    "read_policy",
    "rules_under",
    "settled",
    "today_here",
]


if not TYPE_CHECKING:  # a type checker sees the names above, and no others

    def __getattr__(name: str) -> object:
        """Import a name when it is first used."""
        home = _HOME_OF.get(name)
        if home is None:
            raise AttributeError(f"module 'ventrules.policy' has no attribute {name!r}")
        value: object = getattr(import_module(f"ventrules.policy.{home}"), name)
        globals()[name] = value
        return value
