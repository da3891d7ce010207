"""``reedgate fetch``: open data of a site's surroundings from the national services."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from service.cli.common import local_store_option, store_path
from service.cli.load_output import (
    json_option,
    print_json,
    print_report,
    progress_bar,
    reporting,
    say,
)
from service.input.person import read_position

if TYPE_CHECKING:
    from data_loaders.fetch import Around, Services
    from data_loaders.fetch.waters import Fetched

FEATURE_KB = 1.5
"""Of one feature as GeoJSON, for an estimate beforehand: common practice, no source."""

_F = TypeVar("_F", bound=Callable[..., Any])


@click.group()
def fetch() -> None:
    """Bring open data of a site's surroundings into the store.

    Asks the national services politely: one request at a time, with pauses, and waiting when they
    ask for it. A fetch that is stopped goes on where it was when it is run again; fetching the same
    again changes nothing. What came is kept as a file too, in the folder of the store.

    A feature is some 1.5 kB, so that a few kilometres around a site are a few megabytes; --count
    asks how many there are, and fetches nothing.
    """


def around_options(function: _F) -> _F:
    """``--at``, ``--within-km``, ``--contact``."""
    for option in (
        click.option("--contact", default="", help="Your e-mail or web address, sent along."),
        click.option(
            "--within-km",
            default=5.0,
            show_default=True,
            help="How far around the position, at most 40.",
        ),
        click.option("--at", required=True, metavar="LON,LAT", help="The site, longitude first."),
    ):
        function = option(function)
    return function


@fetch.command()
@around_options
@click.option("--count", is_flag=True, help="Say how many features there are, and fetch nothing.")
@json_option
@local_store_option
def waters(
    at: str, within_km: float, contact: str, count: bool, as_json: bool, store: Path | None
) -> None:
    """Ponds, lakes, streams and how they run on, from the national hydrography.

    \b
    Example:  reedgate fetch waters --at -89.40,43.07 --within-km 5
    """
    from data_loaders.fetch import fetch_waters

    with reporting(as_json):
        around = _around(at, within_km)
        if count:
            _print_counts(around, _services(contact), as_json=as_json)
            return
        path = store_path(store)
        with progress_bar(as_json) as progress:
            fetched = fetch_waters(
                path, around, _services(contact), _folder(path), progress=progress
            )
        _print_fetched(fetched, "waters", as_json=as_json)


@fetch.command()
@around_options
@json_option
@local_store_option
def watersheds(at: str, within_km: float, contact: str, as_json: bool, store: Path | None) -> None:
    """The subwatersheds around a site, from the national watershed boundaries.

    \b
    Example:  reedgate fetch watersheds --at -89.40,43.07
    """
    from data_loaders.fetch import fetch_watersheds

    with reporting(as_json):
        path = store_path(store)
        with progress_bar(as_json) as progress:
            fetched = fetch_watersheds(
                path,
                _around(at, within_km),
                _services(contact),
                _folder(path),
                progress=progress,
            )
        _print_fetched(fetched, "watersheds", as_json=as_json)


@fetch.command()
@around_options
@json_option
@local_store_option
def records(at: str, within_km: float, contact: str, as_json: bool, store: Path | None) -> None:
    """Where the store's plants were seen around a site, from the open occurrence search.

    It asks who you are: give --contact.

    \b
    Example:  reedgate fetch records --at -89.40,43.07 --within-km 25 --contact you@example.org
    """
    from data_loaders.fetch import fetch_records
    from data_loaders.occurrences import REASON_MEANINGS, REMARK_MEANINGS, LiveSettings

    with reporting(as_json):
        with progress_bar(as_json) as progress:
            report = fetch_records(
                store_path(store),
                _around(at, within_km),
                LiveSettings(contact),
                progress=progress,
            )
        meanings = {str(key): said for key, said in REASON_MEANINGS.items()}
        meanings |= {str(key): said for key, said in REMARK_MEANINGS.items()}
        print_report(report, as_json=as_json, meanings=meanings)


def fetch_for_plan(position: tuple[float, float], store: Path | None) -> None:
    """Waters and watersheds of a plan's site, before it is checked."""
    from data_loaders.fetch import Around, fetch_waters, fetch_watersheds

    path, around = store_path(store), Around(*position)
    for name, bring in (("waters", fetch_waters), ("watersheds", fetch_watersheds)):
        with progress_bar(False) as progress:
            fetched = bring(path, around, _services(""), _folder(path), progress=progress)
        _print_fetched(fetched, name, as_json=False)


def _around(at: str, within_km: float) -> "Around":
    from data_loaders.fetch import Around

    return Around(*read_position(at, "at"), within_km)


def _services(contact: str) -> "Services":
    from data_loaders.fetch import Services

    return Services(contact=contact)


def _folder(store: Path) -> Path:
    """Where fetched files are kept: beside the store."""
    folder = store.parent / "fetched"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _print_counts(around: "Around", services: "Services", *, as_json: bool) -> None:
    from data_loaders.fetch.waters import count_waters

    counts = count_waters(around, services)
    if as_json:
        print_json({"features": counts})
        return
    for layer, features in counts.items():
        say(f"{layer}: {features:,} features")
    say(f"In all about {sum(counts.values()) * FEATURE_KB / 1000:.1f} MB (estimated).")


def _print_fetched(fetched: "Fetched", what: str, *, as_json: bool) -> None:
    if as_json:
        print_json(
            {
                "features": fetched.features,
                "bytes_fetched": fetched.bytes_fetched,
                "file": str(fetched.file) if fetched.file else None,
                "notes": list(fetched.notes),
                "load": fetched.report.as_json() if fetched.report else None,
            }
        )
        return
    for note in fetched.notes:
        say(note)
    if fetched.report is None:
        say(f"The service knows no {what} there; nothing was added.")
        return
    size = f"{fetched.bytes_fetched / 1e6:.1f} MB fetched" if fetched.bytes_fetched else "all here"
    say(f"{fetched.features:,} features of {what} ({size}), kept as {fetched.file}.")
    print_report(fetched.report, as_json=False)
