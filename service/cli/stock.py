"""``reedgate stock``: a stock list against many places."""

from collections import Counter
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import click
from rich.progress import Progress
from rich.table import Table

from service.cautions.general import STANDING_CAUTIONS
from service.checks.stock import StockChecker, StockLine, StockQuestion
from service.cli.common import (
    JURISDICTIONS,
    acts_option,
    console,
    on_option,
    open_library,
    store_option,
    unique_acts,
)
from service.errors import BadFile, BadRequest
from service.input.day import today
from service.input.place import read_county
from service.input.stock_table import StockTable, read_stock, write_stock
from service.output.models.law import (
    StockAnswer,
    StockLineModel,
    finding_models,
    lane_models,
    resolution_model,
)
from service.regulation.holdings import coverage_of
from service.store.library import Library
from service.values.vocabulary import Act, Jurisdiction, Outcome

_SHORT: dict[Outcome, str] = {
    "prohibited": "PROHIBITED",
    "permit-required": "PERMIT",
    "conditional": "depends",
    "undetermined": "not known",
    "listed-other-acts": "other acts",
    "no-entry-found": "no entry",
}
"""How a cell of the table reads; the words carry the meaning, not a colour."""
_HELD = {"complete": "(lists in full)", "partial": "(lists in part)", "none": "(no list)"}


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--to", "places", type=JURISDICTIONS, required=True, help="Ship-to states, parted by commas."
)
@click.option(
    "--from", "origin", type=JURISDICTIONS, help="State it ships from: adds one verdict a lane."
)
@acts_option
@click.option("--county", help="County, where one state is asked about.")
@on_option
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the answer here: .csv or .json.",
)
@store_option
def stock(
    file: Path,
    places: tuple[Jurisdiction, ...],
    origin: tuple[Jurisdiction, ...] | None,
    acts: tuple[Act, ...],
    county: str | None,
    on: date | None,
    out: Path | None,
    store: Path | None,
) -> None:
    """Every line of a stock list (CSV) against many places, in order, none lost.

    The labels stand in a column headed label, name, plant, item, description, botanical name or
    scientific name; every other column is passed through. Comma, semicolon, tab or bar; UTF-8,
    UTF-16 or Windows-1252.

    \b
    Examples:
      reedgate stock stock.csv --to US-OH,US-WI,US-FL
      reedgate stock stock.csv --to US-OH --from US-KY --act sell --act import --out answer.csv
    """
    if out and out.suffix not in (".csv", ".json"):
        raise click.UsageError("--out takes a name that ends in .csv or .json.")
    if origin and len(origin) > 1:
        raise click.UsageError("--from takes one state.")
    if county and len(places) > 1:
        raise click.UsageError("--county goes with one state in --to.")
    library = open_library(store)
    fips = read_county(library.counties, places[0], county)
    question = StockQuestion(
        places, unique_acts(acts), on or today(), origin[0] if origin else None, fips
    )
    table = _read(file)
    lines = _checked(library, question, table)
    if out:
        _write(out, library, question, table, lines)
    else:
        print_matrix(library, table, lines, question)
    for note in (*table.notes, *map(str, table.problems)):
        click.echo(f"{file.name}: {note}", err=True)
    print_confirm(lines, question)
    console.print(
        f"\nAs of {question.on.isoformat()}, store build {library.build_id}. {STANDING_CAUTIONS[0]}",
        style="dim",
    )


def _read(file: Path) -> StockTable:
    try:
        return read_stock(file.read_bytes())
    except OSError as error:
        raise BadFile(file.name, f"it cannot be read: {error.strerror or error}") from error
    except BadRequest as error:
        raise BadFile(file.name, error.detail, next_step=error.next_step) from error


def _checked(library: Library, question: StockQuestion, table: StockTable) -> list[StockLine]:
    checker = StockChecker(library, question)
    with Progress(console=console, transient=True, disable=len(table.rows) < 2_000) as progress:
        task = progress.add_task("Checking lines", total=len(table.rows))
        lines = []
        for line in checker.check(table.labels):
            lines.append(line)
            progress.advance(task)
    return lines


def _write(
    out: Path,
    library: Library,
    question: StockQuestion,
    table: StockTable,
    lines: Sequence[StockLine],
) -> None:
    if out.suffix == ".csv":
        with out.open("w", encoding="utf-8", newline="") as stream:
            stream.writelines(write_stock(table, lines, question))
    else:
        problems = {problem.row: str(problem) for problem in table.problems}
        answer = StockAnswer(
            store_build=library.build_id,
            as_of=question.on,
            lines=tuple(
                StockLineModel(
                    row=number,
                    name=resolution_model(line.resolution),
                    findings=finding_models(line.verdicts.findings),
                    lanes=lane_models(line.verdicts.lanes),
                    problem=problems.get(number),
                )
                for number, line in enumerate(lines, start=table.first_row)
            ),
            notes=table.notes,
        )
        out.write_text(answer.model_dump_json(by_alias=True, indent=1), encoding="utf-8")
    console.print(f"{len(lines):,} lines answered, written to {out.name}.")


def print_matrix(
    library: Library, table: StockTable, lines: Sequence[StockLine], question: StockQuestion
) -> None:
    """The matrix of lines and places on the terminal."""
    held = {place: coverage_of(library.law, place, question.on) for place in question.jurisdictions}
    headings = [
        f"{place.removeprefix('US-')} {act}\n{_HELD[held[place]]}"
        for place in question.jurisdictions
        for act in question.acts
    ]
    if question.origin:
        headings += [f"ship to {place.removeprefix('US-')}" for place in question.jurisdictions]
    shown = Table(
        "Row",
        "Label",
        "Plant",
        *headings,
        title="What the lists say; * is unverified, ? a name not confirmed",
    )
    for number, line in enumerate(lines, start=table.first_row):
        if line.label:
            cells = [(each.outcome, each.verified) for each in line.verdicts.findings]
            cells += [(each.outcome, each.verified) for each in line.verdicts.lanes]
            shown.add_row(
                str(number), line.label[:44], _plant(line), *(_cell(*each) for each in cells)
            )
    console.print(shown)
    counts = Counter(
        finding.outcome for line in lines if line.label for finding in line.verdicts.findings
    )
    console.print(
        "Findings: " + ", ".join(f"{count} {outcome}" for outcome, count in counts.most_common()),
        highlight=False,
    )


def _plant(line: StockLine) -> str:
    candidates = line.resolution.candidates
    if line.resolution.genus_only and candidates:
        return f"{candidates[0].accepted_name.split()[0]}, species open ?"
    name = candidates[0].accepted_name if candidates else "-"
    more = f" or {len(candidates) - 1} more" if len(candidates) > 1 else ""
    return f"{name}{more}{'' if line.resolution.confirmed else ' ?'}"


def _cell(outcome: Outcome, verified: bool) -> str:
    listed = outcome not in ("no-entry-found", "undetermined")
    return _SHORT[outcome] + ("*" if listed and not verified else "")


def print_confirm(lines: Sequence[StockLine], question: StockQuestion) -> None:
    """The short list of what a person should settle first: restricted lines, then names."""
    restricted = [
        line
        for line in lines
        if any(
            each.outcome in ("prohibited", "permit-required", "conditional")
            for each in line.verdicts.findings
        )
    ]
    names = [line for line in lines if line.label and not line.resolution.confirmed]
    console.print("\nConfirm these", style="bold")
    for line in _unique(restricted)[:12]:
        where = ", ".join(
            f"{each.jurisdiction.removeprefix('US-')} {each.act} {each.outcome}{'' if each.verified else ' (unverified)'}"
            for each in line.verdicts.findings
            if each.outcome in ("prohibited", "permit-required", "conditional")
        )
        console.print(f"  {_plant(line)}: {where}", markup=False, highlight=False)
    if len(_unique(restricted)) > 12:
        console.print(
            f"  and {len(_unique(restricted)) - 12} more plants with a restriction; --out keeps them all."
        )
    if names:
        console.print(
            f"  {len(names)} names are not confirmed, first of them: "
            + "; ".join(line.label[:40] for line in names[:6]),
            markup=False,
            highlight=False,
        )
    asked = dict.fromkeys(
        each.confirm_with for line in restricted for each in line.verdicts.findings
    )
    for authority in list(asked)[:6]:
        console.print(f"  Ask: {authority}", markup=False, highlight=False)


def _unique(lines: Sequence[StockLine]) -> list[StockLine]:
    by_plant = {_plant(line): line for line in reversed(lines)}
    return list(by_plant.values())[::-1]
