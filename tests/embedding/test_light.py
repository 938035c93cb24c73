"""Whoever imports the library gets the library and nothing else: no weight, no side effects, no warnings."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest

import ventrules
from tests.embedding.fresh import EXAMPLES, answer, run

HEAVY: Final = frozenset(
    {"rich", "click", "numpy", "scipy", "networkx", "ruamel", "cattrs", "jsonpatch", "yaml", "hypothesis", "pytest"}
)
NEVER: Final = HEAVY - {"cattrs", "jsonpatch", "yaml"}  # these three read files and apply remedies
TOP: Final = "print(json.dumps(sorted({name.partition('.')[0] for name in sys.modules})))"


def loaded_after(code: str) -> set[str]:
    """Return the top-level modules that an interpreter has loaded after some code."""
    return set(answer(f"import json, sys\n{code}\n{TOP}"))


def test_importing_it_loads_nothing_but_a_few_modules_of_the_standard_library() -> None:
    before = loaded_after("")
    extra = loaded_after("import ventrules") - before
    assert "ventrules" in extra
    assert not extra & HEAVY
    assert extra - {"ventrules"} <= sys.stdlib_module_names
    assert answer("import json, sys, ventrules\nprint(json.dumps([m for m in sys.modules if 'ventrules' in m]))") == [
        "ventrules"
    ]


def test_no_public_name_brings_the_command_line_graphs_or_arrays_along() -> None:
    loaded = loaded_after(f"import ventrules\n{USING}")
    assert "attrs" in loaded
    assert not loaded & NEVER


USING: Final = "for name in ventrules.__all__: getattr(ventrules, name)\n"
CHECKING: Final = (
    f"job = ventrules.read_job({str(EXAMPLES / 'faulty' / 'interface-module-missing.yaml')!r})\n"
    "report = ventrules.check(job); report.as_dict()\n"
)


def test_reading_and_checking_load_neither_the_command_line_nor_graphs() -> None:
    loaded = loaded_after(f"import ventrules\n{CHECKING}")
    assert "cattrs" in loaded
    assert not loaded & {"rich", "click", "networkx", "scipy", "ruamel", "hypothesis", "pytest"}


STATE: Final = """
import gc, json, locale, logging, os, signal, sys, threading, warnings

def state():
    return {
        "handlers": [repr(each) for each in logging.root.handlers],
        "level": logging.root.level,
        "disabled": logging.root.manager.disable,
        "class": repr(logging.getLoggerClass()),
        "filters": repr(warnings.filters),
        "showwarning": repr(warnings.showwarning),
        "threads": [each.name for each in threading.enumerate()],
        "environment": dict(os.environ),
        "signals": {int(each): repr(signal.getsignal(each)) for each in signal.valid_signals()},
        "locale": locale.setlocale(locale.LC_ALL),
        "folder": os.getcwd(),
        "mask": os.umask(os.umask(0)),
        "recursion": sys.getrecursionlimit(),
        "switching": sys.getswitchinterval(),
        "hooks": [repr(each) for each in (sys.excepthook, sys.displayhook, sys.unraisablehook, threading.excepthook)],
        "tracing": [repr(sys.gettrace()), repr(sys.getprofile())],
        "path": sys.path[:],
        "finders": [repr(each) for each in sys.meta_path],
        "collecting": [gc.isenabled(), *gc.get_threshold()],
        "streams": [id(each) for each in (sys.stdin, sys.stdout, sys.stderr)],
        "digits": sys.get_int_max_str_digits(),
    }

before = state()
"""


@pytest.mark.parametrize("what", ["", USING, USING + CHECKING], ids=["imported", "every name", "a job checked"])
def test_nothing_of_the_process_is_changed(what: str, tmp_path: Path) -> None:
    code = f"{STATE}\nimport ventrules\n{what}\nafter = state()\nprint(json.dumps([before, after]))"
    before, after = answer(code, folder=tmp_path)
    assert len(before) > 20
    assert after == before
    assert list(tmp_path.iterdir()) == []


def test_planning_changes_nothing_but_what_arrays_themselves_change(tmp_path: Path) -> None:
    """NumPy sets filters for warnings as it is imported, so it is imported beforehand."""
    work = "ventrules.plan(job); ventrules.repair(job); ventrules.diagnose(job); ventrules.every_requirement(job)"
    code = f"import numpy\n{STATE}\nimport ventrules\n{CHECKING}{work}\nprint(json.dumps([before, state()]))"
    before, after = answer(code, folder=tmp_path)
    assert after == before
    assert list(tmp_path.iterdir()) == []


def test_the_look_at_the_process_sees_what_is_changed(tmp_path: Path) -> None:
    code = f"{STATE}\nlogging.basicConfig(); os.environ['LANE'] = '7'\nprint(json.dumps([before, state()]))"
    before, after = answer(code, folder=tmp_path)
    assert {key for key in before if before[key] != after[key]} == {"handlers", "environment"}


def test_nothing_is_logged_and_no_logger_of_its_own_is_set_up() -> None:
    code = (
        "import json, logging; logging.basicConfig(level=1); import ventrules\n"
        f"{USING}{CHECKING}"
        "own = [n for n in logging.root.manager.loggerDict if n.startswith('ventrules')]\n"
        "print(json.dumps(own))"
    )
    assert answer(code) == []  # and anything logged would have gone to standard error


def test_it_can_be_imported_where_the_working_folder_is_gone(tmp_path: Path) -> None:
    gone = tmp_path / "gone"
    gone.mkdir()
    going = f"import os; os.chdir({str(gone)!r}); os.rmdir({str(gone)!r})\n"
    assert run(f"{going}import ventrules\n{USING}{CHECKING}print(report.ok)").strip() == "False"
    assert not gone.exists()


# The whole of it, with warnings as errors

EVERYTHING: Final = f"""
import copy, pickle, sys
import ventrules
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

examples = Path({str(EXAMPLES)!r})
text = (examples / "sound" / "number-02.yaml").read_text(encoding="utf-8")
jobs = [ventrules.read_job(examples / "faulty" / name) for name in (
    "too-little-air-in-winter.yaml", "interface-module-missing.yaml", "fan-does-not-turn.yaml")]
jobs += [ventrules.parse_job(text), ventrules.job_from_document(ventrules.job_document(jobs[0]))]
for job in jobs:
    report = ventrules.check(job, registry=ventrules.installed_rules())
    report.as_dict()
    for finding in report.findings:
        if finding.remedy is not None:
            ventrules.applied(job, finding.remedy)
    pickle.loads(pickle.dumps((job, report)))
    ventrules.repair(job, purchases=True).left
    ventrules.plan(job)
    ventrules.diagnose(job)
    ventrules.asked(job)
    ventrules.every_requirement(job)
ventrules.plan(jobs[0], least="energy", hold=["out"])
for wrong in ("", "ventrules: 1", "{{"):
    try:
        ventrules.parse_job(wrong)
    except ventrules.JobFileError as error:
        str(error)
paths = sorted((examples / "sound").glob("number-0*"))
list(ventrules.check_many(paths))
with ThreadPoolExecutor(2) as threads:
    print(len(list(ventrules.check_many(paths, executor=threads))) == len(paths))
"""


def test_nothing_warns() -> None:
    """Development mode makes warnings of what is left open, too."""
    printed = run(EVERYTHING, "-X", "dev", "-W", "error")
    assert printed.strip() == "True"


def test_the_run_with_warnings_as_errors_sees_a_warning() -> None:
    code = f"{EVERYTHING}\nimport warnings\nwarnings.warn('going', DeprecationWarning)"
    done = subprocess.run(
        [sys.executable, "-X", "dev", "-W", "error", "-c", code], capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert "DeprecationWarning: going" in done.stderr


# Names of the module


def test_a_star_brings_the_public_names_and_no_other() -> None:
    code = "import json\nhad = {*dir(), 'had'}\nfrom ventrules import *\nprint(json.dumps(sorted({*dir()} - had)))"
    assert answer(code) == sorted(ventrules.__all__)


def test_dir_lists_the_public_names_before_they_are_imported() -> None:
    code = "import json, sys, ventrules\nprint(json.dumps([dir(ventrules), sorted(sys.modules)]))"
    listed, loaded = answer(code)
    assert set(ventrules.__all__) <= set(listed)
    assert not [name for name in loaded if name.startswith("ventrules.")]


def test_a_misspelled_name_is_answered_with_the_nearest_one() -> None:
    for wrong, right in (("chekc", "check"), ("read_jobs", "read_job"), ("Reports", "Report")):
        done = subprocess.run(
            [sys.executable, "-c", f"import ventrules\nventrules.{wrong}"], capture_output=True, text=True, check=False
        )
        assert f"AttributeError: module 'ventrules' has no attribute {wrong!r}. Did you mean: {right!r}?" in done.stderr


def test_asking_whether_a_name_is_there_is_answered_plainly() -> None:
    code = (
        "import json, sys, ventrules\n"
        "absent = [hasattr(ventrules, n) for n in ('nothing', '__path_hooks__', '_private', '')]\n"
        "print(json.dumps([absent, getattr(ventrules, 'nothing', 7), sorted(sys.modules)]))"
    )
    absent, default, loaded = answer(code)
    assert not any(absent)
    assert default == 7
    assert not [name for name in loaded if name.startswith("ventrules.")]


def test_no_module_stands_where_a_public_name_is() -> None:
    code = (
        "import json, pkgutil, importlib, types, ventrules\n"
        "for info in pkgutil.walk_packages(ventrules.__path__, 'ventrules.'):\n"
        "    if '__main__' not in info.name and '.testing' not in info.name: importlib.import_module(info.name)\n"
        "print(json.dumps([n for n in ventrules.__all__ if isinstance(getattr(ventrules, n), types.ModuleType)]))"
    )
    assert answer(code) == []


def test_the_version_is_that_of_the_package() -> None:
    from importlib.metadata import version

    assert ventrules.__version__ == version("ventrules")
    assert json.loads(json.dumps(ventrules.__version__)) == ventrules.__version__
