"""`ventrules rules` and `ventrules explain`: which rules there are, and what one of them means."""

import sys

import click

from ventrules.checking import installed_rules, packs
from ventrules.cli.options import FORMAT, ONLY, SKIP
from ventrules.cli.policy_options import project_options
from ventrules.cli.standard import UnusableError, project_policy, selected
from ventrules.engine import ENGINE_FINDINGS, RegistryError
from ventrules.engine.pages import PageError, load_page
from ventrules.files.resources import packaged
from ventrules.outputs import TerminalPaper, explain_text, json_rules


@click.command("rules")
@FORMAT
@ONLY
@SKIP
@project_options
def rules_command(form: str, only: tuple[str, ...], skip: tuple[str, ...]) -> None:
    """List the rules."""
    registry = selected(only, skip, project_policy())
    if form == "json":
        click.echo(json_rules(registry), nl=False)
        return
    width = max((len(rule.id) for rule in registry), default=0)
    for rule in registry:
        click.echo(f"{rule.id:<{width}}  {rule.severity.value:<7}  {rule.title}")
    count = "1 rule" if len(registry) == 1 else f"{len(registry)} rules"
    click.echo(f"{count}. `ventrules explain RULE` says more about one.")


@click.command("explain")
@click.argument("rule", metavar="RULE", required=False)
@click.option("--sound-job", is_flag=True, help="Print the sound job that the examples differ from.")
def explain_command(rule: str | None, *, sound_job: bool) -> None:
    """Explain one rule: meaning, basis, an example at fault and put right, what it does not see."""
    if sound_job:
        click.echo(packaged("rules/pages", "base.yaml").read_text(encoding="utf-8"), nl=False)
        return
    if rule is None:
        raise UnusableError("which rule? `ventrules rules` lists them")
    text = ENGINE_FINDINGS.get(rule) or _explained(rule)
    if sys.stdout.isatty():
        TerminalPaper().markdown(text)
    else:
        click.echo(text, nl=False)


def _explained(rule: str) -> str:
    registry = installed_rules()
    try:
        found = registry.rule(rule)
        pack = next(pack for pack in packs() if pack.name == registry.packs[found.id])
        return explain_text(found, load_page(pack.pages, found.id), pack.name)
    except (RegistryError, PageError) as error:
        raise UnusableError(f"{error}; `ventrules rules` lists them") from error
