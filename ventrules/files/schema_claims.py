"""What the keys of one mapping ask of each other: claims that a reader can test and a JSON Schema can say."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Final, Protocol, TypeAlias, get_origin, get_type_hints

import attrs

from ventrules.engine.findings import Document

Fragment: TypeAlias = dict[str, Document]
Part: TypeAlias = object
"""A mapping of a document, or the value of the model that was made from it."""

_EMPTY: Final[tuple[object, ...]] = (None, (), [], {})


def value_of(part: Part, key: str) -> object:
    """Return what a part has at a key; None for nothing."""
    return part.get(key) if isinstance(part, Mapping) else getattr(part, key)


class Claim(Protocol):
    """Something that holds of a part or does not."""

    def holds(self, part: Part) -> bool:
        """Say whether it holds."""

    def schema(self, shape: type) -> Fragment:
        """Return the schema of the mappings of a class for which it holds."""


class Has:
    """A key is there, with something in it."""

    def __init__(self, key: str) -> None:
        self._key = key

    def holds(self, part: Part) -> bool:
        """Say whether it is."""
        return value_of(part, self._key) not in _EMPTY

    def schema(self, shape: type) -> Fragment:
        """Return the schema of that."""
        origin = get_origin(get_type_hints(shape)[self._key])
        filled: Fragment = {"not": {"type": "null"}}
        if origin is not None and origin in (Mapping, tuple):
            filled = {"minProperties": 1} if origin is Mapping else {"minItems": 1}
        return {"required": [self._key], "properties": {self._key: filled}}


class Is:
    """A key has one of some words, written or by default."""

    def __init__(self, key: str, *words: StrEnum | bool) -> None:
        self._key = key
        self._words = words

    def holds(self, part: Part) -> bool:
        """Say whether it has."""
        return value_of(part, self._key) in self._words

    def schema(self, shape: type) -> Fragment:
        """Return the schema of that."""
        said: list[Document] = [word.value if isinstance(word, StrEnum) else word for word in self._words]
        found: Fragment = {"properties": {self._key: {"enum": said}}}
        by_default = attrs.fields_dict(shape)[self._key].default in self._words
        return found if by_default else {"required": [self._key], **found}


class Least:
    """A number is at least so much, where it is there."""

    def __init__(self, key: str, number: int) -> None:
        self._key = key
        self._number = number

    def holds(self, part: Part) -> bool:
        """Say whether it is."""
        found = value_of(part, self._key)
        return not isinstance(found, (int, float)) or found >= self._number

    def schema(self, shape: type) -> Fragment:  # noqa: ARG002 - as every claim
        """Return the schema of that."""
        return {"properties": {self._key: {"minimum": self._number}}}


class AboveZero:
    """Every number of a list is above 0."""

    def __init__(self, key: str) -> None:
        self._key = key

    def holds(self, part: Part) -> bool:
        """Say whether each is."""
        found = value_of(part, self._key)
        return not isinstance(found, (tuple, list)) or all(number > 0.0 for number in found)

    def schema(self, shape: type) -> Fragment:  # noqa: ARG002 - as every claim
        """Return the schema of that."""
        return {"properties": {self._key: {"items": {"exclusiveMinimum": 0}}}}


class Within:
    """A number within a part that a key holds is at most so much, where it is there."""

    def __init__(self, key: str, inner: str, most: int) -> None:
        self._key = key
        self._inner = inner
        self._most = most

    def holds(self, part: Part) -> bool:
        """Say whether it is."""
        found = value_of(part, self._key)
        number = value_of(found, self._inner) if found is not None else None
        return not isinstance(number, (int, float)) or number <= self._most

    def schema(self, shape: type) -> Fragment:  # noqa: ARG002 - as every claim
        """Return the schema of that."""
        return {"properties": {self._key: {"properties": {self._inner: {"maximum": self._most}}}}}


class Some:
    """One claim at least holds."""

    def __init__(self, *claims: Claim) -> None:
        self._claims = claims

    def holds(self, part: Part) -> bool:
        """Say whether one does."""
        return any(claim.holds(part) for claim in self._claims)

    def schema(self, shape: type) -> Fragment:
        """Return the schema of that."""
        return {"anyOf": [claim.schema(shape) for claim in self._claims]}


class One:
    """One claim holds, and no other."""

    def __init__(self, *claims: Claim) -> None:
        self._claims = claims

    def holds(self, part: Part) -> bool:
        """Say whether it is so."""
        return sum(claim.holds(part) for claim in self._claims) == 1

    def schema(self, shape: type) -> Fragment:
        """Return the schema of that."""
        return {"oneOf": [claim.schema(shape) for claim in self._claims]}


class Not:
    """A claim does not hold."""

    def __init__(self, claim: Claim) -> None:
        self._claim = claim

    def holds(self, part: Part) -> bool:
        """Say whether it does not."""
        return not self._claim.holds(part)

    def schema(self, shape: type) -> Fragment:
        """Return the schema of that."""
        return {"not": self._claim.schema(shape)}


class All:
    """All claims hold."""

    def __init__(self, *claims: Claim) -> None:
        self._claims = claims

    def holds(self, part: Part) -> bool:
        """Say whether all do."""
        return all(claim.holds(part) for claim in self._claims)

    def schema(self, shape: type) -> Fragment:
        """Return the schema of that."""
        return {"allOf": [claim.schema(shape) for claim in self._claims]}


class If:
    """Where one claim holds, another does."""

    def __init__(self, claim: Claim, then: Claim) -> None:
        self._claim = claim
        self._then = then

    def holds(self, part: Part) -> bool:
        """Say whether it is so."""
        return not self._claim.holds(part) or self._then.holds(part)

    def schema(self, shape: type) -> Fragment:
        """Return the schema of that."""
        return {"if": self._claim.schema(shape), "then": self._then.schema(shape)}


class Same:
    """Two claims hold both, or neither."""

    def __init__(self, one: Claim, other: Claim) -> None:
        self._one = one
        self._other = other

    def holds(self, part: Part) -> bool:
        """Say whether it is so."""
        return self._one.holds(part) is self._other.holds(part)

    def schema(self, shape: type) -> Fragment:
        """Return the schema of that."""
        other = self._other.schema(shape)
        return {"if": self._one.schema(shape), "then": other, "else": {"not": other}}
