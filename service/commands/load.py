"""``reedgate load``: builds the store and adds open data to it. Each load is whole or not at all."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import click
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn, TimeRemainingColumn

from service.commands.common import console, store_option, store_path

FILE = click.Path(path_type=Path, dir_okay=False)


@click.group()
def load() -> None:
    """Build the store, or add open data to it. A load that fails or is stopped leaves the store as it was."""


@load.command()
@store_option
def reference(store: Path | None) -> None:
    """Build or rebuild the store from the package's own reference data.

    \b
    Example:  reedgate load reference
    """
    from data_loaders.reference_store import load_reference

    path = store_path(store)
    load_reference(path)
    console.print(f"Built {path.name} from the reference data.")


@load.command()
@click.argument("files", nargs=-1, required=True, type=FILE)
@click.option("--mapping", type=FILE, help="TOML file that says which column means what, for files with names of their own.")
@store_option
def waters(files: tuple[Path, ...], mapping: Path | None, store: Path | None) -> None:
    """Add waters and flowlines: GeoPackage, shapefile or GeoJSON, zipped or not.

    The attribute names of the national hydrography data sets, old and new, are recognised. Give files that belong together (flowlines,
    water bodies, flow tables) in one command.

    \b
    Examples:
      reedgate load waters NHD_H_0410_HU4_GPKG.zip
      reedgate load waters ponds.geojson --mapping ponds.toml
    """
    from data_loaders.geography.mapping import read_mapping
    from data_loaders.geography.waters import load_waters

    with _rows_bar("Reading waters") as advance:
        report = load_waters(store_path(store), files, mapping=read_mapping(mapping) if mapping else None, progress=advance)
    for name, each in report.files.items():
        _print_counts(name, each.rows_read, each.rows_kept, each.set_apart, each.notes, unchanged=each.unchanged)
    if not report.unchanged:
        links = ", ".join(f"{count:,} by {how}" for how, count in (report.links or {}).items()) or "none"
        console.print(
            f"The store now holds {report.waters:,} waters; {report.flowlines:,} flowlines came in, their downstream links: {links}."
        )


@load.command()
@click.argument("file", type=FILE)
@store_option
def watersheds(file: Path, store: Path | None) -> None:
    """Add watershed polygons with the unit that each drains to (Watershed Boundary Dataset names).

    \b
    Example:  reedgate load watersheds WBD_04_HU2_GPKG.zip
    """
    from data_loaders.geography.watersheds import load_watersheds

    with _rows_bar("Reading watersheds") as advance:
        report = load_watersheds(store_path(store), file, progress=advance)
    _print_counts(file.name, report.rows_read, report.rows_kept, report.set_apart, report.notes, unchanged=report.unchanged)


@load.command()
@click.argument("file", type=FILE)
@store_option
def boundaries(file: Path, store: Path | None) -> None:
    """Put other state and county boundaries in place of the packaged ones, state by state.

    \b
    Example:  reedgate load boundaries cb_2024_us_county_500k.zip
    """
    from data_loaders.geography.boundaries import load_boundaries

    report = load_boundaries(store_path(store), file)
    _print_counts(file.name, report.rows_read, report.rows_kept, report.set_apart, report.notes, unchanged=report.unchanged)


@load.command()
@click.argument("file", type=FILE)
@store_option
def zones(file: Path, store: Path | None) -> None:
    """Add plant hardiness zones: a table by ZIP code, or polygons.

    \b
    Example:  reedgate load zones phzm_us_zipcode_2023.csv
    """
    from data_loaders.geography.zones import load_zones

    report = load_zones(store_path(store), file)
    _print_counts(file.name, report.rows_read, report.rows_kept, report.set_apart, report.notes, unchanged=report.unchanged)


def _print_counts(
    name: str, rows_read: int, rows_kept: int, set_apart: Mapping[str, int], notes: tuple[str, ...] = (), *, unchanged: bool = False
) -> None:
    """What became of every row of a file."""
    if unchanged:
        console.print(f"{name}: the same content is in the store already; nothing changed.", highlight=False)
        return
    console.print(f"{name}: {rows_read:,} rows read, {rows_kept:,} kept.", highlight=False)
    for reason, count in set_apart.items():
        if count:
            console.print(f"  {count:,} set apart: {reason}", highlight=False)
    for note in notes:
        console.print(f"  {note}", highlight=False)


@contextmanager
def _rows_bar(title: str) -> Iterator[Callable[[int, int | None], None]]:
    """A progress bar fed with rows done and, where known, rows in all."""
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.completed:,.0f} rows"),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
        console=console,
        transient=True,
    ) as bar:
        task = bar.add_task(title, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


@load.command()
@click.argument("files", nargs=-1, type=FILE)
@click.option("--max-uncertainty-m", default=100_000.0, show_default=True, help="Set apart records whose coordinates are vaguer.")
@store_option
def occurrences(files: tuple[Path, ...], max_uncertainty_m: float, store: Path | None) -> None:
    """Add occurrence records: Darwin Core archives, delimited downloads (plain, gzip, zip), Parquet.

    Only plants of the store are kept; every other row is counted with its reason. Large files stream in bounded memory.

    \b
    Example:  reedgate load occurrences 0012345-240101.zip
    """
    from data_loaders.occurrences.load import load_occurrences
    from data_loaders.occurrences.report import REASON_MEANINGS, LoadProgress, QualityRules

    if not files:
        raise click.UsageError("Name one or more files.")
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.fields[rate]}"),
        TimeRemainingColumn(),
        console=console,
        transient=True,
    ) as bar:
        task = bar.add_task("Reading", total=1.0, rate="")

        def advance(now: LoadProgress) -> None:
            bar.update(task, description=f"{now.file}: {now.stage}", completed=now.done, rate=f"{now.rows:,} rows, {now.rows_per_s:,.0f}/s")

        report = load_occurrences(store_path(store), files, rules=QualityRules(max_uncertainty_m), progress=advance)
    for each in report.files:
        meanings = {f"{reason} ({REASON_MEANINGS[reason]})": count for reason, count in each.set_apart.items()}
        _print_counts(each.file, each.rows_read, each.rows_kept, meanings, unchanged=each.already_loaded)
