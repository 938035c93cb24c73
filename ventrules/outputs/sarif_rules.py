"""What a SARIF log says about the tool and its rules."""

from collections.abc import Iterator
from typing import Final

from ventrules import __version__
from ventrules.checking import Rules, packs
from ventrules.engine import ENGINE_FINDINGS, AnyRule, Severity
from ventrules.engine.findings import Document
from ventrules.engine.pages import PageError, load_page
from ventrules.outputs.explain import explain_text
from ventrules.survey import Survey

LEVELS: Final = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.ADVICE: "note"}
"""Severity to SARIF level (section 3.27.10)."""


def descriptors(rules: Rules) -> list[dict[str, Document]]:
    """Return a SARIF reportingDescriptor for each rule by id, then for each thing that the engine itself may report."""
    pages = {pack.name: pack.pages for pack in packs()}
    described = [_rule(rule, rules.packs.get(rule.id, ""), pages) for rule in rules]
    return [*described, *_engine()]


def tool(rules: list[dict[str, Document]]) -> dict[str, Document]:
    """Return the SARIF tool object.

    Args:
        rules: The descriptors.
    """
    return {
        "driver": {
            "name": "ventrules",
            "version": __version__,
            "semanticVersion": __version__,
            "shortDescription": {
                "text": "Checks how ventilators are wired to, and set up on, communicating home HVAC systems."
            },
            "language": "en-US",
            "rules": list[Document](rules),
        }
    }


def _rule(rule: AnyRule[Survey], pack: str, pages: dict[str, str]) -> dict[str, Document]:
    meaning, explained = f"{rule.title}.", f"{rule.title}.\n"
    try:
        page = load_page(pages.get(pack, ""), rule.id)
    except PageError:  # a pack may come without pages
        pass
    else:
        meaning, explained = page.meaning, explain_text(rule, page, pack)
    basis = f"Basis: {rule.basis}."
    return {
        "id": rule.id,
        "name": _name(rule.id),
        "shortDescription": {"text": f"{rule.title}."},
        "fullDescription": {"text": _in_one(meaning)},
        "help": {"text": "\n\n".join([_in_one(meaning), basis, *rule.cautions]), "markdown": explained},
        "defaultConfiguration": {"level": LEVELS[rule.severity]},
        "properties": {"tags": [rule.family], "pack": pack, "since": rule.since, "basis": str(rule.basis)},
    }


def _engine() -> Iterator[dict[str, Document]]:
    for name, text in ENGINE_FINDINGS.items():
        meaning = _in_one(text.partition("\n\n")[2])
        yield {
            "id": name,
            "name": _name(name),
            "shortDescription": {"text": f"{meaning.partition('. ')[0].removesuffix('.')}."},
            "fullDescription": {"text": meaning},
            "help": {"text": meaning, "markdown": text},
            "defaultConfiguration": {"level": "error"},
            "properties": {"tags": ["engine"]},
        }


def _name(rule: str) -> str:
    """Return a rule's id as one word: `airflow/below-target` as `AirflowBelowTarget`."""
    return "".join(word.capitalize() for word in rule.replace("/", "-").split("-"))


def _in_one(text: str) -> str:
    return " ".join(text.split())
