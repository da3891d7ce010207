"""The ``reedgate`` command: thin calls on the library, with what a person wants to read."""

import sys

import click

from service.cli.community import community
from service.cli.law import coverage, status
from service.cli.lists import changes, lists
from service.cli.load import load
from service.cli.load_records import occurrences
from service.cli.plan import plan
from service.cli.run import demo, serve
from service.cli.stock import stock
from service.cli.tokens import tokens
from service.errors import BadRequest, ReedgateError


class _Group(click.Group):
    """Turns our errors into one plain message and the exit codes of the contract: 1 no answer, 2
    wrong usage.
    """

    def invoke(self, ctx: click.Context) -> object:
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
    """Water plants: is it restricted here, would it live, could it get out, how is it held. Each
    answer with its source.

    \b
    Start:   reedgate demo
    One:     reedgate status "Water hyacinth" --in US-OH
    A list:  reedgate stock my_stock.csv --to US-OH,US-WI --out answer.csv
    A plan:  reedgate plan my_pond.json --out my_pond.html

    Exit codes: 0 answered; 1 no usable answer could be given; 2 wrong usage.
    """


load.add_command(occurrences)
for command in (
    demo,
    status,
    stock,
    plan,
    community,
    coverage,
    changes,
    lists,
    load,
    serve,
    tokens,
):
    main.add_command(command)
