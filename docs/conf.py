"""Settings of the documentation site."""

import sys
from pathlib import Path
from typing import Any, Final

from sphinx.application import Sphinx
from sphinx.environment import BuildEnvironment

HERE: Final = Path(__file__).parent
sys.path.insert(0, str(HERE))

import _generate  # noqa: E402 - it lies beside this file

from ventrules import __version__  # noqa: E402

project = "ventrules"
author = "the ventrules developers"
copyright = "the ventrules developers"
release = version = __version__

extensions = ["myst_parser"]
exclude_patterns = ["_build"]
myst_enable_extensions = ["deflist"]
myst_heading_anchors = 3
highlight_language = "text"
nitpicky = True

html_theme = "furo"
html_title = f"ventrules {__version__}"
html_copy_source = False
html_show_sourcelink = False


def _write_pages(app: Sphinx) -> None:
    _generate.write_pages(Path(app.srcdir))


def _fill(_app: Sphinx, _docname: str, source: list[str]) -> None:
    source[0] = _generate.filled(source[0])


def _outdated(app: Sphinx, env: BuildEnvironment, *_changes: set[str]) -> list[str]:
    """Read pages with generated blocks anew in every build: what they are made from is no file of this site."""
    return [
        name
        for name in sorted(env.found_docs)
        if _generate.blocks_named(Path(app.srcdir, f"{name}.md").read_text(encoding="utf-8"))
    ]


def setup(app: Sphinx) -> dict[str, Any]:
    app.connect("builder-inited", _write_pages)
    app.connect("source-read", _fill)
    app.connect("env-get-outdated", _outdated)
    return {"parallel_read_safe": True}
