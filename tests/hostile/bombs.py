"""Texts made to take all the time and memory there is, each of about a size that is asked for."""

import json
from collections.abc import Callable, Mapping
from typing import Final

from ventrules.engine.findings import Document

LARGEST: Final = 16 * 1024 * 1024 - 1024
"""The largest size that the reader takes, with some room."""

_BASE: Final[dict[str, Document]] = {
    "ventrules": 1,
    "job": "Quarry Lane 7",
    "catalogs": ["demo"],
    "dwelling": {"floor_area": "2150 ft2", "bedrooms": 3},
    "target": {"airflow": "60 cfm", "window": "4 h"},
    "devices": {
        "control": {"model": "demo-control"},
        "furnace": {"model": "demo-furnace"},
        "module": {"model": "demo-interface"},
        "ventilator": {"model": "demo-erv-130"},
    },
    "modes": {"day": "occupied"},
}


def _job(**parts: Document) -> str:
    return json.dumps({**_BASE, **parts}, separators=(",", ":"))


def _filled(piece: str, size: int) -> str:
    return piece * (size // len(piece) + 1)


def _devices(count: int, model: str) -> dict[str, Document]:
    devices: dict[str, Document] = {f"d{number}": {"model": model} for number in range(count)}
    return {"control": {"model": "demo-control"}, **devices}


def _wired(size: int, model: str, port: str, steps: tuple[int, ...]) -> str:
    """A job whose devices are joined each with those so many steps on: a chain, a ring, rings within rings."""
    count = max(size // (30 + len(model) + 75 * len(steps)), 4)
    cables: list[Document] = [
        {"from": f"d{number}.{port}", "to": f"d{(number + step) % count}.{port}", "gauge": "18 AWG", "length": "3 ft"}
        for number in range(count)
        for step in steps
    ]
    return _job(devices=_devices(count, model), cables=cables)


def _many_keys(size: int) -> str:
    return json.dumps({**_BASE, **{f"key{number:07}": number for number in range(size // 24)}})


def _many_programs(size: int) -> str:
    modes: dict[str, Document] = {f"m{number}": "occupied" for number in range(size // 90)}
    programs: dict[str, Document] = {
        mode: {"heating": {"low": "45 min"}, "cooling": {"low": "45 min"}} for mode in modes
    }
    return _job(modes=modes, settings={"ventilator": {"programs": programs}})


def _many_modes(size: int) -> str:
    modes: dict[str, Document] = {f"m{number}": "occupied" for number in range(size // 20)}
    times = {f"{minute // 60:02}:{minute % 60:02}": f"m{minute % max(len(modes), 1)}" for minute in range(1440)}
    return _job(modes=modes, calendar={"every-day": {time: mode for time, mode in times.items() if mode in modes}})


def _many_rooms(size: int) -> str:
    rooms: dict[str, Document] = {f"room {number}": {"kind": "bath"} for number in range(size // 32)}
    return _job(dwelling={"floor_area": "2150 ft2", "bedrooms": 3, "rooms": rooms}, target={"code": "gb-eng-2021"})


def _wrong_ends(size: int) -> str:
    count = size // 90
    cables: list[Document] = [{"from": f"x{number}.system", "to": f"y{number}.bus"} for number in range(count)]
    return _job(devices=_devices(count, "demo-erv-130"), cables=cables)


def _aliases(size: int) -> str:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, max(size // 60, 2))]
    return "\n".join(lines)


def _long_names(size: int) -> str:
    name = "x" * (size // 4)
    return _job(devices={name: {"model": name}, "y": {"model": "demo-erv-130", name: name}})


def _many_models(size: int) -> str:
    model = {"role": "ventilator", "kind": "hrv", "ports": {"bus": {"bus": "ventilator-bus", "dialects": ["pebble"]}},
             "stages": {"low": {"supply": "30 L/s", "exhaust": "30 L/s"}}}  # fmt: skip
    return json.dumps({"ventrules-catalog": 1, "catalog": "x", "models": {f"m{n}": model for n in range(size // 180)}})


CATALOG_BOMBS: Final[Mapping[str, Callable[[int], str]]] = {
    "catalog: models": _many_models,
    "catalog: unknown keys": lambda size: _many_models(size).replace("30 L/s", "30 x").replace("kind", "knd"),
}
"""Catalogs."""

CODE_BOMBS: Final[Mapping[str, Callable[[int], str]]] = {
    "code: keys": lambda size: "".join(f"a{n} = 1\n" for n in range(size // 12)),
    "code: dotted": lambda size: "a." * (size // 2) + "a = 1",
    "code: tables": lambda size: "".join(f"[a{n}]\n" for n in range(size // 10)),
    "code: tables in tables": lambda size: "".join(f"[{'a.' * n}a]\n" for n in range(int(size**0.5))),
    "code: list of tables": lambda size: "[[examples]]\n" * (size // 13),
    "code: lists": lambda size: "a = " + "[" * size,
    "code: inline tables": lambda size: "a = " + "{a=" * (size // 3),
    "code: a header of blanks": lambda size: f"ventrules-code = 1\na = '''\n[{' ' * size}\n'''",
    "code: text": lambda size: f'ventrules-code = 1\na = "{"x" * size}"',
    "code: escapes": lambda size: f'ventrules-code = 1\na = "{chr(92) * 2 * (size // 2)}"',
    "code: line breaks": lambda size: "\n" * size + "x",
    "code: digits": lambda size: "a = " + "1" * size,
    "code: numbers": lambda size: "a = [" + "1," * (size // 2) + "]",
}
"""Code files."""

HEADS: Final[Mapping[str, Callable[[int], str]]] = {
    "head: line breaks": lambda size: "\n" * size,
    "head: blanks": lambda size: " " * size,
    "head: commas and blanks": lambda size: ", " * (size // 2),
    "head: quotes": lambda size: "{'" * (size // 2),
}
"""Beginnings of files that a folder is searched for."""

BOMBS: Final[Mapping[str, Callable[[int], str]]] = {
    "brackets": lambda size: "[" * size,
    "brackets in JSON": lambda size: '{"a":' * (size // 5),
    "brackets, closed": lambda size: "[" * (size // 2) + "]" * (size // 2),
    "block lists in each other": lambda size: "- " * (size // 2),
    "mappings indented deeper and deeper": lambda size: "".join(
        " " * n + "a:\n" for n in range(int((2 * size) ** 0.5))
    ),
    "aliases of aliases": _aliases,
    "anchors": lambda size: "".join(f"- &a{n} x\n" for n in range(size // 14)),
    "question marks": lambda size: "? " * (size // 2),
    "one word": lambda size: "x" * size,
    "one long line": lambda size: "job: " + "x " * (size // 2),
    "a quoted text without end": lambda size: '"' + "x" * size,
    "backslashes": lambda size: '"' + "\\\\" * (size // 2),
    "a long key": lambda size: f'{{"{"x" * size}": 1}}',
    "blanks": lambda size: " " * size + "x",
    "line breaks": lambda size: "\n" * size + "x: y",
    "comments": lambda size: _filled("# no more than a comment\n", size),
    "documents": lambda size: _filled("--- x\n", size),
    "digits": lambda size: "1" * size,
    "digits in JSON": lambda size: f'{{"ventrules": {"1" * size}}}',
    "an exponent": lambda size: f'{{"ventrules": 1e{"1" * size}}}',
    "a long text and the same key": lambda size: f'{{"a": "{"x" * size}", "a": 1}}',
    "escapes and the same key": lambda size: f'{{"a": "{chr(92) * 2 * (size // 2)}", "a": 1}}',
    "a long text in a job": lambda size: _job(notes="x" * size, cables=[{"from": "control.system", "to": "none.x"}]),
    "a long title": lambda size: _job(job="x " * (size // 2)),
    "empty mappings": lambda size: "[" + "{}," * (size // 3) + "{}]",
    "small mappings": lambda size: "[" + '{"a":1},' * (size // 8) + "{}]",
    "nulls": lambda size: "[" + "null," * (size // 5) + "null]",
    "unknown keys": _many_keys,
    "the same key": lambda size: "{" + '"a":1,' * (size // 6) + '"a":1}',
    "long names": _long_names,
    "devices without cables": lambda size: _job(devices=_devices(size // 36, "demo-erv-130")),
    "devices of unknown models": lambda size: _job(devices=_devices(size // 30, "demo-x")),
    "controllers": lambda size: _job(devices=_devices(size // 36, "demo-control")),
    "cables to nowhere": _wrong_ends,
    "a chain of modules": lambda size: _wired(size, "demo-interface", "system", (1,)),
    "rings": lambda size: _wired(size, "demo-furnace", "system", (1, 2)),
    "rings of ventilators": lambda size: _wired(size, "demo-erv-130", "bus", (1, 7)),
    "the same cable again": lambda size: _job(
        cables=[{"from": "control.system", "to": "furnace.system"}] * (size // 45)
    ),
    "modes": _many_modes,
    "programs": _many_programs,
    "rooms": _many_rooms,
}
"""What each is, and how it is made."""

ALL: Final = {**BOMBS, **CATALOG_BOMBS, **CODE_BOMBS, **HEADS}
"""Every one of them."""
