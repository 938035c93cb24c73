"""The public names, as they can be used: signatures, attributes and members, in words that do not depend on Python.

To write down what they are now, after additions or for a new major version:

    python -m tests.embedding.public_api
"""

import ast
import inspect
import re
import types
from collections.abc import Callable, Iterator, Mapping
from enum import Enum
from pathlib import Path
from typing import Any, Final, Union, get_args, get_origin, get_type_hints

import attrs

import ventrules
from ventrules.engine import ENGINE_INTERFACE
from ventrules.engine.findings import Document
from ventrules.engine.run import ENGINE_FINDINGS
from ventrules.survey import CableView, Survey

HERE: Final = Path(__file__).parent
API: Final = HERE / "public_api.txt"
RULES: Final = HERE / "rule_ids.txt"
_KNOWN_TO_CHECKERS: Final = {"CableView": CableView, "Document": Document, "Survey": Survey}
# An alias that names itself is a type without a name once it is looked up.
_DOCUMENT: Final = get_args(get_type_hints(ventrules.job_document, localns=_KNOWN_TO_CHECKERS)["return"])[1]


def type_name(hint: object) -> str:
    """Return a type as it is written in code, without its module."""
    if hint is None or hint is type(None):
        return "None"
    if hint == _DOCUMENT:
        return "Document"
    if isinstance(hint, list):
        return f"[{', '.join(map(type_name, hint))}]"
    origin, inside = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        return " | ".join(sorted(map(type_name, inside), key=lambda name: name == "None"))
    if origin is not None:
        names = ["..." if each is Ellipsis else type_name(each) for each in inside]
        return f"{origin.__name__}[{', '.join(names)}]"
    return str(getattr(hint, "__forward_arg__", "") or getattr(hint, "__name__", hint))


def _value(default: object) -> str:
    if default is attrs.NOTHING:
        return "..."
    return f"{type(default).__name__}.{default.name}" if isinstance(default, Enum) else repr(default)


def signature(function: Callable[..., object]) -> str:
    """Return a function's arguments and what it returns."""
    hints = get_type_hints(inspect.unwrap(function), localns=_KNOWN_TO_CHECKERS)
    parts: list[str] = []
    starred = False
    for argument in inspect.signature(function).parameters.values():
        if argument.name in ("self", "cls"):
            continue
        if argument.kind is argument.KEYWORD_ONLY and not starred:
            starred = True
            parts.append("*")
        stars = "*" * (argument.kind is argument.VAR_POSITIONAL) or "**" * (argument.kind is argument.VAR_KEYWORD)
        starred = starred or stars == "*"
        given = f": {type_name(hints[argument.name])}" if argument.name in hints else ""
        default = "" if argument.default is argument.empty else f" = {_value(argument.default)}"
        parts.append(f"{stars}{argument.name}{given}{default}")
    return f"({', '.join(parts)}) -> {type_name(hints.get('return'))}"


def describe(name: str, value: object) -> Iterator[str]:
    """Yield the lines of one public name: itself, then each member."""
    if not isinstance(value, type):
        yield f"def {name}{signature(value)}" if callable(value) else f"{name}: {type_name(type(value))}"
        return
    yield f"class {name}({', '.join(base.__name__ for base in value.__bases__)})"
    for line in sorted(set(_members(value))):
        yield f"  {name}.{line}"


def _members(kind: type[Any]) -> Iterator[str]:
    if issubclass(kind, Enum):
        yield from (f"{member.name} = {member.value!r}" for member in kind)
    fields = attrs.fields(kind) if attrs.has(kind) else ()
    hints = get_type_hints(kind, localns=_KNOWN_TO_CHECKERS)
    if "__init__" in vars(kind):
        yield f"__init__{signature(kind.__init__)}"
    yield from (f"{each.name}: {type_name(hints[each.name])}" for each in fields)
    own = {each.name for each in fields}
    for base in kind.__mro__:
        if base.__module__ in {"builtins", "enum", "typing"}:
            continue
        for name, member in vars(base).items():
            if name in own or name.startswith("_") or (isinstance(member, kind) and issubclass(kind, Enum)):
                continue
            own.add(name)
            yield from _member(name, member, hints)


def _member(name: str, member: object, hints: Mapping[str, object]) -> Iterator[str]:
    if isinstance(member, (classmethod, staticmethod)):
        yield f"{name}{signature(member.__func__)}  # {type(member).__name__}"
    elif inspect.isfunction(member):
        yield f"{name}{signature(member)}"
    else:
        getter = getattr(member, "fget", None) or getattr(member, "func", None)
        if getter is None:  # worked out once and kept in a slot, or a plain attribute of the class
            yield f"{name}: {type_name(hints.get(name, type(member)))}"
        else:
            yield f"{name}: {type_name(get_type_hints(getter, localns=_KNOWN_TO_CHECKERS)['return'])}"


def public_api() -> list[str]:
    """Return the public names with all that can be used of them, a line each."""
    lines = [line for name in sorted(ventrules.__all__) for line in describe(name, getattr(ventrules, name))]
    return [*lines, f"engine interface {ENGINE_INTERFACE}"]


def rule_ids() -> list[str]:
    """Return the ids of all that can be found, sorted."""
    packaged = {rule.id for rule in ventrules.installed_rules() if _ours(rule.id)}
    return sorted({*packaged, *ENGINE_FINDINGS})


def _ours(name: str) -> bool:
    return ventrules.installed_rules().packs[name] == "ventrules"


def _named(lines: list[str]) -> dict[str, str]:
    """Return lines by what they are about: a function, a class, or a member of one."""
    return {re.split(r"[(:]| = ", line.strip().removeprefix("def "))[0]: line for line in lines}


def _call(line: str) -> ast.FunctionDef | None:
    head = re.sub(r"^\s*(def )?[\w.]*?(\w+)\(", r"def \2(", line)
    if not head.startswith("def "):
        return None
    (found,) = ast.parse(f"{head.partition('  #')[0]}: ...").body
    assert isinstance(found, ast.FunctionDef)
    return found


def _only_grown(old: str, new: str) -> bool:
    """Say whether a signature has the arguments it had, and beside them only others that may be left out."""
    before, now = _call(old), _call(new)
    if before is None or now is None or ast.dump(before.returns or before.args) != ast.dump(now.returns or now.args):
        return False

    old_places, old_names = _arguments(before)
    places, names = _arguments(now)
    first = len(old_places)
    added = [*places[first:], *(text for name, text in names.items() if name not in old_names)]
    return (
        places[:first] == old_places
        and old_names.items() <= names.items()
        and all(" = " in text or "*" in text for text in added)
    )


def _arguments(call: ast.FunctionDef) -> tuple[list[str], dict[str, str]]:
    """Return the arguments that are found by their places, and those that are found by their names.

    A class is made with keywords for whatever has a default, so those may stand anywhere.
    """
    given = call.args
    texts = [ast.unparse(argument) for argument in given.args]
    least = len(texts) - len(given.defaults)
    defaults = [f" = {ast.unparse(default)}" for default in given.defaults]
    places = [*texts[:least], *(text + default for text, default in zip(texts[least:], defaults, strict=True))]
    places += [f"*{ast.unparse(given.vararg)}"] if given.vararg else []
    names = {
        argument.arg: ast.unparse(argument) + (f" = {ast.unparse(default)}" if default else "")
        for argument, default in zip(given.kwonlyargs, given.kw_defaults, strict=True)
    }
    if call.name == "__init__":
        names |= {argument.arg: text for argument, text in zip(given.args[least:], places[least:], strict=False)}
        places = places[:least]
    return places, names


def broken(before: list[str], now: list[str]) -> list[str]:
    """Return the lines that are gone or say something else now, where more than what may be left out was added."""
    there = _named(now)
    return [
        line
        for name, line in _named(before).items()
        if line not in now and not (name in there and _only_grown(line, there[name]))
    ]


def differences(before: list[str], now: list[str]) -> str:
    """Return what is gone and what is new, a line each."""
    gone = [f"- {line}" for line in before if line not in now]
    new = [f"+ {line}" for line in now if line not in before]
    return "\n".join([*gone, *new])


def read(file: Path) -> list[str]:
    """Return the lines of a file."""
    return file.read_text(encoding="utf-8").splitlines()


if __name__ == "__main__":
    API.write_text("\n".join(public_api()) + "\n", encoding="utf-8")
    RULES.write_text("\n".join(rule_ids()) + "\n", encoding="utf-8")
