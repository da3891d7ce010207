"""``reedgate database``: the PostgreSQL database that several servers share."""

import click

from service.errors import BadRequest
from service.settings import settings
from service.shared.database import Database


@click.group()
def database() -> None:
    """The PostgreSQL database in which several servers share jobs, tokens and watches.

    REEDGATE_DATABASE_URL names it, as postgresql://host/database; a password is better kept in
    ~/.pgpass or PGPASSWORD.
    """


@database.command()
def migrate() -> None:
    """Make its tables, or bring them to this version. Servers never do so by themselves.

    \b
    Example:  reedgate database migrate
    """
    applied = _database().migrate()
    for name in applied:
        click.echo(f"Applied {name}.")
    if not applied:
        click.echo("The database is up to date.")


@database.command()
def check() -> None:
    """Whether it answers and has the tables of this version; ends with 1 where it has not.

    \b
    Example:  reedgate database check
    """
    missing = _database().missing_migrations()
    if missing:
        click.echo(f"Missing: {', '.join(missing)}. Run: reedgate database migrate.", err=True)
        raise click.exceptions.Exit(1)
    click.echo("The database answers, and is up to date.")


def _database() -> Database:
    url = settings().database_url
    if url is None:
        raise BadRequest(
            "No database is named.", next_step="Set REEDGATE_DATABASE_URL=postgresql://host/name."
        )
    return Database(url.get_secret_value())
