"""``reedgate watch``: what changed for a stock list since the last run."""

import json
import re
from datetime import date
from pathlib import Path

import click

from service.checks.label import LineName
from service.checks.stock import StockQuestion
from service.checks.watch import WatchHome, run_watch, take_snapshot
from service.cli.common import (
    JURISDICTIONS,
    acts_option,
    on_option,
    open_library,
    store_option,
    store_path,
    unique_acts,
)
from service.errors import BadFile, BadRequest
from service.input.person import read_county, today
from service.input.stock_table import read_stock
from service.settings import settings
from service.shared.homes import watch_home
from service.values.vocabulary import Act, Jurisdiction
from service.values.watches import LineChange, Watch

CHANGED = 3
"""Exit code of a run in which something changed, so that a timer can send a message."""


@click.group()
def watch() -> None:
    """Watch a stock list: what changed for it since the last run, and why.

    Watches are kept in a file beside the store, or in the database that servers share. Exit code
    of run: 3 where something changed.
    """


@watch.command()
@click.argument("name")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--to",
    "places",
    type=JURISDICTIONS,
    required=True,
    help="Ship-to states by code or name, separated by commas; all for every state.",
)
@click.option("--from", "origin", type=JURISDICTIONS, help="State it ships from.")
@acts_option
@click.option("--county", help="County, where one state is asked about.")
@click.option("--column", default="", help="Heading of the column that names the plants.")
@click.option("--sheet", default="", help="Sheet of a workbook.")
@on_option
@store_option
def add(
    name: str,
    file: Path,
    places: tuple[Jurisdiction, ...],
    origin: tuple[Jurisdiction, ...] | None,
    acts: tuple[Act, ...],
    county: str | None,
    column: str,
    sheet: str,
    on: date | None,
    store: Path | None,
) -> None:
    """Watch a stock list from now on, under a name.

    FILE is read as `reedgate stock` reads it, and again at each run.

    \b
    Example:  reedgate watch add spring stock.csv --to US-OH,US-WI
    """
    if not re.fullmatch(r"[\w.-]{1,60}", name):
        raise click.UsageError("A name has letters, digits, dots and dashes, at most 60.")
    if origin and len(origin) > 1:
        raise click.UsageError("--from takes one state.")
    if county and len(places) > 1:
        raise click.UsageError("--county goes with one state in --to.")
    library = open_library(store)
    fips = read_county(library.counties, places[0], county)
    question = StockQuestion(
        places, unique_acts(acts), on or today(), origin[0] if origin else None, fips
    )
    names = _lines(file, column, sheet)
    kept = Watch(
        name=name,
        file=str(file.absolute()),
        jurisdictions=question.jurisdictions,
        acts=question.acts,
        last=take_snapshot(library, names, question),
        origin=question.origin,
        county=question.county,
        column=column,
        sheet=sheet,
    )
    home = _home(store)
    replaced = any(known.name == name for known in home.all())
    home.put(kept)
    click.echo(
        f"{name}: {len(names):,} lines, {len(places)} places"
        f"{'; the watch of that name is replaced' if replaced else ''}."
        f" See what changes: reedgate watch run {name}"
    )


@watch.command()
@click.argument("name", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print the changes as JSON.")
@on_option
@store_option
def run(name: str | None, as_json: bool, on: date | None, store: Path | None) -> None:
    """What changed since the last run, line by line; all watches, or one.

    Ends with 3 where something changed, so that cron or a timer can send it; see deploy/.

    \b
    Examples:
      reedgate watch run
      reedgate watch run spring --json
    """
    home = _home(store)
    watches = (home.get(name),) if name else home.all()
    library = open_library(store)
    answers = []
    changed = False
    for one_watch in watches:
        names, note = _lines_now(one_watch)
        after, changes = run_watch(library, one_watch, names, on or today())
        home.put(after)
        changed = changed or bool(changes)
        answers.append(_answer(one_watch, after, changes, note))
        if not as_json:
            _print(one_watch, after, changes, note)
    if as_json:
        click.echo(json.dumps(answers, indent=2, ensure_ascii=False))
    elif not watches:
        click.echo("There is no watch. Add one: reedgate watch add NAME stock.csv --to US-OH")
    if changed:
        raise click.exceptions.Exit(CHANGED)


@watch.command("list")
@store_option
def list_(store: Path | None) -> None:
    """The watches there are.

    \b
    Example:  reedgate watch list
    """
    watches = _home(store).all()
    for one_watch in watches:
        places = ", ".join(one_watch.jurisdictions[:6])
        more = (
            f" and {len(one_watch.jurisdictions) - 6} more"
            if len(one_watch.jurisdictions) > 6
            else ""
        )
        click.echo(
            f"{one_watch.name}: {one_watch.file}, {len(one_watch.last.lines):,} lines, "
            f"to {places}{more}, {', '.join(one_watch.acts)}; "
            f"last run {one_watch.last.on.isoformat()}"
        )
    if not watches:
        click.echo("There is no watch.")


@watch.command()
@click.argument("name")
@store_option
def remove(name: str, store: Path | None) -> None:
    """End a watch. The stock list stays.

    \b
    Example:  reedgate watch remove spring
    """
    _home(store).remove(name)
    click.echo(f"{name}: no longer watched.")


def _home(store: Path | None) -> WatchHome:
    return watch_home(settings(), store_path(store))


def _lines(file: Path, column: str, sheet: str) -> list[LineName]:
    try:
        table = read_stock(
            file.read_bytes(),
            column=column or None,
            sheet=sheet or None,
            plain=file.suffix.lower() == ".txt",
        )
    except OSError as error:
        raise BadFile(file.name, f"it cannot be read: {error.strerror or error}.") from error
    except BadRequest as error:
        raise BadFile(file.name, error.detail, next_step=error.next_step) from error
    return [name for name in table.names if name.shown]


def _lines_now(kept: Watch) -> tuple[list[LineName], str]:
    """The lines of the stock list as it is; those of the last run where it cannot be read."""
    try:
        return _lines(Path(kept.file), kept.column, kept.sheet), ""
    except BadFile as error:
        lines = [LineName(line.label, line.common) for line in kept.last.lines]
        return lines, f"{error} The lines of the last run are taken."


def _answer(
    before: Watch, after: Watch, changes: tuple[LineChange, ...], note: str
) -> dict[str, object]:
    return {
        "name": before.name,
        "as_of": after.last.on.isoformat(),
        "since": before.last.on.isoformat(),
        "store_build": after.last.store_build,
        "store_build_before": before.last.store_build,
        "lines": len(after.last.lines),
        "note": note,
        "changes": [
            {"label": change.label, "kinds": list(change.kinds), "reasons": list(change.reasons)}
            for change in changes
        ],
    }


def _print(before: Watch, after: Watch, changes: tuple[LineChange, ...], note: str) -> None:
    click.echo(
        f"{before.name}: {len(changes)} of {len(after.last.lines):,} lines changed since"
        f" {before.last.on.isoformat()} (store build {after.last.store_build})"
    )
    if note:
        click.echo(f"  {note}")
    for change in changes:
        click.echo(f"  {change.label} [{', '.join(change.kinds)}]")
        for reason in change.reasons:
            click.echo(f"    - {reason}")
