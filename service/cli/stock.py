"""``reedgate stock``: a stock list against many places."""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import TextIO

import click
from rich.progress import Progress
from rich.table import Table

from service.checks.stock import RESTRICTED, StockChecker, StockLine, StockQuestion
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
from service.input.person import read_county, today
from service.input.stock_table import StockTable, read_stock
from service.output.words import SHORT_OUTCOMES
from service.regulation.coverage import standing_of
from service.store.library import Library
from service.values.vocabulary import OUTCOMES, Act, Jurisdiction, Outcome
from service.values.words import STANDING_CAUTIONS

_MOST_COLUMNS = 8
"""Columns of outcomes that a terminal shows side by side."""
_MOST_SHOWN = 12
_ENDINGS = (".csv", ".json", ".xlsx")


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--to",
    "places",
    type=JURISDICTIONS,
    required=True,
    help="Ship-to states by code or name, separated by commas; all for every state.",
)
@click.option(
    "--from",
    "origin",
    type=JURISDICTIONS,
    help="State it ships from: adds the outcome of the shipment to each state.",
)
@acts_option
@click.option("--county", help="County, where one state is asked about.")
@on_option
@click.option("--column", help="Heading of the column that names the plants. [default: found out]")
@click.option("--sheet", help="Sheet of a workbook. [default: the first with a heading]")
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the answered list here: .csv, .json or .xlsx.",
)
@click.option(
    "--table",
    "shop_table",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write item by state for a web shop here (.csv): nothing-found, ask or hold.",
)
@click.option(
    "--texts",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write a sentence for the shelf card of each line that is held back here (.csv).",
)
@store_option
def stock(
    file: Path,
    places: tuple[Jurisdiction, ...],
    origin: tuple[Jurisdiction, ...] | None,
    acts: tuple[Act, ...],
    county: str | None,
    on: date | None,
    column: str | None,
    sheet: str | None,
    out: Path | None,
    shop_table: Path | None,
    texts: Path | None,
    store: Path | None,
) -> None:
    """Every line of a stock list against many places, in order, none lost.

    FILE is CSV, text or an Excel workbook (.xlsx): comma, semicolon, tab or bar; UTF-8, UTF-16 or
    Windows-1252; rows of titles above the heading do no harm, and a .txt without a heading is one
    plant a line. The heading is matched by its words: Label, Plant Name, Product Name, Item
    Description, Variety, scientificName, Botanical Name, Latin Name, Common Name and the like. A
    botanical and a common name are read together: agreeing they confirm each other, contradicting
    they leave the name open. Every other column comes back unchanged; the answers follow it.

    In --table, hold is a line that a list or a rule of your own bars or wants a permit for; ask is
    one that depends, is listed for other acts, or cannot be answered; nothing-found is no
    permission.

    \b
    Examples:
      reedgate stock stock.csv --to US-OH,US-WI,US-FL
      reedgate stock stock.xlsx --to all --out answer.xlsx
      reedgate stock stock.csv --to Ohio --from Kentucky --act sell --act import --out answer.csv
      reedgate stock stock.csv --to all --table ship.csv --texts cards.csv
    """
    _check_options(places, origin, county, out, shop_table, texts)
    library = open_library(store)
    fips = read_county(library.counties, places[0], county)
    question = StockQuestion(
        places, unique_acts(acts), on or today(), origin[0] if origin else None, fips
    )
    table = _read(file, column, sheet)
    lines = _checked(library, question, table)
    if out:
        _write(out, library, question, table, lines)
    if shop_table:
        _write_shop_table(shop_table, library, question, table, lines)
    if texts:
        _write_texts(texts, question, table, lines)
    if not (out or shop_table or texts):
        print_matrix(table, lines, question)
    for note in (*table.notes, *map(str, table.problems)):
        click.echo(f"{file.name}: {note}", err=True)
    print_summary(library, lines, question)
    print_hold_back(lines)
    console.print(
        f"\nAs of {question.on.isoformat()}, store build {library.build_id}."
        f" {STANDING_CAUTIONS[0]}",
        style="dim",
    )


def _check_options(
    places: Sequence[Jurisdiction],
    origin: Sequence[Jurisdiction] | None,
    county: str | None,
    out: Path | None,
    shop_table: Path | None,
    texts: Path | None,
) -> None:
    if out and out.suffix.lower() not in _ENDINGS:
        raise click.UsageError("--out takes a name that ends in .csv, .json or .xlsx.")
    for option, path in (("--table", shop_table), ("--texts", texts)):
        if path and path.suffix.lower() != ".csv":
            raise click.UsageError(f"{option} takes a name that ends in .csv.")
    if origin and len(origin) > 1:
        raise click.UsageError("--from takes one state.")
    if county and len(places) > 1:
        raise click.UsageError("--county goes with one state in --to.")


def _read(file: Path, column: str | None, sheet: str | None) -> StockTable:
    try:
        plain = file.suffix.lower() == ".txt"
        return read_stock(file.read_bytes(), column=column, sheet=sheet, plain=plain)
    except OSError as error:
        raise BadFile(file.name, f"it cannot be read: {error.strerror or error}") from error
    except BadRequest as error:
        if error.pointer in ("column", "sheet"):
            raise
        raise BadFile(file.name, error.detail, next_step=error.next_step) from error


def _checked(library: Library, question: StockQuestion, table: StockTable) -> list[StockLine]:
    checker = StockChecker(library, question)
    with Progress(console=console, transient=True, disable=len(table.rows) < 2_000) as progress:
        task = progress.add_task("Checking lines", total=len(table.rows))
        lines = []
        for line in checker.check(table.names):
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
    match out.suffix.lower():
        case ".csv":
            from service.output.csv import stock_csv

            with _opened(out) as text:
                text.writelines(stock_csv(table, lines, question, marked=True))
        case ".xlsx":
            from service.output.excel import stock_workbook
            from service.output.stock_columns import about_lines

            about = about_lines(library, question)
            with out.open("wb") as file:
                file.writelines(stock_workbook(table, lines, question, about))
        case _:
            from service.output.stock_columns import standings
            from service.output.stock_json import write_stock_json

            phrases = standings(library, question)
            pieces = write_stock_json(table, lines, question, library.build_id, phrases)
            with out.open("wb") as stream:
                stream.writelines(pieces)
    click.echo(f"{_counted(lines)}, written to {out.name}.")


def _write_shop_table(
    path: Path,
    library: Library,
    question: StockQuestion,
    table: StockTable,
    lines: Sequence[StockLine],
) -> None:
    from service.output.shipping import shipping_table
    from service.output.stock_columns import standings

    phrases = [standing.phrase for standing in standings(library, question)]
    pieces = shipping_table(table, lines, question, build_id=library.build_id, standing=phrases)
    with _opened(path) as stream:
        stream.writelines(pieces)
    click.echo(
        f"Item by state written to {path.name}; nothing-found in it does not mean permission."
    )


def _write_texts(
    path: Path, question: StockQuestion, table: StockTable, lines: Sequence[StockLine]
) -> None:
    from service.output.shipping import card_texts

    with _opened(path) as stream:
        stream.writelines(card_texts(table, lines, question))
    click.echo(f"Sentences for shelf cards written to {path.name}.")


def _opened(path: Path) -> TextIO:
    return path.open("w", encoding="utf-8", newline="")


def _counted(lines: Sequence[StockLine]) -> str:
    """``12 lines answered``, or ``12 lines, 10 answered``: a row without a name never counts."""
    answered = sum(line.answered for line in lines)
    if answered == len(lines):
        return f"{answered:,} lines answered"
    return f"{len(lines):,} lines, {answered:,} answered, {len(lines) - answered:,} without a name"


def print_matrix(table: StockTable, lines: Sequence[StockLine], question: StockQuestion) -> None:
    """The lines and what the lists say, on the terminal: place by place where there is room, else
    the states of each outcome.
    """
    title = "What the lists say; * is unverified, ? a name not confirmed"
    columns = [
        f"{_short(place)} {act}" for place in question.jurisdictions for act in question.acts
    ]
    if question.origin:
        columns += [f"ship to {_short(place)}" for place in question.jurisdictions]
    wide = len(columns) > _MOST_COLUMNS
    shown = Table("Row", "Label", "Plant", *(_WIDE if wide else columns), title=title)
    for number, line in enumerate(lines, start=table.first_row):
        if line.answered:
            cells = _states_by_outcome(line) if wide else _outcome_cells(line)
            shown.add_row(str(number), line.label[:44], _plant(line), *cells)
    console.print(shown)


_WIDE = ("PROHIBITED", "PERMIT", "depends", "not known")


def _outcome_cells(line: StockLine) -> Iterator[str]:
    verdicts = line.verdicts
    yield from (_cell(finding.outcome, finding.verified) for finding in verdicts.findings)
    yield from (_cell(lane.outcome, lane.verified) for lane in verdicts.lanes)


def _states_by_outcome(line: StockLine) -> Iterator[str]:
    """States of each of the stricter outcomes, a dash for none."""
    for outcome in OUTCOMES[: len(_WIDE)]:
        places = dict.fromkeys(
            [
                *(
                    finding.jurisdiction
                    for finding in line.verdicts.findings
                    if finding.outcome == outcome
                ),
                *(lane.destination for lane in line.verdicts.lanes if lane.outcome == outcome),
            ]
        )
        names = [_short(place) for place in places]
        more = f" +{len(names) - 6}" if len(names) > 6 else ""
        yield f"{' '.join(names[:6])}{more}" or "-"


def _cell(outcome: Outcome, verified: bool) -> str:
    listed = outcome not in ("no-entry-found", "undetermined")
    return SHORT_OUTCOMES[outcome] + ("*" if listed and not verified else "")


def _short(place: Jurisdiction) -> str:
    return place.removeprefix("US-")


def _plant(line: StockLine) -> str:
    candidates = line.resolution.candidates
    if line.resolution.genus_only and candidates:
        return f"{candidates[0].accepted_name.split()[0]}, species open ?"
    name = candidates[0].accepted_name if candidates else "-"
    more = f" or {len(candidates) - 1} more" if len(candidates) > 1 else ""
    return f"{name}{more}{'' if line.resolution.confirmed else ' ?'}"


def print_summary(library: Library, lines: Sequence[StockLine], question: StockQuestion) -> None:
    """How many outcomes of each kind, by law, shipment and own list, and how far the law of each
    place can be relied on.
    """
    answered = [line for line in lines if line.answered]
    findings = [finding for line in answered for finding in line.verdicts.findings]
    shipments = [lane.outcome for line in answered for lane in line.verdicts.lanes]
    own = [rule.outcome for finding in findings for rule in finding.own_rules]
    _say(f"{_counted(lines)}.")
    _say(f"Findings: {_outcome_counts([finding.outcome for finding in findings])}")
    if question.origin:
        _say(f"Shipments from {question.origin}: {_outcome_counts(shipments)}")
    if own:
        _say(f"Own lists, no law: {_outcome_counts(own)}")
    _say("\nHow far the law loaded here can be relied on:")
    for place in question.jurisdictions:
        _say(f"  {standing_of(library.law, place, question.on).phrase}")


def _outcome_counts(outcomes: Sequence[Outcome]) -> str:
    counts = Counter(outcomes)
    return ", ".join(f"{counts[outcome]:,} {outcome}" for outcome in OUTCOMES if counts[outcome])


def print_hold_back(lines: Sequence[StockLine]) -> None:
    """What to hold back until somebody has cleared it: restricted lines, then open names."""
    restricted = [line for line in lines if line.answered and line.restricts()]
    unnamed = [line for line in lines if line.answered and not line.resolution.confirmed]
    if restricted:
        _headline("Hold these back: a list or a rule of your own restricts them (* unverified)")
    plants = _by_plant(restricted)
    for line in plants[:_MOST_SHOWN]:
        _say(f"  {_plant(line)}: {'; '.join(dict.fromkeys(_restrictions(line)))}")
    if len(plants) > _MOST_SHOWN:
        _say(f"  and {len(plants) - _MOST_SHOWN} more plants; --out keeps them all.")
    if unnamed:
        _headline("Hold these back: the name is not confirmed")
    labels = list(dict.fromkeys(line.label for line in unnamed))
    for label in labels[:_MOST_SHOWN]:
        _say(f"  {' '.join(label.split())[:60]}")
    if len(labels) > _MOST_SHOWN:
        _say(f"  and {len(labels) - _MOST_SHOWN} more names.")
    asked = dict.fromkeys(
        finding.confirm_with
        for line in restricted
        for finding in line.verdicts.findings
        if finding.outcome in RESTRICTED
    )
    for authority in list(asked)[:6]:
        _say(f"  Ask: {authority}")


def _restrictions(line: StockLine) -> Iterator[str]:
    """``sell prohibited in FL, TX*``, ``ship permit-required to WI``, own rules as such."""
    places: dict[tuple[str, Outcome], dict[str, None]] = {}
    for finding in line.verdicts.findings:
        name = f"{_short(finding.jurisdiction)}{'' if finding.verified else '*'}"
        places.setdefault((finding.act, finding.outcome), {})[name] = None
    for lane in line.verdicts.lanes:
        name = f"{_short(lane.destination)}{'' if lane.verified else '*'}"
        places.setdefault(("ship", lane.outcome), {})[name] = None
    for (act, outcome), names in places.items():
        if outcome in RESTRICTED:
            yield f"{act} {outcome} {'to' if act == 'ship' else 'in'} {', '.join(names)}"
    for finding in line.verdicts.findings:
        yield from (f"own rule {rule.title}: {rule.outcome}" for rule in finding.own_rules)


def _by_plant(lines: Sequence[StockLine]) -> list[StockLine]:
    by_plant = {_plant(line): line for line in reversed(lines)}
    return list(by_plant.values())[::-1]


def _headline(text: str) -> None:
    console.print(f"\n{text}", style="bold", markup=False, highlight=False)


def _say(text: str) -> None:
    console.print(text, markup=False, highlight=False)
