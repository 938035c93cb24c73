"""`python -m tests.fuzz TARGET --runs N`: fuzz one target, guided by what of the package its inputs reach.

Needs atheris, which is no part of any extra that tests need.
"""

import argparse
import importlib
import json
import re
import sys
import tempfile
from pathlib import Path
from typing import Final

CORPUS: Final = Path(__file__).parent / "corpus"
_WORD: Final = re.compile(r"[A-Za-z][\w.+-]{1,30}")


def _words() -> str:
    """Return a dictionary for the fuzzer: keys, units and names of the package's own files."""
    package = Path(__file__).parents[2] / "ventrules"
    texts = [*package.glob("catalogs/*.yaml"), *package.glob("codes/*.toml"), *package.glob("rules/pages/*.yaml")]
    words = {word for path in texts for word in _WORD.findall(path.read_text(encoding="utf-8"))}
    short = sorted(word for word in words if len(word) <= 20)
    return "".join(f'"{word}"\n' for word in [*short, "ventrules: 1", "ventrules-catalog: 1", "ventrules-code = 1"])


def main() -> None:
    """Fuzz until the runs are done or an input fails, which is then saved beside."""
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    asked.add_argument("target")
    asked.add_argument("--runs", type=int, default=10_000)
    asked.add_argument("--seconds", type=int, default=0, help="stop after so many seconds")
    asked.add_argument("--found", type=Path, default=None, help="folder for what is found; else a new one")
    given, more = asked.parse_known_args()  # what is not known here is for libFuzzer
    found = given.found or Path(tempfile.mkdtemp(prefix="fuzz-"))
    found.mkdir(parents=True, exist_ok=True)
    words = found / "words.dict"
    words.write_text(_words(), encoding="utf-8")
    atheris = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["ventrules"]):
        from tests.fuzz.laws import COUNTS
        from tests.fuzz.targets import TARGETS  # here, so that it is instrumented

    if given.target not in TARGETS:
        asked.error(f"no target {given.target!r}; there are {', '.join(TARGETS)}")
    inputs = found / given.target
    inputs.mkdir(exist_ok=True)
    options = [
        f"-runs={given.runs}",
        f"-max_total_time={given.seconds}",
        f"-dict={words}",
        f"-artifact_prefix={found}/{given.target}-",
        "-rss_limit_mb=500",
        "-timeout=10",
        "-print_final_stats=1",
        *more,
        str(inputs),
    ]
    saved = CORPUS / given.target
    if saved.is_dir():
        options.append(str(saved))
    target, tally = TARGETS[given.target], found / f"{given.target}.json"

    def one_input(data: bytes) -> None:
        COUNTS["inputs"] += 1
        if COUNTS["inputs"] % 1000 == 0:  # libFuzzer leaves without a word to Python
            tally.write_text(json.dumps(COUNTS), encoding="utf-8")
        target(data)

    atheris.Setup([sys.argv[0], *options], one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
