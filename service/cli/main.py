"""The ``reedgate`` command: thin calls on the library, with what a person wants to read."""

import gc
import sys
from importlib import import_module

import click

from service.errors import BadRequest, ReedgateError

COMMANDS = {
    "demo": (
        "run",
        "Build a store from reference and invented demo data, and ask it the demo's questions.",
    ),
    "status": ("law", "What the loaded lists say of one plant in one place."),
    "stock": ("stock", "Every line of a stock list against many places, in order."),
    "plan": ("plan", "A planting plan: site, law, fit, escape, containment, substitutes."),
    "community": ("community", "Many sites: which could send what to which water."),
    "coverage": ("law", "How much law is loaded, jurisdiction by jurisdiction."),
    "changes": ("lists", "How the loaded law changed between two days, entry by entry."),
    "lists": ("lists", "The workshop of the lists: check, compare, show, what to read next."),
    "load": ("load_records", "Build the store, or add open data to it."),
    "fetch": ("fetch", "Waters, watersheds and records around a site, from open services."),
    "publish": ("publish", "Put the build where servers on other machines take it up."),
    "serve": ("run", "Serve the API and the page."),
    "watch": ("watch", "Watch a stock list: what changed for it since the last run."),
    "database": ("database", "The PostgreSQL database that several servers share."),
    "tokens": ("tokens", "Make, list, take back and renew API tokens."),
}
"""Each command's module in this folder and its line in the help. A module is imported when its
command is asked for, so that ``--help`` and the quick commands start quickly."""


class _Group(click.Group):
    """Imports a command when it is asked for. Turns our errors into one plain message and the
    exit codes of the contract: 1 no answer, 2 wrong usage.
    """

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module, _ = COMMANDS[cmd_name]
        command: click.Command = getattr(import_module(f"service.cli.{module}"), cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> object:
        # What a command reads stays until its end: looking through it for cycles finds nothing.
        gc.set_threshold(100_000, 50, 50)
        try:
            return super().invoke(ctx)
        except BadRequest as error:
            where = f" ({error.pointer})" if error.pointer else ""
            click.echo(f"{error.detail}{where} {error.next_step}".strip(), err=True)
            sys.exit(2)
        except ReedgateError as error:
            click.echo(str(error), err=True)
            sys.exit(1)


@click.group(
    cls=_Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110}
)
@click.version_option(package_name="reedgate")
def main() -> None:
    """Water plants: is it restricted here, would it live, could it get out, how is it kept in. Each
    answer with its source.

    \b
    Start:   reedgate demo
    One:     reedgate status "Water hyacinth" --in US-OH
    A list:  reedgate stock my_stock.csv --to US-OH,US-WI --out answer.csv
    A plan:  reedgate plan my_pond.json --out my_pond.html

    Exit codes: 0 answered; 1 no usable answer could be given; 2 wrong usage.
    """
