"""``reedgate load occurrences``: records of where plants grow, from files or from the live open
interface.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from service.cli.common import JURISDICTIONS, console, open_library, store_option, store_path
from service.cli.load import FILE, load, print_counts
from service.errors import BadFile
from service.values.vocabulary import Jurisdiction, PlantId

if TYPE_CHECKING:
    from data_loaders.occurrences import LiveQuery, LoadProgress


@load.command()
@click.argument("files", nargs=-1, type=FILE)
@click.option(
    "--live", is_flag=True, help="Ask the live open occurrence interface instead of reading files."
)
@click.option(
    "--plant",
    "labels",
    multiple=True,
    help="With --live: this plant only; may be given more than once. [default: every plant of the store]",
)
@click.option("--in", "places", type=JURISDICTIONS, help="With --live: records of this state.")
@click.option(
    "--polygon",
    type=FILE,
    help="With --live: a file with a polygon as WKT, WGS84 degrees, longitude first.",
)
@click.option(
    "--contact",
    default="",
    help="With --live: your e-mail or web address, sent with every request.",
)
@click.option(
    "--max-uncertainty-m",
    default=100_000.0,
    show_default=True,
    help="Set apart records whose coordinates are vaguer.",
)
@store_option
def occurrences(
    files: tuple[Path, ...],
    live: bool,
    labels: tuple[str, ...],
    places: tuple[Jurisdiction, ...] | None,
    polygon: Path | None,
    contact: str,
    max_uncertainty_m: float,
    store: Path | None,
) -> None:
    """Add occurrence records: Darwin Core archives, delimited downloads (plain, gzip, zip),
    Parquet; or live.

    Only plants of the store are kept; every other row is counted with its reason. Large files
    stream in bounded memory. A live load that is stopped goes on where it was when it is run again;
    for many plants, or a whole state, a download is quicker and kinder.

    \b
    Examples:
      reedgate load occurrences 0012345-240101.zip
      reedgate load occurrences --live --plant "Trapa natans" --in US-VT --contact you@example.org
    """
    from data_loaders.occurrences import (
        REASON_MEANINGS,
        LiveSettings,
        QualityRules,
        load_live,
        load_occurrences,
    )

    if live == bool(files):
        raise click.UsageError("Name one or more files, or --live; not both.")
    path, rules = store_path(store), QualityRules(max_uncertainty_m)
    queries = _queries(path, labels, places, polygon) if live else []
    settings = LiveSettings(contact) if live else None
    with _bar() as advance:
        if settings is not None:
            report = load_live(path, queries, settings, rules=rules, progress=advance)
        else:
            report = load_occurrences(path, files, rules=rules, progress=advance)
    for each in report.files:
        meanings = {
            f"{reason} ({REASON_MEANINGS[reason]})": count
            for reason, count in each.set_apart.items()
        }
        print_counts(
            each.file, each.rows_read, each.rows_kept, meanings, unchanged=each.already_loaded
        )


def _queries(
    store: Path,
    labels: tuple[str, ...],
    places: tuple[Jurisdiction, ...] | None,
    polygon: Path | None,
) -> "list[LiveQuery]":
    from data_loaders.occurrences import queries_for_plants

    if bool(places) == bool(polygon) or (places and len(places) > 1):
        raise click.UsageError("--live takes --in with one state, or --polygon.")
    wkt = _text(polygon) if polygon else ""
    return queries_for_plants(
        store,
        polygon_wkt=wkt,
        state=places[0] if places else None,
        plant_ids=_plants(store, labels),
    )


def _plants(store: Path, labels: tuple[str, ...]) -> list[PlantId]:
    """The plants that labels name beyond doubt."""
    plants: list[PlantId] = []
    for resolution in open_library(store).resolver.resolve_all(labels) if labels else ():
        if not resolution.confirmed:
            raise click.UsageError(
                f"--plant {resolution.label!r} is not sure to mean one plant. {resolution.to_confirm}"
            )
        plants.append(resolution.candidates[0].plant_id)
    return plants


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise BadFile(file.name, f"it cannot be read as UTF-8 text: {error}") from error


@contextmanager
def _bar() -> "Iterator[Callable[[LoadProgress], None]]":
    """A progress bar with rows, rate and time left."""
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.fields[rate]}"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("Reading", total=1.0, rate="")

        def advance(now: "LoadProgress") -> None:
            bar.update(
                task,
                description=f"{now.file}: {now.stage}",
                completed=now.done,
                rate=f"{now.rows:,} rows, {now.rows_per_s:,.0f}/s",
            )

        yield advance
