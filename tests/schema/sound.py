"""Sound documents of each kind."""

import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Final

from hypothesis import strategies as st

from ventrules.engine.findings import Document
from ventrules.files import load_text
from ventrules.files.resources import bus_profile_names, code_names, packaged
from ventrules.testing import job_documents

ROOT: Final = Path(__file__).parents[2]

POLICY: Final = """
ventrules-policy = 1
packs = ["ventrules"]
fail_at = "warning"
fail_unchecked = true
paths = ["lane"]
leave_out = ["lane/old/*.yaml", "**/draft-*"]
workers = 2
catalogs_outside = false

[severity]
upkeep = "error"
"settings/mode-never-used" = "left-out"

[limits.surplus]
margin = 0.3
basis = {title = "what the lane agreed on", known = "common practice"}

[[accepted]]
rule = "upkeep/no-filter-reminder"
reason = "the tenants have one of their own"
until = "2027-06-30"
files = ["lane/number-1*.yaml"]
"""


def data(text: str, name: str) -> dict[str, Document]:
    """Return the document of a text."""
    found = load_text(text, name)
    assert isinstance(found, dict)
    return found


def packaged_toml(folder: str, name: str) -> dict[str, Document]:
    """Return the document of a packaged TOML file."""
    found: dict[str, Document] = tomllib.loads(packaged(folder, f"{name}.toml").read_text(encoding="utf-8"))
    return found


@cache
def examples() -> tuple[dict[str, Document], ...]:
    """Return the example jobs that name nothing but what is packaged."""
    files = sorted((ROOT / "examples").glob("*/*.yaml")) + sorted((ROOT / "examples").glob("sound/*.json"))
    found = [data(file.read_text(encoding="utf-8"), file.name) for file in files if file.parent.name != "broken"]
    return tuple(each for each in found if each.get("catalogs") == ["demo"] and ".toml" not in str(each["target"]))


@cache
def demo() -> dict[str, Document]:
    """Return the packaged catalog, with a bus profile and a conductor role of its own."""
    catalog = data(packaged("catalogs", "demo.yaml").read_text(encoding="utf-8"), "demo.yaml")
    profile = packaged_toml("buses", bus_profile_names()[0])
    del profile["ventrules-bus"]
    own = catalog.get("profiles", {})
    assert isinstance(own, dict)
    return {
        **catalog,
        "profiles": {**own, "lane": profile},
        "roles": {"wake": {"carries": "signal", "meets": ["wake"]}},
    }


def _some_models(names: list[str]) -> dict[str, Document]:
    models = demo()["models"]
    assert isinstance(models, dict)
    return {**demo(), "models": {name: models[name] for name in names}}


def every(kind: str) -> list[dict[str, Document]]:
    """Return sound documents of a kind: all that come with the package and the examples."""
    models = demo()["models"]
    assert isinstance(models, dict)
    found: dict[str, Callable[[], list[dict[str, Document]]]] = {
        "job": lambda: [*examples()],
        "catalog": lambda: [_some_models([name]) for name in models],
        "code": lambda: [packaged_toml("codes", name) for name in code_names()],
        "profile": lambda: [packaged_toml("buses", name) for name in bus_profile_names()],
        "policy": lambda: [tomllib.loads(POLICY)],
    }
    return found[kind]()


def documents(kind: str) -> st.SearchStrategy[dict[str, Document]]:
    """Strategy for sound documents of a kind."""
    if kind == "job":
        return st.one_of(job_documents(), st.sampled_from([*examples()][::7]))
    if kind == "catalog":
        models = demo()["models"]
        assert isinstance(models, dict)
        names = st.lists(st.sampled_from(sorted(models)), min_size=1, max_size=3, unique=True)
        return names.map(_some_models)
    if kind == "policy":
        return st.just(tomllib.loads(POLICY))
    folder, names_ = ("codes", code_names()) if kind == "code" else ("buses", bus_profile_names())
    return st.sampled_from([packaged_toml(folder, name) for name in names_])
