"""``reedgate lists read``, ``refresh`` and ``review``: official texts compared with the lists."""

import hashlib
import json
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from service.cli.common import DAY, console, open_library, store_option
from service.errors import BadFile, NotFound
from service.input.person import today
from service.settings import settings

if TYPE_CHECKING:
    from data_loaders.regulations.listfile import ListFile
    from data_loaders.regulations.reading import Document, ListReading
    from data_loaders.regulations.reading.refresh import Refreshed
    from data_loaders.regulations.reading.review import Difference
    from data_loaders.regulations.reading.write import Copy
    from service.store.library import Library

_OUT = click.Path(path_type=Path, dir_okay=False)
_LIST = click.option("--list", "list_id", required=True, help="Id of the list: us-wi-nr40.")
_ADDRESS = click.option(
    "--address", default="", help="Where a copy on this machine was taken from."
)
_COPIED_ON = click.option(
    "--copied-on", type=DAY, help="Day on which the copy was taken. [default: today]"
)


@click.command()
@click.argument("source", metavar="FILE-OR-URL")
@_LIST
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.option("--out", type=_OUT, help="Write the list file with what was seen marked read.")
@click.option("--review", "page", type=_OUT, help="Write the review page (HTML) here.")
@_ADDRESS
@_COPIED_ON
@store_option
def read(
    source: str,
    list_id: str,
    as_json: bool,
    out: Path | None,
    page: Path | None,
    address: str,
    copied_on: date | None,
    store: Path | None,
) -> None:
    """Hold a copy of the official text against a list, entry by entry.

    The text may be HTML, PDF (with a text layer), XML, RTF, DOCX or plain text, in a file or at
    an address. What is struck through, excepted or only mentioned is left out with its reason.
    No entry is ever taken out by reading.

    \b
    Examples:
      reedgate lists read law.html --list us-wi-nr109
      reedgate lists read law.pdf --list us-wi-nr40 --json
      reedgate lists read law.pdf --list us-wi-nr40 --review review.html --out new.toml
    """
    from data_loaders.regulations.reading.report import dumped, reading_json, reading_text
    from data_loaders.regulations.reading.review import review_page

    library = open_library(store)
    model, document, reading, copy = _reading(source, list_id, library, address, copied_on)
    found = reading_json(model, document, reading, copy)
    if as_json:
        click.echo(dumped(found))
    else:
        for line in reading_text(found):
            click.echo(line)
    if page:
        page.write_text(review_page(found, reading), encoding="utf-8")
        click.echo(f"The review page is {page.name}.", err=True)
    if out:
        _write_list(out, model, reading, copy)


@click.command()
@click.argument("source", metavar="FILE-OR-URL")
@_LIST
@click.option("--html", "page", type=_OUT, help="Write the review page (HTML) here.")
@click.option(
    "--accept", "numbers", default="", help="Differences to take over: 1,3-5 or all. [default: ask]"
)
@click.option("--out", type=_OUT, help="Write the list file with what was taken over.")
@_ADDRESS
@_COPIED_ON
@store_option
def review(
    source: str,
    list_id: str,
    page: Path | None,
    numbers: str,
    out: Path | None,
    address: str,
    copied_on: date | None,
    store: Path | None,
) -> None:
    """Decide on the differences of a reading, one by one, and write the list file.

    The list stands on the left, the passage of the text on the right. Accepting adds what is
    missing here or moves an entry to the class of the text; nothing is ever taken out.

    \b
    Examples:
      reedgate lists review law.html --list us-wi-nr109 --html review.html
      reedgate lists review law.html --list us-wi-nr109 --accept all --out new.toml
    """
    from data_loaders.regulations.reading.report import reading_json
    from data_loaders.regulations.reading.review import accepted, differences, review_page

    library = open_library(store)
    model, document, reading, copy = _reading(source, list_id, library, address, copied_on)
    found = differences(reading)
    _print_differences(model, found)
    if page:
        text = review_page(reading_json(model, document, reading, copy), reading)
        page.write_text(text, encoding="utf-8")
        click.echo(f"The review page is {page.name}.", err=True)
    if out:
        chosen = numbers or _asked(found)
        additions, reclassed = accepted(found, chosen)
        _write_list(out, model, reading, copy, additions, reclassed)


def _reading(
    source: str, list_id: str, library: "Library", address: str, copied_on: date | None
) -> "tuple[ListFile, Document, ListReading, Copy]":
    from data_loaders.regulations.reading import read_document, read_list
    from data_loaders.regulations.reading.stored import federal_list, packaged_lists, stored_list
    from data_loaders.regulations.reading.write import Copy

    model = stored_list(list_id, library, today())
    if "://" in source:
        content, charset, url = _fetched(source)
        file = url.rsplit("/", 1)[-1] or "page"
    else:
        content, charset, url, file = _bytes_of(Path(source)), "", address, Path(source).name
    document = read_document(content, file, charset=charset)
    reading = read_list(document, model, library, federal=federal_list(packaged_lists()))
    digest = hashlib.sha256(content).hexdigest()
    return model, document, reading, Copy(file, digest, copied_on or today(), url)


def _bytes_of(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise BadFile(path.name, f"it cannot be read: {error.strerror or error}") from error


def _fetched(url: str) -> tuple[bytes, str, str]:
    from data_loaders.regulations.reading.addresses import public_client
    from data_loaders.regulations.reading.fetch import Fetcher

    with public_client() as client:
        page = Fetcher(client).fetch(url)
    return page.content, page.charset, page.url


def _write_list(
    out: Path,
    model: "ListFile",
    reading: "ListReading",
    copy: "Copy",
    additions: tuple = (),  # type: ignore[type-arg]
    reclassed: tuple = (),  # type: ignore[type-arg]
) -> None:
    from data_loaders.regulations.reading.write import as_toml, marked_read

    written = marked_read(model, reading, copy, additions=additions, reclassed=reclassed)
    out.write_text(as_toml(written, reading, copy), encoding="utf-8")
    click.echo(
        f"{out.name}: {len(reading.confirmed)} of {len(model.entries)} entries seen,"
        f" {len(additions)} added, {len(reclassed)} moved to another class. Look it over, then:"
        f" reedgate lists check {out.name}; reedgate load regulations {out.name}",
        err=True,
    )


def _print_differences(model: "ListFile", found: "tuple[Difference, ...]") -> None:
    from rich.table import Table

    console.print(f"{model.title} ({model.list_id}): {len(found)} to decide", highlight=False)
    if not found:
        return
    table = Table("No.", "The list here", "The text")
    for difference in found:
        listed = (
            f"{difference.name_in_list}, {difference.class_in_list}"
            if difference.name_in_list
            else "(not in the list)"
        )
        text = f"{difference.context}\n{difference.place}" if difference.context else "(not found)"
        under = f"\n{difference.text_class}" if difference.text_class else ""
        table.add_row(str(difference.number), f"{listed}\n{difference.say}", f"{text}{under}")
    console.print(table, markup=False)


def _asked(found: "tuple[Difference, ...]") -> str:
    """Numbers that a person takes over, asked one by one."""
    chosen = [
        str(difference.number)
        for difference in found
        if difference.takes_over
        and click.confirm(f"{difference.number}. {difference.printed}: {difference.say}?")
    ]
    return ",".join(chosen)


@click.command()
@click.argument("list_ids", nargs=-1)
@click.option("--due", is_flag=True, help="Only lists not read, or read long ago (see settings).")
@click.option("--write", is_flag=True, help="Write list files with what was seen marked read.")
@click.option(
    "--into",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the list files. [default: lists, in the user's data folder]",
)
@click.option("--json", "as_json", is_flag=True, help="Print the results as JSON.")
@store_option
def refresh(
    list_ids: tuple[str, ...],
    due: bool,
    write: bool,
    into: Path | None,
    as_json: bool,
    store: Path | None,
) -> None:
    """Fetch each list's own address, hold the text against the list, and say what moved.

    One host at a time, with pauses, within robots.txt; only the sites that the list files name,
    and only on the public network. Documents are kept by hash in the user's data folder. Nothing
    else changes without --write.

    \b
    Examples:
      reedgate lists refresh us-wi-nr109
      reedgate lists refresh --due
    """
    from data_loaders.regulations.reading.addresses import public_client
    from data_loaders.regulations.reading.copies import Copies
    from data_loaders.regulations.reading.fetch import Fetcher
    from data_loaders.regulations.reading.refresh import due_lists
    from data_loaders.regulations.reading.refresh import refresh as look
    from data_loaders.regulations.reading.stored import stored_list

    library, day = open_library(store), today()
    in_force = sorted(
        {
            version.list_id
            for version in library.law.versions
            if version.is_law and version.in_force(day)
        }
    )
    unknown = [list_id for list_id in list_ids if list_id not in in_force]
    if unknown:
        raise NotFound(
            f"No list in force has the id {unknown[0]!r}.", next_step="See: reedgate coverage."
        )
    every = [stored_list(list_id, library, day) for list_id in in_force]
    chosen = [model for model in every if not list_ids or model.list_id in list_ids]
    chosen = due_lists(chosen, settings().review_months, day) if due else chosen
    results = []
    with public_client() as client:
        fetcher = Fetcher(client)
        copies = Copies(settings().documents_folder)
        for result in look(chosen, library, fetcher, copies, day, every=every):
            results.append(result)
            if not as_json:
                _print_refreshed(result)
            if write:
                _write_refreshed(into or settings().documents_folder.parent / "lists", result)
    if as_json:
        click.echo(json.dumps([_refreshed_json(result) for result in results], indent=2))
    else:
        _print_counts(results)


def _print_refreshed(result: "Refreshed") -> None:
    click.echo(f"{result.list_id}: {result.status}. {result.say}")
    if result.moved_to:
        click.echo(f"  The page has moved to {result.moved_to}")


def _print_counts(results: "list[Refreshed]") -> None:
    counts: dict[str, int] = {}
    for result in results:
        counts[result.status] = counts.get(result.status, 0) + 1
    said = ", ".join(f"{count} {status}" for status, count in sorted(counts.items()))
    console.print(f"Lists looked at: {len(results)}{f' ({said})' if said else ''}", highlight=False)


def _refreshed_json(result: "Refreshed") -> dict[str, object]:
    from data_loaders.regulations.reading.report import reading_json

    plain: dict[str, object] = {
        "list_id": result.list_id,
        "status": result.status,
        "say": result.say,
        "url": result.url,
        "moved_to": result.moved_to,
        "first": result.first,
    }
    if result.model and result.document and result.reading and result.copy:
        plain["reading"] = reading_json(result.model, result.document, result.reading, result.copy)
    return plain


def _write_refreshed(folder: Path, result: "Refreshed") -> None:
    from data_loaders.regulations.reading.write import as_toml, marked_read

    if result.status not in ("changed", "unchanged") or not (
        result.model and result.reading and result.copy
    ):
        return
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{result.list_id}.toml"
    written = marked_read(result.model, result.reading, result.copy)
    path.write_text(as_toml(written, result.reading, result.copy), encoding="utf-8")
    click.echo(f"  written: {path.name}; load it with: reedgate load regulations", err=True)
