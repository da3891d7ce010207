"""``reedgate load``: builds the store and adds open data to it. Each load is whole or not at
all.
"""

from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from service.cli.common import DAY, local_store_option, store_path
from service.cli.load_output import (
    column_option,
    json_option,
    of_list_files,
    of_own_list,
    print_json,
    print_own_list,
    print_report,
    progress_bar,
    replace_option,
    reporting,
    say,
)
from service.values.vocabulary import ACTS, Act

if TYPE_CHECKING:
    pass

FILE = click.Path(path_type=Path)
_SHOWN = 20


@click.group()
def load() -> None:
    """Build the store, or add open data to it.

    A load that fails or is stopped leaves the store as it was.
    """


@load.command()
@click.option(
    "--drop-additions",
    is_flag=True,
    help="Leave out lists, taxonomies, waters, zones and records that were added to the store.",
)
@json_option
@local_store_option
def reference(drop_additions: bool, as_json: bool, store: Path | None) -> None:
    """Build or rebuild the store from the package's own reference data.

    What was added to the store (lists, taxonomies, waters, watersheds, zones, boundaries, records)
    is kept. What cannot be kept stops the load, unless --drop-additions is given.

    \b
    Example:  reedgate load reference
    """
    from data_loaders.reference_store import load_reference

    path = store_path(store)
    with reporting(as_json):
        kept = load_reference(path, drop_additions=drop_additions)
        if as_json:
            print_json({"kind": "reference", "kept": [asdict(addition) for addition in kept]})
            return
        say(f"Built {path.name} from the reference data.")
        if kept:
            say("What had been added is kept:")
            for addition in kept:
                say(f"  {addition.source_id}: {addition.title}")


@load.command()
@click.argument("files", nargs=-1, required=True, type=FILE)
@click.option(
    "--mapping",
    type=FILE,
    help="TOML file that says which column means what, for files with names of their own.",
)
@replace_option
@json_option
@local_store_option
def waters(
    files: tuple[Path, ...],
    mapping: Path | None,
    replace: str,
    as_json: bool,
    store: Path | None,
) -> None:
    """Add waters and flowlines: GeoPackage, shapefile or GeoJSON, zipped or not.

    The attribute names of the national hydrography data sets, old and new, are recognised; a drawn
    GeoJSON needs no more than a name. Give files that belong together (flowlines, water bodies,
    flow tables) in one command.

    \b
    Examples:
      reedgate load waters NHD_H_0410_HU4_GPKG.zip
      reedgate load waters ponds.geojson --mapping ponds.toml
    """
    from data_loaders.geography.mapping import read_mapping
    from data_loaders.geography.waters import load_waters

    with reporting(as_json):
        with progress_bar(as_json) as advance:
            report = load_waters(
                store_path(store),
                files,
                mapping=read_mapping(mapping) if mapping else None,
                progress=advance,
                replace=replace,
            )
        print_report(report, as_json=as_json)
    if not report.unchanged and not as_json:
        totals = "; ".join(f"{what} {count:,}" for what, count in report.totals.items())
        say(f"Waters now in the store, and what came in: {totals}.")


@load.command()
@click.argument("files", nargs=-1, required=True, type=FILE)
@replace_option
@json_option
@local_store_option
def watersheds(files: tuple[Path, ...], replace: str, as_json: bool, store: Path | None) -> None:
    """Add watershed polygons with the unit that each drains to (Watershed Boundary Dataset names).

    \b
    Example:  reedgate load watersheds WBD_04_HU2_GPKG.zip
    """
    from data_loaders.geography.watersheds import load_watersheds

    with reporting(as_json):
        with progress_bar(as_json) as advance:
            report = load_watersheds(store_path(store), files, progress=advance, replace=replace)
        print_report(report, as_json=as_json)


@load.command()
@click.argument("files", nargs=-1, required=True, type=FILE)
@json_option
@local_store_option
def boundaries(files: tuple[Path, ...], as_json: bool, store: Path | None) -> None:
    """Put other state and county boundaries in place of the packaged ones, state by state.

    \b
    Example:  reedgate load boundaries cb_2024_us_county_500k.zip
    """
    from data_loaders.geography.boundaries import load_boundaries

    with reporting(as_json):
        print_report(load_boundaries(store_path(store), files), as_json=as_json)


@load.command()
@click.argument("files", nargs=-1, required=True, type=FILE)
@replace_option
@json_option
@local_store_option
def zones(files: tuple[Path, ...], replace: str, as_json: bool, store: Path | None) -> None:
    """Add plant hardiness zones: a table by ZIP code, or polygons.

    \b
    Example:  reedgate load zones phzm_us_zipcode_2023.csv
    """
    from data_loaders.geography.zones import load_zones

    with reporting(as_json):
        print_report(load_zones(store_path(store), files, replace=replace), as_json=as_json)


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
@column_option
@json_option
@local_store_option
def taxonomy(
    file: Path,
    title: str,
    version: str,
    licence: str,
    columns: tuple[str, ...],
    as_json: bool,
    store: Path | None,
) -> None:
    """Add an open taxonomy beside the built-in catalogue: a Darwin Core taxon table or archive.

    Names that the catalogue places otherwise are reported; those of the catalogue stay.

    \b
    Examples:
      reedgate load taxonomy backbone.zip --title "Open backbone" --version 2026-03
      reedgate load taxonomy flora.csv --column scientificName=Nombre --column taxonID=Clave
    """
    from data_loaders.plants.taxonomy import load_taxonomy
    from data_loaders.plants.taxonomy_report import DIFFERENCE_MEANINGS, SET_APART_MEANINGS

    with reporting(as_json):
        with progress_bar(as_json) as advance:
            report = load_taxonomy(
                store_path(store),
                file,
                title=title,
                version=version,
                licence=licence,
                columns=_pairs(columns, "--column"),
                progress=advance,
            )
        print_report(
            report,
            as_json=as_json,
            meanings={str(reason): meaning for reason, meaning in SET_APART_MEANINGS.items()},
        )
    if as_json:
        return
    counts = ", ".join(f"{count:,} {what}" for what, count in report.totals.items() if count)
    say(f"{report.title} {report.version}: {counts}.")
    for difference in report.differences[:_SHOWN]:
        say(
            f"  {difference.name}: here {difference.accepted_here}, there"
            f" {difference.accepted_there} ({DIFFERENCE_MEANINGS[difference.kind]})"
        )
    if len(report.differences) > _SHOWN:
        more = len(report.differences) - _SHOWN
        say(f"  and {more:,} more names placed otherwise; each shows in the answer on its name.")


@load.command()
@click.argument("files", nargs=-1, required=True, type=FILE)
@click.option(
    "--in",
    "place",
    help="Where the list holds: a state such as US-OH, or US for a rule of your own. Needed for"
    " a table.",
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
    help="Where the whole list applies: name or FIPS code, several separated by ;",
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
    "--choose",
    "chosen",
    multiple=True,
    metavar="ROW=NAME",
    help="What a doubtful row means; ROW= leaves it out.",
)
@click.option(
    "--dry-run", is_flag=True, help="Show what was understood, row by row, and store nothing."
)
@json_option
@local_store_option
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
    chosen: tuple[str, ...],
    dry_run: bool,
    as_json: bool,
    store: Path | None,
) -> None:
    """Add a list: a list file of law (.toml, any version), or a table of your own (.csv, .xlsx).

    Of a table, rows whose name is doubtful are shown and not stored until --choose says what they
    mean. Run --dry-run first.

    \b
    Examples:
      reedgate load regulations us-wi-nr40-2026.toml
      reedgate load regulations county_weeds.xlsx
      --in US-WI --county Dane --kind ordinance --title "Dane County weed ordinance" --dry-run
      reedgate load regulations no_plant.csv --in US --title "Our do-not-plant list" --act plant
      --choose 14="Typha latifolia"
    """
    from data_loaders.regulations.own_lists import load_list_files, load_own_list
    from data_loaders.report import NothingKept

    with reporting(as_json):
        if place is None and all(file.suffix.lower() == ".toml" for file in files):
            loads = load_list_files(store_path(store), files)
            if as_json:
                print_json(of_list_files(loads).as_json())
                return
            for one in loads:
                version = f", in force from {one.version.isoformat()}" if one.version else ""
                say(f"{one.file}: {one.list_id}{version}, {one.entries} entries: {one.outcome}.")
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
            chosen={_row_number(row): name for row, name in _pairs(chosen, "--choose").items()},
            county=county,
            authority=authority,
            citation=citation,
            url=url,
            effective_from=effective_from,
        )
        if not as_json:
            print_own_list(report)
        if report.model is None and not dry_run:
            raise NothingKept(of_own_list(report))
        if as_json:
            print_json(of_own_list(report).as_json())


def _pairs(values: tuple[str, ...], option: str) -> dict[str, str]:
    if any("=" not in value for value in values):
        raise click.UsageError(f"{option} takes LEFT=RIGHT.")
    return {
        left.strip(): right.strip() for left, _, right in (value.partition("=") for value in values)
    }


def _row_number(text: str) -> int:
    if not text.isdigit():
        raise click.UsageError(f"--choose takes a row number before the =, not {text!r}.")
    return int(text)
