"""Options that commands share, and the values they stand for."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import click
from rich.console import Console

from service.errors import BadRequest, StoreError, UnknownValue
from service.input.person import read_day, read_jurisdictions
from service.settings import is_address, settings
from service.store.database import Build
from service.store.library import Library
from service.values.vocabulary import ACTS, Act, Jurisdiction

console = Console()
"""For people; plain text where it is piped."""

_F = TypeVar("_F", bound=Callable[..., Any])


class JurisdictionsType(click.ParamType[tuple[Jurisdiction, ...]]):
    """One or more jurisdictions by code or name, separated by commas; ``all`` for every state."""

    name = "US-XX,..."

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[Jurisdiction, ...]:
        if isinstance(value, tuple):
            return value
        try:
            found = read_jurisdictions([str(value)])
        except UnknownValue as error:
            self.fail(
                f"{error.detail} Give US, a state's code or name, or all.",
                param,
                ctx,
            )
        if not found:
            self.fail("No jurisdiction is given.", param, ctx)
        return found


class DayType(click.ParamType[date]):
    """A day as ISO 8601."""

    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        if isinstance(value, date):
            return value
        try:
            return read_day(str(value))
        except BadRequest as error:
            self.fail(str(error), param, ctx)


JURISDICTIONS = JurisdictionsType()
DAY = DayType()


class StoreType(click.ParamType[Path]):
    """A store to read: its path, or the address that builds are published to, of which the present
    build is fetched first where it is not here yet.
    """

    name = "PATH-OR-URL"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        if isinstance(value, Path) or not is_address(value):
            return Path(value)
        return _taken_up(value)


class LocalStoreType(click.ParamType[Path]):
    """A store to write or to publish: its path."""

    name = "PATH"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        if not isinstance(value, Path) and is_address(value):
            self.fail(
                "A published store is read, not written to. Give the path of the store here, and"
                " publish it when it is built.",
                param,
                ctx,
            )
        return Path(value)


def _taken_up(address: str) -> Path:
    from service.store.published import PublishedStore

    copy = settings().copy_of(address)
    try:
        PublishedStore(address, copy).take_up()
    except StoreError as error:
        if not copy.exists():
            raise
        click.echo(f"Warning: {error} The last build fetched answers.", err=True)
    return copy


_WHERE = "[default: $REEDGATE_STORE, else the user's data folder]"


def store_option(function: _F) -> _F:
    """``--store``, of a command that reads."""
    return click.option(
        "--store",
        envvar="REEDGATE_STORE",
        type=StoreType(),
        help=f"Path of the store, or the address it is published to. {_WHERE}",
    )(function)


def local_store_option(function: _F) -> _F:
    """``--store``, of a command that writes the store."""
    return click.option(
        "--store",
        envvar="REEDGATE_STORE",
        type=LocalStoreType(),
        help=f"Path of the store. {_WHERE}",
    )(function)


def acts_option(function: _F) -> _F:
    """``--act``, more than once if wanted."""
    return click.option(
        "--act",
        "acts",
        type=click.Choice(ACTS),
        multiple=True,
        default=("sell",),
        show_default=True,
        help="What is to be done with it.",
    )(function)


def on_option(function: _F) -> _F:
    """``--on``."""
    return click.option("--on", type=DAY, help="Answer as of this day. [default: today]")(function)


def store_path(store: Path | None) -> Path:
    return store or settings().store_path


def open_library(store: Path | None) -> Library:
    """The library of the store, for one command."""
    return Library(Build(store_path(store)))


def unique_acts(acts: tuple[Act, ...]) -> tuple[Act, ...]:
    return tuple(dict.fromkeys(acts))
