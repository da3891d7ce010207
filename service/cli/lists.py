"""``reedgate lists`` and ``reedgate changes``: the workshop of the lists, and how the law moved."""

from collections.abc import Iterable
from datetime import date
from importlib.resources import files
from pathlib import Path

import click
from rich.table import Table

from service.checks.law_changes import changes_since
from service.cli import lists_reading
from service.cli.common import (
    DAY,
    JURISDICTIONS,
    console,
    on_option,
    open_library,
    store_option,
    store_path,
)
from service.errors import BadFile, BadRequest, NotFound
from service.input.person import today
from service.input.stock_table import read_stock
from service.regulation.changes import (
    ClassChange,
    DatedTerm,
    EntryChange,
    ListChanges,
    changes_between,
    touched,
)
from service.regulation.subject import Subject
from service.store.law_seen import LawSeen, keep_law_seen, law_seen_path, read_law_seen
from service.store.library import Library
from service.values.vocabulary import Jurisdiction, ListId

FILE = click.Path(path_type=Path, dir_okay=False)


@click.group()
def lists() -> None:
    """The workshop of the lists: check a file, compare two, read one like the statute, hold one
    against the official text, see what to verify next.
    """


for _command in (lists_reading.read, lists_reading.review, lists_reading.refresh):
    lists.add_command(_command)


@lists.command()
@click.argument("paths", nargs=-1, required=True, type=FILE)
@store_option
def check(paths: tuple[Path, ...], store: Path | None) -> None:
    """Check list files: schema, acts, names, dates, duplicates, citation, addresses. Ends with 1
    where a file has an error.

    \b
    Example:  reedgate lists check data_loaders/reference/regulations/us-wi-nr40.toml
    """
    from data_loaders.reference_store import reference_resolver
    from data_loaders.regulations.workshop import check_list_file

    resolver = open_library(store).resolver if store else reference_resolver()
    failed = False
    for path in paths:
        problems = check_list_file(path, resolver, today())
        failed = failed or any(problem.severity == "error" for problem in problems)
        console.print(
            f"{path.name}: {len(problems)} to look at"
            if problems
            else f"{path.name}: nothing to look at",
            highlight=False,
        )
        for problem in problems:
            said = f"{problem.severity}, {problem.place}: {problem.say} {problem.next_step}"
            console.print(f"  {said}".rstrip(), markup=False, highlight=False)
    if failed:
        raise click.exceptions.Exit(1)


@lists.command()
@click.argument("before", type=FILE)
@click.argument("after", type=FILE)
def diff(before: Path, after: Path) -> None:
    """What the second list file changes against the first, entry by entry.

    \b
    Example:  reedgate lists diff us-wi-nr40.toml us-wi-nr40-2026.toml
    """
    from data_loaders.regulations.workshop import diff_list_files

    changes = diff_list_files(before, after)
    for line in _lines(changes):
        console.print(line, markup=False, highlight=False)


@lists.command()
@click.argument("list_id")
@on_option
@store_option
def show(list_id: str, on: date | None, store: Path | None) -> None:
    """One list of the store as text, to be read beside the statute.

    \b
    Example:  reedgate lists show us-wi-nr40
    """
    from data_loaders.regulations.workshop import show_list

    day = on or today()
    versions = [
        version
        for version in open_library(store).law.versions
        if version.list_id == ListId(list_id)
    ]
    if not versions:
        raise NotFound(
            f"No list has the id {list_id!r}.",
            next_step="See: reedgate coverage, or GET /v1/lists.",
        )
    version = next(
        (version for version in reversed(versions) if version.in_force(day)), versions[-1]
    )
    click.echo(show_list(version))


@lists.command()
@click.option(
    "--stock",
    "stock_file",
    type=FILE,
    help="Weigh by this stock list. [default: the invented stock of the demo]",
)
@click.option(
    "--most", default=20, show_default=True, type=click.IntRange(1, 1000), help="So many items."
)
@on_option
@store_option
def todo(stock_file: Path | None, most: int, on: date | None, store: Path | None) -> None:
    """What to verify next: where reading the text would decide most answers, beginning with the
    lists whose address can be fetched.

    Begin with `reedgate lists refresh LIST_ID`, which reads the address by machine.

    \b
    Example:  reedgate lists todo --most 10
    """
    from data_loaders.regulations.workshop import todo as find_todo

    library = open_library(store)
    shown = Table("Decides", "List", "What to read", "Entries")
    for item in find_todo(library, _labels(stock_file), on or today())[:most]:
        entries = ", ".join(item.entries[:4]) + (
            f" and {len(item.entries) - 4} more" if len(item.entries) > 4 else ""
        )
        shown.add_row(
            f"{item.weight:.1f}",
            f"{item.list_id}\n{item.title}",
            f"{item.say}\n{item.url}",
            entries,
        )
    console.print(shown)
    console.print(
        "Decides: expected number of answers that the reading would decide, over catalogue plants"
        " and, three times, stock lines.",
        style="dim",
    )


@click.command()
@click.option(
    "--since",
    required=True,
    metavar="YYYY-MM-DD|last",
    help="The earlier day, or last: since this was last asked with last.",
)
@click.option("--until", type=DAY, help="The later day. [default: today]")
@click.option("--in", "places", type=JURISDICTIONS, help="One jurisdiction. [default: all]")
@click.option(
    "--stock", "stock_file", type=FILE, help="Name which plants of this stock list are touched."
)
@store_option
def changes(
    since: str,
    until: date | None,
    places: tuple[Jurisdiction, ...] | None,
    stock_file: Path | None,
    store: Path | None,
) -> None:
    """How the loaded law changed between two days, entry by entry.

    With --since last, what the lists in force say now is compared with what they said when it was
    last asked so, whether a day has come or a list was loaded; that is kept beside the store.

    \b
    Examples:
      reedgate changes --since 2024-01-01 --in US-MN
      reedgate changes --since last
      reedgate changes --since 2024-01-01 --stock stock.csv
    """
    if places and len(places) > 1:
        raise click.UsageError("--in takes one jurisdiction here.")
    if since == "last" and until is not None:
        raise click.UsageError("--since last goes up to today, without --until.")
    library = open_library(store)
    place = places[0] if places else None
    if since == "last":
        found = _changes_since_last(library, store_path(store), place)
    else:
        day: date = DAY.convert(since, None, None)
        found = changes_between(library.law, day, until or today(), place)
    if not found:
        console.print(
            "No change of the loaded lists is found. A list without dated versions here may have"
            " changed all the same."
        )
    for change in found:
        for line in _lines(change):
            console.print(line, markup=False, highlight=False)
    if stock_file is not None:
        _print_touched(library, found, stock_file)


def _changes_since_last(
    library: Library, store: Path, place: Jurisdiction | None
) -> tuple[ListChanges, ...]:
    """What changed since it was last asked; the law as it stands now is kept for the next time."""
    path, day = law_seen_path(store), today()
    seen = read_law_seen(path)
    in_force = tuple(version for version in library.law.versions if version.in_force(day))
    keep_law_seen(path, LawSeen(day, in_force))
    if seen is None:
        click.echo("Nothing was kept yet to compare with; what changes from now on is shown next.")
        return ()
    click.echo(f"Since {seen.on.isoformat()}:")
    found = changes_since(library.law, seen.versions, seen.on, day)
    return tuple(change for change in found if place in (None, change.jurisdiction))


def _print_touched(library: Library, found: tuple[ListChanges, ...], stock_file: Path) -> None:
    labels = [label for label in _labels(stock_file) if label]
    namings = [library.naming(resolution) for resolution in library.resolver.resolve_all(labels)]
    subjects: list[Subject] = list(
        dict.fromkeys(subject for naming in namings for subject in naming.subjects)
    )
    on_catalogue = touched(found, subjects)
    console.print(
        f"\nPlants of {stock_file.name} that these changes touch:"
        f" {len({change.plant_id for change in on_catalogue})}",
        style="bold",
        highlight=False,
    )
    for change in on_catalogue:
        console.print(
            f"  {change.name}: {change.list_changes.title}: {_what(change.change)}",
            markup=False,
            highlight=False,
        )


def _labels(stock_file: Path | None) -> list[str]:
    source = stock_file or files("demo_data").joinpath("stock", "marl_hollow_stock.csv")
    try:
        return read_stock(source.read_bytes()).labels
    except OSError as error:
        raise BadFile(source.name, f"it cannot be read: {error.strerror or error}") from error
    except BadRequest as error:
        raise BadFile(source.name, error.detail, next_step=error.next_step) from error


def _lines(changes: ListChanges) -> Iterable[str]:
    day = f"{changes.on.isoformat()} " if changes.on else ""
    yield f"{day}{changes.jurisdiction} {changes.title} ({changes.list_id}): {changes.event}"
    for header in changes.header:
        yield f"  {header.field}: {header.before or '(empty)'} -> {header.after or '(empty)'}"
    yield from (f"  {_what(list_class)}" for list_class in changes.classes)
    yield from (f"  {_what(entry)}" for entry in changes.entries)
    yield from (f"  {_what(change)}" for change in changes.dated)
    if changes.note:
        yield f"  {changes.note}"


def _what(change: EntryChange | ClassChange | DatedTerm) -> str:
    if isinstance(change, DatedTerm):
        name = change.entry.name_as_listed or change.entry.accepted_name
        return f"{name}: {change.effect} ({change.term.words})"
    kinds = ", ".join(change.kinds)
    if isinstance(change, ClassChange):
        named = change.after or change.before
        return f"class {named.name if named else ''}: {kinds}"
    moved = ""
    if change.before and change.after and change.before.class_name != change.after.class_name:
        moved = f" ({change.before.class_name} -> {change.after.class_name})"
    entry = change.entry
    name = entry.name_as_listed or entry.common_as_listed or entry.accepted_name
    return f"{name}: {kinds}{moved}"
