"""``reedgate load``: builds the store and adds open data to it. Each load is whole or not at
all.
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn, TimeRemainingColumn
from rich.table import Table

from service.cli.common import DAY, console, open_library, store_option, store_path
from service.errors import StoreError
from service.values.vocabulary import ACTS, Act

if TYPE_CHECKING:
    from data_loaders.regulations.own_lists import OwnListReport

FILE = click.Path(path_type=Path, dir_okay=False)


@click.group()
def load() -> None:
    """Build the store, or add open data to it.

    A load that fails or is stopped leaves the store as it was.
    """


@load.command()
@store_option
def reference(store: Path | None) -> None:
    """Build or rebuild the store from the package's own reference data.

    \b
    Example:  reedgate load reference
    """
    from data_loaders.reference_store import load_reference

    path = store_path(store)
    before = _sources(path)
    load_reference(path)
    console.print(f"Built {path.name} from the reference data.")
    gone = sorted(before.keys() - _sources(path).keys())
    if gone:
        console.print("The store was built anew. What you had added is not in it; load it again:")
        for source_id in gone:
            console.print(f"  {source_id}: {before[source_id]}", markup=False, highlight=False)


def _sources(path: Path) -> dict[str, str]:
    """Titles of what a store holds, by id; none where there is no store that can be read."""
    try:
        return {source.source_id: source.title for source in open_library(path).sources}
    except StoreError:
        return {}


@load.command()
@click.argument("files", nargs=-1, required=True, type=FILE)
@click.option(
    "--mapping",
    type=FILE,
    help="TOML file that says which column means what, for files with names of their own.",
)
@store_option
def waters(files: tuple[Path, ...], mapping: Path | None, store: Path | None) -> None:
    """Add waters and flowlines: GeoPackage, shapefile or GeoJSON, zipped or not.

    The attribute names of the national hydrography data sets, old and new, are recognised. Give
    files that belong together (flowlines, water bodies, flow tables) in one command.

    \b
    Examples:
      reedgate load waters NHD_H_0410_HU4_GPKG.zip
      reedgate load waters ponds.geojson --mapping ponds.toml
    """
    from data_loaders.geography.mapping import read_mapping
    from data_loaders.geography.waters import load_waters

    with _rows_bar("Reading waters") as advance:
        report = load_waters(
            store_path(store),
            files,
            mapping=read_mapping(mapping) if mapping else None,
            progress=advance,
        )
    for name, each in report.files.items():
        print_counts(
            name,
            each.rows_read,
            each.rows_kept,
            each.set_apart,
            each.notes,
            unchanged=each.unchanged,
        )
    if not report.unchanged:
        links = (
            ", ".join(f"{count:,} by {how}" for how, count in (report.links or {}).items())
            or "none"
        )
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
    print_counts(
        file.name,
        report.rows_read,
        report.rows_kept,
        report.set_apart,
        report.notes,
        unchanged=report.unchanged,
    )


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
    print_counts(
        file.name,
        report.rows_read,
        report.rows_kept,
        report.set_apart,
        report.notes,
        unchanged=report.unchanged,
    )


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
    print_counts(
        file.name,
        report.rows_read,
        report.rows_kept,
        report.set_apart,
        report.notes,
        unchanged=report.unchanged,
    )


def print_counts(
    name: str,
    rows_read: int,
    rows_kept: int,
    set_apart: Mapping[str, int],
    notes: tuple[str, ...] = (),
    *,
    unchanged: bool = False,
) -> None:
    """What became of every row of a file."""
    if unchanged:
        console.print(
            f"{name}: the same content is in the store already; nothing changed.", highlight=False
        )
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
@click.argument("file", type=FILE)
@click.option(
    "--title",
    default="",
    help="Title to show with every name. [default: that of the archive, else the file's name]",
)
@click.option(
    "--version", default="", help="Version of the taxonomy. [default: that of the archive]"
)
@click.option(
    "--licence", default="", help="Licence of the taxonomy. [default: that of the archive]"
)
@store_option
def taxonomy(file: Path, title: str, version: str, licence: str, store: Path | None) -> None:
    """Add an open taxonomy beside the built-in catalogue: a Darwin Core taxon table or archive.

    Names that the catalogue places otherwise are reported; the catalogue stands.

    \b
    Example:  reedgate load taxonomy backbone.zip --title "Open backbone" --version 2026-03
    """
    from data_loaders.plants.taxonomy import load_taxonomy
    from data_loaders.plants.taxonomy_report import (
        DIFFERENCE_MEANINGS,
        SET_APART_MEANINGS,
        TaxonomyProgress,
    )

    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.fields[rows]}"),
        TimeRemainingColumn(),
        console=console,
        transient=True,
    ) as bar:
        task = bar.add_task("Reading", total=1.0, rows="")

        def advance(now: TaxonomyProgress) -> None:
            bar.update(
                task,
                description=f"{now.file}: {now.stage}",
                completed=now.done or 0.0,
                rows=f"{now.rows:,} rows",
            )

        report = load_taxonomy(
            store_path(store), file, title=title, version=version, licence=licence, progress=advance
        )
    meanings = {
        f"{reason} ({SET_APART_MEANINGS[reason]})": count
        for reason, count in report.set_apart.items()
    }
    print_counts(file.name, report.rows_read, report.rows_kept, meanings)
    console.print(
        f"{report.title} {report.version}: {report.accepted:,} accepted names, {report.synonyms:,} synonyms, {report.unplaced:,} unplaced.",
        highlight=False,
    )
    for difference in report.differences[:20]:
        console.print(
            f"  {difference.name}: here {difference.accepted_here}, there {difference.accepted_there} ({DIFFERENCE_MEANINGS[difference.kind]})",
            highlight=False,
        )
    if len(report.differences) > 20:
        console.print(
            f"  and {len(report.differences) - 20:,} more names placed otherwise; each shows in the answer on its name.",
            highlight=False,
        )


@load.command()
@click.argument("files", nargs=-1, required=True, type=FILE)
@click.option(
    "--in",
    "place",
    help="Where the list holds: a state such as US-OH, or US for a rule of your own. Needed for a table.",
)
@click.option(
    "--title", default="", help="Title by which answers shall name it. Needed for a table."
)
@click.option(
    "--kind",
    type=click.Choice(["ordinance", "own-rule"]),
    default="own-rule",
    show_default=True,
    help="An ordinance is law; an own rule is not, and is answered apart.",
)
@click.option(
    "--act",
    "acts",
    type=click.Choice(ACTS),
    multiple=True,
    help="Acts that it restricts, where a row does not say. [default: sell, plant]",
)
@click.option(
    "--county",
    default="",
    help="Where the whole list holds: name or FIPS code, several parted by ;",
)
@click.option("--authority", default="", help="Who made it.")
@click.option("--citation", default="", help="Where it stands.")
@click.option("--url", default="", help="Its address.")
@click.option("--effective-from", type=DAY, help="Its first day.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="FIELD=TITLE",
    help="Which column is which, where it is not plain.",
)
@click.option(
    "--settle",
    "settled",
    multiple=True,
    metavar="ROW=NAME",
    help="What a doubtful row means; ROW= leaves it out.",
)
@click.option(
    "--dry-run", is_flag=True, help="Show what was understood, row by row, and store nothing."
)
@store_option
def regulations(
    files: tuple[Path, ...],
    place: str | None,
    title: str,
    kind: Literal["ordinance", "own-rule"],
    acts: tuple[Act, ...],
    county: str,
    authority: str,
    citation: str,
    url: str,
    effective_from: date | None,
    columns: tuple[str, ...],
    settled: tuple[str, ...],
    dry_run: bool,
    store: Path | None,
) -> None:
    """Add a list: a list file of law (.toml, any version), or a table of your own (.csv, .xlsx).

    Of a table, rows whose name is doubtful are shown and not stored until --settle says what they
    mean. Run --dry-run first.

    \b
    Examples:
      reedgate load regulations us-wi-nr40-2026.toml reedgate load regulations county_weeds.xlsx
      --in US-WI --county Dane --kind ordinance --title "Dane County weed ordinance" --dry-run
      reedgate load regulations no_plant.csv --in US --title "Our do-not-plant list" --act plant
      --settle 14="Typha latifolia"
    """
    from data_loaders.regulations.own_lists import load_list_files, load_own_list

    if place is None and all(file.suffix.lower() == ".toml" for file in files):
        for each in load_list_files(store_path(store), files):
            version = f", in force from {each.version.isoformat()}" if each.version else ""
            console.print(
                f"{each.file}: {each.list_id}{version}, {each.entries} entries: {each.outcome}.",
                highlight=False,
            )
        return
    if len(files) > 1 or not place or not title:
        raise click.UsageError("A table goes alone, with --in and --title.")
    report = load_own_list(
        store_path(store),
        files[0],
        jurisdiction=place.upper(),
        title=title,
        kind=kind,
        acts=acts or ("sell", "plant"),
        mapping=_pairs(columns, "--column") or None,
        dry_run=dry_run,
        settle={_row_number(row): name for row, name in _pairs(settled, "--settle").items()},
        county=county,
        authority=authority,
        citation=citation,
        url=url,
        effective_from=effective_from,
    )
    _print_own_list(report)


def _print_own_list(report: "OwnListReport") -> None:
    understood = ", ".join(f"{field} in {title!r}" for field, title in report.columns.items())
    console.print(
        f"{report.file}: {report.written_as}; {understood or 'no heading'}",
        markup=False,
        highlight=False,
    )
    shown = Table("Row", "As listed", "Taken as", "Class", "What was understood")
    for row in report.rows:
        if row.kind != "blank":
            taken = row.accepted_name or (
                " or ".join(row.candidates) + " ?" if row.candidates else ""
            )
            shown.add_row(
                str(row.number),
                row.listed or row.common,
                taken,
                row.class_name,
                f"{row.kind}: {row.say}" if row.say else row.kind,
            )
    console.print(shown)
    for note in report.notes:
        console.print(note, markup=False, highlight=False)
    if report.to_settle:
        rows = ", ".join(str(row.number) for row in report.to_settle)
        console.print(
            f"Not stored until you settle them (--settle ROW=NAME): rows {rows}.",
            markup=False,
            highlight=False,
        )
    stored = "nothing is stored" if report.outcome == "dry-run" else report.outcome
    law = (
        "law, answered with the state's" if report.kind == "ordinance" else "no law, answered apart"
    )
    console.print(
        f"{report.list_id} ({law}): {len(report.model.entries) if report.model else 0} entries; {stored}.",
        markup=False,
        highlight=False,
    )


def _pairs(values: tuple[str, ...], option: str) -> dict[str, str]:
    if any("=" not in value for value in values):
        raise click.UsageError(f"{option} takes LEFT=RIGHT.")
    return {
        left.strip(): right.strip() for left, _, right in (value.partition("=") for value in values)
    }


def _row_number(text: str) -> int:
    if not text.isdigit():
        raise click.UsageError(f"--settle takes a row number before the =, not {text!r}.")
    return int(text)
