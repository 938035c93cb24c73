"""Options that several commands share."""

from typing import Final

import click

FORMAT: Final = click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="Text for people, or JSON for programs.",
)
ONLY: Final = click.option("--only", multiple=True, metavar="RULE", help="Run this rule or family alone; repeatable.")
SKIP: Final = click.option("--skip", multiple=True, metavar="RULE", help="Leave this rule or family out; repeatable.")
OUTSIDE: Final = click.option(
    "--catalogs-outside", is_flag=True, help="Let catalog and code paths leave the job's folder tree."
)
