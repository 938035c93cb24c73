"""What the schema of a policy says beyond the classes that hold it."""

from typing import Final

from ventrules.codes.limits import Limits
from ventrules.engine.findings import Document
from ventrules.files.code_files import packaged_limits
from ventrules.files.resources import catalog_names, code_names
from ventrules.files.schema import Format
from ventrules.files.schema_claims import Fragment
from ventrules.files.schema_words import FILE_PATTERN, SAYS_SOMETHING, SOME_PATH, anchored
from ventrules.policy.accepting import ENGINE
from ventrules.policy.limits import basis_of
from ventrules.policy.model import PolicyTable, ProjectAcceptance
from ventrules.policy.reading import VERSION, VERSION_KEY

_PATH: Final[Fragment] = {"type": "string", "pattern": anchored(SOME_PATH)}
_FILES: Final[Fragment] = {"type": "string", "pattern": anchored(FILE_PATTERN), "examples": ["lane/*.yaml"]}
_REASON: Final[Fragment] = {"type": "string", "pattern": anchored(SAYS_SOMETHING)}


def _but(names: tuple[str, ...]) -> Fragment:
    """Return the schema of a name that no packaged file has."""
    return {"$ref": "#/$defs/Name", "not": {"enum": [*names]}}


def _with_their_basis() -> dict[type, Fragment]:
    """Return, for each table of the limits, which basis a change of each of its keys needs."""
    shapes = Limits.__annotations__
    found: dict[type, Fragment] = {}
    for name, table in packaged_limits().items():
        if isinstance(table, dict):
            needs: dict[str, Document] = {
                key: [basis] for key in table if (basis := basis_of(key, table)) != key and basis in table
            }
            found[shapes[name]] = {"dependentRequired": needs}
    return found


def policy_format() -> Format:
    """Return the format of policy files."""
    return Format(
        "policy",
        "A policy of ventrules",
        PolicyTable,
        VERSION_KEY,
        VERSION,
        versioned=False,
        nulls=False,
        partial=frozenset({Limits}),
        more={
            **_with_their_basis(),
            PolicyTable: {"allOf": [{"properties": {"packs": {"minItems": 1}, "workers": {"minimum": 1}}}]},
        },
        texts={
            (PolicyTable, "paths"): _PATH,
            (PolicyTable, "baseline"): _PATH,
            (PolicyTable, "leave_out"): _FILES,
            (ProjectAcceptance, "reason"): _REASON,
            (ProjectAcceptance, "files"): _FILES,
        },
        names={
            (PolicyTable, "severity"): {"not": {"pattern": f"^{ENGINE}"}},
            (PolicyTable, "catalogs"): _but(catalog_names()),
            (PolicyTable, "codes"): _but(code_names()),
        },
    )
