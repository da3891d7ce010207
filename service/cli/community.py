"""``reedgate community``: many sites and the waters they share."""

from datetime import date
from pathlib import Path
from textwrap import shorten
from typing import Any

import click
from rich.markup import escape as plain
from rich.table import Table

from service.checks.community.screening import screen_community
from service.checks.community.values import Community, CommunityAnswer
from service.cli.common import console, on_option, open_library, store_option
from service.cli.plan import ENDINGS, read_file, waters_of_lines, with_bar
from service.input.community import read_community
from service.input.json_document import parse_json
from service.input.person import today
from service.output.community import community_layers, write_community
from service.output.geopackage import write_geopackage
from service.output.models.community import community_json
from service.output.plan import JSON
from service.output.words import likely
from service.settings import settings
from service.values.words import STANDING_CAUTIONS

_MOST_SHOWN = 15
_GEOPACKAGE = ".gpkg"


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the answer here: .geojson, .gpkg, .csv, .json or .html.",
)
@click.option(
    "--water",
    "waters",
    multiple=True,
    metavar='"NAME, KIND, DISTANCE[, downstream]"',
    help='A water near every site: "Mill Lake, lake, 0.5 mi". May be given again.',
)
@on_option
@store_option
def community(
    file: Path,
    out: Path | None,
    waters: tuple[str, ...],
    on: date | None,
    store: Path | None,
) -> None:
    """Many sites, each with its plantings: which could send what to which water, and in what order
    to see to them.

    FILE is a GeoJSON feature collection. A site has the properties of a plan's place and
    "plantings": a list, or labels separated by semicolons. A feature with "layer": "water" is a
    water that the sites share; "waters" of the collection names others by their distance.

    \b
    Examples:
      reedgate community sites.geojson
      reedgate community sites.geojson --out answer.geojson
      reedgate community sites.geojson --out answer.gpkg
    """
    endings = (*ENDINGS, _GEOPACKAGE)
    if out and out.suffix not in endings:
        raise click.UsageError(f"--out takes a name that ends in {', '.join(endings)}.")
    given = waters_of_lines(waters)
    read: Community = read_file(file, lambda content: _community(content, given))
    library = open_library(store)
    tolerance_m = settings().border_tolerance_m
    answer: CommunityAnswer = with_bar(
        "Screening sites",
        len(read.sites),
        lambda progress: screen_community(
            library, read, on=on or today(), border_tolerance_m=tolerance_m, progress=progress
        ),
    )
    if out:
        _write(answer, out)
        console.print(
            f"{len(answer.sites):,} sites with {read.size:,} plantings answered, written to "
            f"{out.name}.",
            highlight=False,
        )
    else:
        print_community(answer)
    for problem in answer.problems:
        click.echo(
            f"{file.name}: {problem.pointer}: {problem.detail} {problem.next_step}".rstrip(),
            err=True,
        )


def _write(answer: CommunityAnswer, out: Path) -> None:
    if out.suffix == _GEOPACKAGE:
        write_geopackage(community_layers(answer), answer.as_of, out)
        return
    kind = ENDINGS[out.suffix]
    text = (
        community_json(answer, indent=1).decode() + "\n"
        if kind == JSON
        else write_community(answer, kind)
    )
    with out.open("w", encoding="utf-8", newline="") as stream:
        stream.write(text)


def _community(content: bytes, waters: list[dict[str, Any]]) -> Community:
    document = parse_json(content)
    if waters:
        document["waters"] = [*document.get("waters", []), *waters]
    return read_community(document)


def print_community(answer: CommunityAnswer) -> None:
    """The answer on the terminal: the order of the sites, then the waters."""
    console.print(
        f"\n{plain(answer.title or 'Community screening')}", style="bold", highlight=False
    )
    sites = Table(
        "Rank",
        "Site",
        "State",
        "Plantings",
        "Anything gets out",
        "Why",
        title="In which order to see to the sites",
    )
    for task in answer.priority[:_MOST_SHOWN]:
        site = answer.site(task.site)
        state = (site.state or "not known").removeprefix("US-")
        sites.add_row(
            str(task.rank),
            plain(site.name),
            state,
            str(len(site.plantings)),
            likely(site.escape),
            plain(shorten(task.why, 90)),
        )
    console.print(sites)
    if len(answer.priority) > _MOST_SHOWN:
        console.print(f"and {len(answer.priority) - _MOST_SHOWN} more sites; --out keeps them all.")
    console.print(answer.ranking, style="dim", highlight=False)
    waters = Table(
        "Water",
        "From elsewhere",
        "Any plant",
        "Sites",
        "Likeliest sender",
        title="\nWhat could come to which water in ten years",
    )
    for water in answer.waters[:_MOST_SHOWN]:
        first = water.senders[0] if water.senders else None
        sender = f"{first.plant} from {first.site_name}" if first else "-"
        name = water.water.name or f"unnamed {water.water.kind}"
        count = str(len({sender.site for sender in water.senders}))
        waters.add_row(
            plain(name),
            likely(water.not_native),
            likely(water.estimate),
            count,
            plain(shorten(sender, 70)),
        )
    console.print(waters)
    for line in answer.assumptions:
        console.print(f"Assumed: {line}", markup=False, highlight=False)
    console.print(
        f"\nAs of {answer.as_of.isoformat()}, store build {answer.store_build}. "
        f"{STANDING_CAUTIONS[0]}",
        style="dim",
        highlight=False,
    )
