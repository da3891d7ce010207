"""``reedgate load occurrences``: records of where plants grow, from files or from the live open
interface.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from service.cli.common import JURISDICTIONS, local_store_option, open_library, store_path
from service.cli.load import FILE, load
from service.cli.load_output import (
    column_option,
    json_option,
    print_report,
    progress_bar,
    reporting,
)
from service.errors import BadFile
from service.values.vocabulary import Jurisdiction, PlantId

if TYPE_CHECKING:
    from data_loaders.occurrences import LiveQuery
    from data_loaders.occurrences.tables import Reading


@load.command()
@click.argument("files", nargs=-1, metavar="FILES-FOLDERS-GLOBS-ADDRESSES")
@click.option(
    "--live", is_flag=True, help="Ask the live open occurrence interface instead of reading files."
)
@click.option(
    "--plant",
    "labels",
    multiple=True,
    help="With --live: this plant only; may be given more than once. [default: every plant of"
    " the store]",
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
@column_option
@click.option(
    "--mapping",
    type=FILE,
    help="TOML file with [columns] TERM = HEADING, [defaults] TERM = VALUE, and encoding.",
)
@click.option("--encoding", default="", help="Of the text, where it is not UTF-8 or UTF-16.")
@click.option(
    "--engine",
    type=click.Choice(["duckdb", "spark"]),
    default="duckdb",
    show_default=True,
    help="What judges the rows: DuckDB here, or Apache Spark; both keep the same ones.",
)
@click.option("--master", default="", help="With --engine spark: its master. [default: local[*]]")
@json_option
@local_store_option
def occurrences(
    files: tuple[str, ...],
    live: bool,
    labels: tuple[str, ...],
    places: tuple[Jurisdiction, ...] | None,
    polygon: Path | None,
    contact: str,
    max_uncertainty_m: float,
    columns: tuple[str, ...],
    mapping: Path | None,
    encoding: str,
    engine: Literal["duckdb", "spark"],
    master: str,
    as_json: bool,
    store: Path | None,
) -> None:
    """Add occurrence records: Darwin Core archives, delimited downloads (plain, gzip, zip),
    Parquet, exports of programs for field records; folders and globs of them; at addresses
    (https:// of a file; s3:// of a file, a prefix or a glob); or live.

    Only plants of the store are kept; every other row is counted with its reason. Large files
    stream in bounded memory. A live load that is stopped goes on where it was when it is run again;
    for many plants, or a whole state, a download is quicker and kinder. So does a load from
    addresses, part by part. Credentials come from the environment: AWS_ACCESS_KEY_ID and so on for
    s3:// (AWS_SKIP_SIGNATURE=true for a bucket open to all), a netrc file for https://.

    \b
    Examples:
      reedgate load occurrences 0012345-240101.zip
      reedgate load occurrences "snapshot/2026-*/" --engine spark --master local[8]
      reedgate load occurrences s3://open-records/2026-03/occurrence.parquet/
      reedgate load occurrences herbarium.csv --column scientificName=Nombre --encoding cp1252
      reedgate load occurrences --live --plant "Trapa natans" --in US-VT --contact you@example.org
    """
    from data_loaders.occurrences import (
        REASON_MEANINGS,
        REMARK_MEANINGS,
        LiveSettings,
        QualityRules,
        load_live,
        load_occurrences,
    )

    if live == bool(files):
        raise click.UsageError("Name one or more files, or --live; not both.")
    with reporting(as_json):
        path, rules = store_path(store), QualityRules(max_uncertainty_m)
        queries = _queries(path, labels, places, polygon) if live else []
        settings = LiveSettings(contact) if live else None
        with progress_bar(as_json) as advance:
            if settings is not None:
                report = load_live(path, queries, settings, rules=rules, progress=advance)
            else:
                report = load_occurrences(
                    path,
                    files,
                    rules=rules,
                    reading=_reading(columns, mapping, encoding),
                    engine=engine,
                    master=master,
                    progress=advance,
                )
        meanings = {
            str(word): meaning
            for word, meaning in (*REASON_MEANINGS.items(), *REMARK_MEANINGS.items())
        }
        print_report(report, as_json=as_json, meanings=meanings)


def _reading(columns: tuple[str, ...], mapping: Path | None, encoding: str) -> "Reading":
    from data_loaders.occurrences.tables import AS_WRITTEN, Reading, read_mapping

    if any("=" not in pair for pair in columns):
        raise click.UsageError("--column takes TERM=HEADING.")
    given = dict(pair.split("=", 1) for pair in columns)
    read = read_mapping(mapping) if mapping else AS_WRITTEN
    return Reading({**read.columns, **given}, read.defaults, encoding or read.encoding)


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
                f"--plant {resolution.label!r} is not sure to mean one plant."
                f" {resolution.to_confirm}"
            )
        plants.append(resolution.candidates[0].plant_id)
    return plants


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise BadFile(file.name, f"it cannot be read as UTF-8 text: {error}") from error
