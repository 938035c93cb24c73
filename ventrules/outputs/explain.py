"""The explanation of one rule, made from the rule and its page."""

from ventrules.engine import AnyRule
from ventrules.engine.pages import Page
from ventrules.survey import Survey

_EXAMPLES = "What differs from the sound job that `ventrules explain --sound-job` prints (`null` takes a key out):"


def explain_text(rule: AnyRule[Survey], page: Page, pack: str) -> str:
    """Return the explanation of a rule as Markdown.

    Args:
        rule: The rule.
        page: Its page.
        pack: The pack that brought it.
    """
    cautions = "".join(f"- {caution}\n" for caution in rule.cautions)
    parts = [
        f"# {rule.id}\n\n{rule.title}.\n\nSeverity {rule.severity.value} · since {rule.since} · pack {pack}\n",
        f"## Meaning\n\n{page.meaning}\n",
        f"## Basis\n\n{rule.basis}\n",
        f"## At fault\n\n{_EXAMPLES}\n\n```yaml\n{page.bad}```\n",
        f"## Put right\n\n```yaml\n{page.good}```\n",
        f"## Not seen\n\n{page.unseen}\n",
    ]
    if cautions:
        parts.append(f"## Cautions\n\n{cautions}")
    return "\n".join(parts)
