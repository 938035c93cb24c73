"""The settings of a run, with where each came from: as lines for people, as JSON for programs."""

import json
from collections.abc import Iterable, Sequence

from ventrules.engine.findings import Document
from ventrules.outputs.json_parts import head, text
from ventrules.outputs.text import printable
from ventrules.policy.explain import From, Setting


def settings_text(settings: Sequence[Setting]) -> str:
    """Return settings as lines: name, where it came from, value."""
    rows = [(setting.key, _source(setting), _value(setting)) for setting in settings]
    widths = [max((len(row[column]) for row in rows), default=0) for column in (0, 1)]
    lines = (f"{key:<{widths[0]}}  {source:<{widths[1]}}  {value}" for key, source, value in rows)
    return "".join(f"{printable(line.rstrip())}\n" for line in lines)


def settings_json(file: str, settings: Iterable[Setting]) -> str:
    """Return settings as JSON text.

    Args:
        file: The policy file, or an empty text when there is none.
        settings: The settings.
    """
    return text({**head("settings", file), "settings": [_setting(setting) for setting in settings]})


def _setting(setting: Setting) -> Document:
    at = setting.position
    return {
        "key": setting.key,
        "value": setting.value,
        "from": setting.source.value,
        "position": {"line": at.line, "column": at.column} if at is not None else None,
        "note": setting.note,
    }


def _value(setting: Setting) -> str:
    if setting.value is None:
        return setting.note
    note = f" ({setting.note})" if setting.note else ""
    return json.dumps(setting.value, ensure_ascii=False) + note


def _source(setting: Setting) -> str:
    if setting.source is From.POLICY and setting.position is not None:
        return str(setting.position)
    return setting.source.value
