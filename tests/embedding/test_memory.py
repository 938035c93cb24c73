"""What a process keeps is what the page says: nothing of a job or of what came of it."""

import ast
import gc
import weakref
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import pytest

import ventrules
from tests.embedding.fresh import EXAMPLES, ROOT
from tests.pages import DOCS
from ventrules.files.catalogs import parse_catalog
from ventrules.files.code_files import parse_code
from ventrules.files.resources import bus_profile_names, code_names
from ventrules.units import quantity

FAULTY: Final = EXAMPLES / "faulty" / "too-little-air-in-winter.yaml"
VERBS: Final[dict[str, Callable[[ventrules.Job], object]]] = {
    "check": ventrules.check,
    "repair": ventrules.repair,
    "plan": ventrules.plan,
    "diagnose": ventrules.diagnose,
    "asked": ventrules.asked,
    "every requirement": ventrules.every_requirement,
    "document": ventrules.job_document,
    "survey": lambda job: [list(rule.examine(ventrules.Survey(job))) for rule in ventrules.installed_rules()],
}


@pytest.mark.parametrize("verb", VERBS)
def test_nothing_keeps_a_job_that_was_worked_on(verb: str) -> None:
    job = ventrules.read_job(FAULTY)
    there = weakref.ref(job)
    came = VERBS[verb](job)
    assert there() is job
    assert came is not None
    del job, came
    gc.collect()
    assert there() is None


def test_a_report_keeps_neither_the_job_nor_its_text() -> None:
    job = ventrules.read_job(FAULTY)
    assert job.origin is not None
    there = weakref.ref(job), weakref.ref(job.origin)
    report = ventrules.check(job)
    del job
    gc.collect()
    assert [each() for each in there] == [None, None]
    assert report.findings[0].position is not None


def test_nothing_keeps_a_text_that_was_refused() -> None:
    with pytest.raises(ventrules.JobFileError) as caught:
        ventrules.parse_job("ventrules: 7")
    there = weakref.ref(caught.value)
    del caught
    gc.collect()
    assert there() is None


def test_jobs_that_went_by_are_not_kept() -> None:
    seen: list[weakref.ref[ventrules.Outcome]] = []
    kept = 0
    for outcome in ventrules.check_many([FAULTY] * 12):
        seen.append(weakref.ref(outcome))
        gc.collect()
        kept = max(kept, sum(each() is not None for each in seen))
    assert len(seen) == 12
    assert kept <= 2


# Caches


FIXED: Final = {  # what may be asked for is fixed by the package itself; a name that is none raises, and is not kept
    "shape": "a class of the model",
    "kind": "a kind of document",
    "name": "a packaged code or bus profile",
}


def unbounded(tree: ast.AST) -> Iterator[str]:
    """Yield the argument of each function whose results are all kept."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and node.args.args:
            kept = [ast.unparse(decorator) for decorator in node.decorator_list]
            if any(each == "cache" or (each.startswith("lru_cache") and "None" in each) for each in kept):
                yield ", ".join(argument.arg for argument in node.args.args)


def test_the_search_for_caches_finds_them() -> None:
    code = "@cache\ndef a(x): ...\n@cache\ndef b(): ...\n@lru_cache(maxsize=None)\ndef c(y, z): ...\n"
    assert list(unbounded(ast.parse(f"{code}@lru_cache(9)\ndef d(x): ..."))) == ["x", "y, z"]


def test_every_cache_has_an_end() -> None:
    sources = [path for path in sorted((ROOT / "ventrules").rglob("*.py")) if "testing" not in path.parts]
    found = {name for path in sources for name in unbounded(ast.parse(path.read_text(encoding="utf-8")))}
    assert found <= FIXED.keys()
    assert len(code_names()) + len(bus_profile_names()) < 100


def test_caches_are_as_large_as_the_page_says() -> None:
    text = (DOCS / "embedding.md").read_text(encoding="utf-8")
    assert f"the last {parse_catalog.cache_info().maxsize}, by their text" in text
    assert f"the last {parse_code.cache_info().maxsize}, likewise" in text
    assert f"the first {quantity._MOST_CACHED} |" in text


def test_a_catalog_that_changes_is_seen(tmp_path: Path) -> None:
    catalog = (EXAMPLES / "sound" / "lane-catalog.yaml").read_text(encoding="utf-8")
    (job,) = [
        path for path in (EXAMPLES / "sound").glob("number-*") if "lane-catalog" in path.read_text(encoding="utf-8")
    ]
    (tmp_path / job.name).write_bytes(job.read_bytes())
    (tmp_path / "lane-catalog.yaml").write_text(catalog, encoding="utf-8")
    before = ventrules.read_job(tmp_path / job.name)
    (tmp_path / "lane-catalog.yaml").write_text("ventrules-catalog: 1\ncatalog: lane\nmodels: {}\n", encoding="utf-8")
    with pytest.raises(ventrules.JobFileError):
        ventrules.read_job(tmp_path / job.name)
    (tmp_path / "lane-catalog.yaml").write_text(catalog, encoding="utf-8")
    assert ventrules.read_job(tmp_path / job.name) == before
