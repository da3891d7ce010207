"""``reedgate tokens``: who may use a service that asks for tokens, and who may load into its
store.
"""

from datetime import UTC, datetime
from pathlib import Path

import click
from rich.table import Column, Table

from service.cli.common import console, store_option, store_path
from service.settings import settings
from service.shared.homes import token_home
from service.store.tokens import Scope, Token, TokenKeeper


@click.group()
def tokens() -> None:
    """Make, list, take back and renew API tokens.

    Each is shown once, when it is made; only its hash is kept.
    """


@tokens.command()
@click.argument("name")
@click.option(
    "--scope",
    "scopes",
    type=click.Choice(["read", "load"]),
    multiple=True,
    default=("read",),
    show_default=True,
)
@click.option(
    "--days", type=click.IntRange(1, 3_650), help="Days until it runs out. [default: never]"
)
@store_option
def add(name: str, scopes: tuple[Scope, ...], days: int | None, store: Path | None) -> None:
    """Make a token for a client.

    \b
    Example:  reedgate tokens add "ordering system" --scope read --days 365
    """
    token, shown = _home(store).add(name, scopes, days=days)
    click.echo(shown)
    click.echo(
        f"Token {token.token_id}; it is shown this once. Send it as: Authorization: Bearer ...",
        err=True,
    )


@tokens.command("list")
@store_option
def list_tokens(store: Path | None) -> None:
    """List the tokens.

    \b
    Example:  reedgate tokens list
    """
    table = Table(
        Column("id", no_wrap=True),
        Column("name", overflow="fold"),
        "scopes",
        "created",
        "runs out",
        "old secret until",
    )
    for token in _home(store).tokens().values():
        table.add_row(
            token.token_id,
            token.name,
            ", ".join(token.scopes),
            _day(token.created),
            _end(token),
            _day(token.old_until),
        )
    console.print(table)


@tokens.command()
@click.argument("token_id")
@store_option
def revoke(token_id: str, store: Path | None) -> None:
    """Take a token back, at once.

    \b
    Example:  reedgate tokens revoke 5f0c2a91
    """
    _home(store).revoke(token_id)
    click.echo(f"Token {token_id} is taken back.", err=True)


@tokens.command()
@click.argument("token_id")
@click.option(
    "--overlap-hours",
    type=click.FloatRange(0, 720),
    default=0,
    show_default=True,
    help="Hours that the old one still holds.",
)
@store_option
def rotate(token_id: str, overlap_hours: float, store: Path | None) -> None:
    """Give a token a new secret.

    \b
    Example:  reedgate tokens rotate 5f0c2a91 --overlap-hours 24
    """
    click.echo(_home(store).rotate(token_id, overlap_hours=overlap_hours))
    click.echo(f"Token {token_id} is renewed; this is shown once.", err=True)


def _home(store: Path | None) -> TokenKeeper:
    return token_home(settings(), store_path(store))


def _end(token: Token) -> str:
    if token.expires is None:
        return "never"
    return f"{_day(token.expires)}{' (past)' if token.expires <= datetime.now(UTC) else ''}"


def _day(moment: datetime | None) -> str:
    return moment.strftime("%Y-%m-%d %H:%M") if moment else ""
