"""``reedgate plan``: a planting plan, checked."""

import csv
import io
import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import click
from rich.progress import Progress

from service.checks.plan.check import check_plan
from service.checks.plan.request import Plan
from service.checks.plan.values import PlanAnswer
from service.cli.common import console, on_option, open_library, store_option
from service.cli.fetch import fetch_for_plan
from service.cli.plan_terminal import print_plan
from service.errors import BadFile, BadRequest
from service.geography.geodesy import inside
from service.input.json_document import parse_json
from service.input.person import read_position, today
from service.input.plan import read_plan
from service.input.plan_columns import TEMPLATE
from service.input.plan_document import PlanDocument
from service.input.plan_table import read_plan_table
from service.input.waters import water_of_text
from service.output.models.plan import plan_json
from service.output.pdf import print_pdf, require_printer
from service.output.plan import CALENDAR, CSV, GEOJSON, HTML, JSON, write_plan
from service.settings import settings
from service.store.library import Library

ENDINGS = {".json": JSON, ".html": HTML, ".geojson": GEOJSON, ".csv": CSV}
CALENDARS = {".ics": CALENDAR}
PDF = ".pdf"
_TABLES = (".csv", ".tsv", ".txt", ".xlsx")


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the answer here: .html, .json, .geojson or .csv; .pdf where Chromium is installed; "
    ".ics for the calendar of the year after planting.",
)
@click.option("--state", help="State of the site, with a table.")
@click.option("--county", help="County of the site, with a table.")
@click.option("--zip", "zip_code", help="ZIP code of the site, with a table.")
@click.option("--at", metavar="LON,LAT", help="Position of the site, with a table.")
@click.option("--zone", help="Hardiness zone of the site, with a table.")
@click.option(
    "--water",
    "waters",
    multiple=True,
    metavar='"NAME, KIND, DISTANCE[, downstream]"',
    help='A water near the site: "Drawn Creek, stream, 40 m, downstream". May be given again.',
)
@click.option(
    "--template",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write an empty table to fill in, .csv or .xlsx, and stop.",
)
@click.option(
    "--schema",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=lambda context, _, wanted: _print_schema(context) if wanted else None,
    help="Print the JSON schema of the document, and stop.",
)
@click.option(
    "--fetch", "fetch_first", is_flag=True, help="First fetch the waters around the site."
)
@click.option(
    "--brief", is_flag=True, help="With .html or .pdf: the two pages for the client alone."
)
@click.option("--explain", is_flag=True, help="Show what each chance of escape hangs on.")
@on_option
@store_option
def plan(
    file: Path | None,
    out: Path | None,
    state: str | None,
    county: str | None,
    zip_code: str | None,
    at: str | None,
    zone: str | None,
    waters: tuple[str, ...],
    template: Path | None,
    fetch_first: bool,
    brief: bool,
    explain: bool,
    on: date | None,
    store: Path | None,
) -> None:
    """A planting plan: for each planting its verdict and conditions, name, law, fit, escape,
    containment, and what to plant instead.

    FILE is JSON (--schema), or a table, one planting a row. A column for the label is all that a
    table needs; what it says beside narrows the answer:

    \b
      count                       12, or "12 plugs"
      crown_depth_cm              water over the crown; or a column "crown depth (in)", or "6 in"
      holding                     open-ground, basket, solid-pot, no-drain-tub, foam-island
      light, flow                 sun, part shade, shade; still, slow, moving
      place, place_kind           name of the pond, stream or bog, and which of them it is
      place_depth_cm, place_area_m2, place_outlet, place_overflow, place_lined, ...
      site_state, site_county, site_zip, site_hardiness_zone, or the options below

    --template writes such a table with its headings. Lengths may have their unit ("2 ft", "24 in").

    \b
    Examples:
      reedgate plan pond.json
      reedgate plan pond.json --out pond.html
      reedgate plan pond.json --out client.pdf --brief
      reedgate plan pond.json --out pond.ics
      reedgate plan --template plan.csv
      reedgate plan plants.csv --state US-OH --county Fulton --zip 43594
      reedgate plan pond.json --fetch
      reedgate plan plants.csv --state US-OH --water "Drawn Creek, stream, 40 m, downstream"
    """
    if template is not None:
        write_template(template)
        return
    if file is None:
        raise click.UsageError("Give a file, or --template to get an empty one.")
    endings = (*ENDINGS, *CALENDARS, PDF)
    if out and out.suffix not in endings:
        raise click.UsageError(f"--out takes a name that ends in {', '.join(endings)}.")
    if brief and (out is None or out.suffix not in (".html", PDF)):
        raise click.UsageError("--brief goes with --out and a name that ends in .html or .pdf.")
    if out and out.suffix == PDF:
        require_printer()
    geometry = {"type": "Point", "coordinates": list(read_position(at, "--at"))} if at else None
    site = {
        "state": state,
        "county": county,
        "zip": zip_code,
        "hardiness_zone": zone,
        "geometry": geometry,
    }
    given = waters_of_lines(waters)
    path = file
    read = read_file(path, lambda content: _plan(path, content, site, given))
    if fetch_first:
        fetch_for_plan(_position(read), store)
    library = open_library(store)
    answer = with_bar(
        "Checking plantings",
        len(read.plantings),
        lambda progress: _checked(library, read, on, explain, progress),
    )
    if out:
        write_answer(out, library, answer, explain, brief=brief)
    else:
        print_plan(answer)
    for problem in answer.problems:
        said = f"{file.name}: {problem.pointer}: {problem.detail} {problem.next_step}"
        click.echo(said.rstrip(), err=True)


def _position(plan: Plan) -> tuple[float, float]:
    """Where the site is.

    Raises:
        BadRequest: the plan gives no position.
    """
    if plan.site.shape is None:
        raise BadRequest(
            "The plan gives no position, so nothing can be fetched for it.",
            pointer="/site/geometry",
            next_step='Give the site a "geometry", or --at LON,LAT with a table.',
        )
    return inside(plan.site.shape)


def waters_of_lines(lines: tuple[str, ...]) -> list[dict[str, Any]]:
    """The waters of ``--water``.

    Raises:
        UsageError: a line that is not one.
    """
    try:
        return [water_of_text(line) for line in lines]
    except BadRequest as error:
        raise click.UsageError(f"{error.detail} {error.next_step}") from error


def write_template(path: Path) -> None:
    """An empty plan as a table, with one invented row to write over."""
    rows = [TEMPLATE, tuple(_EXAMPLE.get(name, "") for name in TEMPLATE)]
    if path.suffix == ".xlsx":
        from openpyxl import Workbook  # slow to import

        book = Workbook(write_only=True)
        sheet = book.create_sheet("Plan")
        for row in rows:
            sheet.append(list(row))
        book.save(path)
    elif path.suffix == ".csv":
        buffer = io.StringIO()
        csv.writer(buffer, lineterminator="\r\n").writerows(rows)
        path.write_text(buffer.getvalue(), encoding="utf-8", newline="")
    else:
        raise click.UsageError("--template takes a name that ends in .csv or .xlsx.")
    console.print(f"An empty plan with one invented row, written to {path.name}.", highlight=False)


_EXAMPLE = {
    "label": "Pontederia cordata 1 gal",
    "count": "6",
    "crown_depth_cm": "6 in",
    "holding": "solid-pot",
    "light": "sun",
    "place": "Pond",
    "place_kind": "pond",
    "place_area_m2": "400 sq ft",
    "place_depth_cm": "3 ft",
    "place_flow": "still",
    "place_outlet": "no",
    "place_overflow": "yes",
    "place_lined": "yes",
    "site_state": "Ohio",
}


def _print_schema(context: click.Context) -> None:
    click.echo(json.dumps(PlanDocument.model_json_schema(by_alias=True), indent=1))
    context.exit()


def read_file(file: Path, read: Callable[[bytes], Any]) -> Any:
    """What a file holds.

    Raises:
        BadFile: it cannot be read, or nothing in it can be answered.
    """
    try:
        return read(file.read_bytes())
    except OSError as error:
        raise BadFile(file.name, f"it cannot be read: {error.strerror or error}") from error
    except BadRequest as error:
        raise BadFile(
            file.name, error.detail, place=error.pointer, next_step=error.next_step
        ) from error


def with_bar(title: str, total: int, work: Callable[[Callable[[int, int], None]], Any]) -> Any:
    """Work with a progress bar, where there is enough of it and somebody looks on."""
    with Progress(
        console=console, transient=True, disable=total < 20 or not console.is_terminal
    ) as bar:
        task = bar.add_task(title, total=total)
        return work(lambda done, _: bar.update(task, completed=done))


def write_answer(
    out: Path, library: Library, answer: PlanAnswer, explain: bool, *, brief: bool = False
) -> None:
    """The answer in the form that the ending names."""
    if out.suffix == PDF:
        print_pdf(write_plan(library, answer, HTML, brief=brief), out)
    else:
        kind = (ENDINGS | CALENDARS)[out.suffix]
        text = plan_json(answer, explain=explain, indent=1).decode() + "\n" if kind == JSON else ""
        with out.open("w", encoding="utf-8", newline="") as stream:
            stream.write(text or write_plan(library, answer, kind, brief=brief))
    console.print(
        f"{len(answer.plantings):,} plantings answered, written to {out.name}.", highlight=False
    )


def _checked(
    library: Library,
    read: Plan,
    on: date | None,
    explain: bool,
    progress: Callable[[int, int], None],
) -> PlanAnswer:
    tolerance_m = settings().border_tolerance_m
    return check_plan(
        library,
        read,
        on=on or today(),
        explain=explain,
        border_tolerance_m=tolerance_m,
        progress=progress,
    )


def _plan(file: Path, content: bytes, site: dict[str, Any], waters: list[dict[str, Any]]) -> Plan:
    if file.suffix.lower() in _TABLES:
        return read_plan_table(content, site=site, waters=waters, title=file.stem)
    document = parse_json(content)
    if waters:
        document["waters"] = [*document.get("waters", []), *waters]
    return read_plan(document)
