"""``reedgate plan``: a planting plan, checked."""

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from textwrap import shorten
from typing import Any

import click
from rich.markup import escape as plain
from rich.progress import Progress
from rich.table import Table

from service.cautions.general import STANDING_CAUTIONS
from service.checks.plan.check import check_plan
from service.checks.plan.request import Plan
from service.checks.plan.values import PlanAnswer, PlantingAnswer
from service.cli.common import console, on_option, open_library, store_option
from service.containment import Verdict as HeldVerdict
from service.errors import BadFile, BadRequest
from service.fit import Verdict as FitVerdict
from service.input.day import today
from service.input.json_document import parse_json
from service.input.place import read_position
from service.input.plan import read_plan
from service.input.plan_document import PlanDocument
from service.input.plan_table import read_plan_table
from service.output.models.plan import plan_model
from service.output.pdf import print_pdf, require_printer
from service.output.plan import CSV, GEOJSON, HTML, JSON, write_plan
from service.settings import settings
from service.store.library import Library
from service.values.vocabulary import Outcome

ENDINGS = {".json": JSON, ".html": HTML, ".geojson": GEOJSON, ".csv": CSV}
PDF = ".pdf"
OUTCOME_WORDS: dict[Outcome, str] = {
    "prohibited": "PROHIBITED",
    "permit-required": "PERMIT",
    "conditional": "depends",
    "undetermined": "not known",
    "listed-other-acts": "other acts",
    "no-entry-found": "no entry",
}
"""How a finding reads in a table; the words carry the meaning, not a colour."""
_FITS: dict[FitVerdict, str] = {
    "fits": "yes",
    "fits-with-change": "with a change",
    "does-not-fit": "no",
    "unknown": "not known",
}
_HELD: dict[HeldVerdict, str] = {
    "prohibited": "none designed",
    "nothing-holds": "by nothing",
    "partly-held": "in part",
    "each-way-met": "each way met",
    "no-way-out-stated": "no way out stated",
}
_MOST_SHOWN = 8


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the answer here: .html, .json, .geojson or .csv; .pdf where Chromium is installed.",
)
@click.option("--state", help="State of the site, with a CSV file.")
@click.option("--county", help="County of the site, with a CSV file.")
@click.option("--zip", "zip_code", help="ZIP code of the site, with a CSV file.")
@click.option("--at", metavar="LON,LAT", help="Position of the site, with a CSV file.")
@click.option("--zone", help="Hardiness zone of the site, with a CSV file.")
@click.option(
    "--schema",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=lambda context, _, wanted: _print_schema(context) if wanted else None,
    help="Print the JSON schema of the document, and stop.",
)
@click.option("--explain", is_flag=True, help="Show what each chance of escape hangs on.")
@on_option
@store_option
def plan(
    file: Path,
    out: Path | None,
    state: str | None,
    county: str | None,
    zip_code: str | None,
    at: str | None,
    zone: str | None,
    explain: bool,
    on: date | None,
    store: Path | None,
) -> None:
    """A planting plan: the site, and for each planting its name, law, fit, escape, containment, and
    what instead.

    FILE is JSON, or a CSV of plantings with the site in the options.

    \b
    Examples:
      reedgate plan pond.json
      reedgate plan pond.json --out pond.html
      reedgate plan plants.csv --state US-OH --county Fulton --zip 43594
    """
    if out and out.suffix not in (*ENDINGS, PDF):
        raise click.UsageError(f"--out takes a name that ends in {', '.join((*ENDINGS, PDF))}.")
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
    read = read_file(file, lambda content: _plan(file, content, site))
    library = open_library(store)
    answer = with_bar(
        "Checking plantings",
        len(read.plantings),
        lambda progress: _checked(library, read, on, explain, progress),
    )
    if out:
        write_answer(out, library, answer, explain)
    else:
        print_plan(answer)
    for problem in answer.problems:
        click.echo(
            f"{file.name}: {problem.pointer}: {problem.detail} {problem.next_step}".rstrip(),
            err=True,
        )


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


def write_answer(out: Path, library: Library, answer: PlanAnswer, explain: bool) -> None:
    """The answer in the form that the ending names."""
    if out.suffix == PDF:
        print_pdf(write_plan(library, answer, HTML), out)
    else:
        kind = ENDINGS[out.suffix]
        text = (
            plan_model(answer, explain=explain).model_dump_json(by_alias=True, indent=1) + "\n"
            if kind == JSON
            else ""
        )
        with out.open("w", encoding="utf-8", newline="") as stream:
            stream.write(text or write_plan(library, answer, kind))
    console.print(
        f"{len(answer.plantings):,} plantings answered, written to {out.name}.", highlight=False
    )


def print_plan(answer: PlanAnswer) -> None:
    """The answer on the terminal: site, what to decide first, the plantings, what passes, whom
    to ask.
    """
    console.print(f"\n{plain(answer.title or 'Planting plan')}", style="bold", highlight=False)
    _print_site(answer)
    _print_decisions(answer)
    console.print(_plantings(answer))
    _print_shopping(answer)
    _print_confirm(answer)
    for planting in answer.plantings:
        if planting.sensitivity is not None:
            _print_effects(planting)
    for line in answer.assumptions:
        console.print(f"Assumed: {line}", markup=False, highlight=False)
    console.print(
        f"\n{len(answer.sources)} sources, numbered in the report (--out plan.html). As of {answer.as_of.isoformat()}, "
        f"store build {answer.store_build}. {STANDING_CAUTIONS[0]}",
        style="dim",
        highlight=False,
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


def _plan(file: Path, content: bytes, site: dict[str, Any]) -> Plan:
    if file.suffix.lower() in (".csv", ".tsv", ".txt"):
        return read_plan_table(content, site=site, title=file.stem)
    return read_plan(parse_json(content))


def _print_site(answer: PlanAnswer) -> None:
    shown = Table(box=None, show_header=False, padding=(0, 1))
    for fact in answer.site.facts:
        how = f"[{fact.known.how_known}]" if fact.known else ""
        shown.add_row(
            fact.title,
            plain(fact.text),
            plain(how),
            plain(fact.would_narrow and f"would narrow it: {fact.would_narrow}"),
        )
    console.print(shown)
    for note in answer.site.notes:
        console.print(f"  {note}", markup=False, highlight=False)


def _print_decisions(answer: PlanAnswer) -> None:
    console.print("\nDecide first", style="bold")
    for each in answer.decisions[:_MOST_SHOWN]:
        ask = (
            f" {'Where' if each.kind == 'fact-missing' else 'Ask'}: {shorten(each.ask, 110)}."
            if each.ask
            else ""
        )
        console.print(
            f"  {each.rank}. {each.title}{'' if each.title[-1] in '.?' else '.'}{ask}",
            markup=False,
            highlight=False,
        )
    if len(answer.decisions) > _MOST_SHOWN:
        console.print(f"  and {len(answer.decisions) - _MOST_SHOWN} more; --out keeps them all.")


def _plantings(answer: PlanAnswer) -> Table:
    shown = Table(title="\nPlantings; * unverified, ? name not confirmed", padding=(0, 1))
    shown.add_column("No.", justify="right", no_wrap=True)
    shown.add_column("Label", max_width=26, overflow="fold")
    shown.add_column("Plant", max_width=26, overflow="fold")
    for heading in ("Law, strictest", "Lives there", "Gets out, ten years", "Held"):
        shown.add_column(heading, overflow="fold")
    for each in answer.plantings:
        label = plain(shorten(each.label, 40, placeholder="..."))
        shown.add_row(
            str(each.number),
            label,
            plain(_name(each)),
            _law(each),
            _fit(each),
            _escape(each),
            _held(each),
        )
    return shown


def _name(planting: PlantingAnswer) -> str:
    candidates = planting.resolution.candidates
    if not candidates:
        return "no plant known ?"
    more = f" or {len(candidates) - 1} more" if len(candidates) > 1 else ""
    return f"{candidates[0].accepted_name}{more}{'' if planting.resolution.confirmed else ' ?'}"


def _law(planting: PlantingAnswer) -> str:
    """The strictest outcome in words, with the state and act that has it."""
    outcome = planting.outcome
    if outcome is None:
        return "no state known"
    if outcome in ("no-entry-found", "listed-other-acts"):
        return OUTCOME_WORDS[outcome]
    where = next(
        (each.finding for each in planting.findings if each.finding.outcome == outcome), None
    )
    place = f"{where.jurisdiction.removeprefix('US-')} {where.act}" if where else "on the way in"
    return f"{OUTCOME_WORDS[outcome]}{'' if planting.verified else '*'}, {place}"


def _fit(planting: PlantingAnswer) -> str:
    fit = planting.worst_fit
    return _FITS[fit.verdict] if fit else "-"


def _escape(planting: PlantingAnswer) -> str:
    escape = planting.escape
    return (
        f"{escape.escape_class}, {escape.interval.low:.0%} to {escape.interval.high:.0%}"
        if escape
        else "-"
    )


def _held(planting: PlantingAnswer) -> str:
    containment = planting.worst_containment
    return _HELD[containment.verdict] if containment else "-"


def _print_shopping(answer: PlanAnswer) -> None:
    shopping = answer.shopping
    console.print("\nShopping list", style="bold")
    console.print(f"  {shopping.passes_means}", style="dim", markup=False, highlight=False)
    for line in shopping.lines:
        count = f"{line.count} x " if line.count else ""
        console.print(
            f"  {count}{line.name}, {line.place or 'no place'}", markup=False, highlight=False
        )
    console.print("Held back" if shopping.held_back else "Nothing is held back.", style="bold")
    for held in shopping.held_back:
        planting = answer.planting(held.planting)
        instead = (
            ", ".join(each.accepted_name for each in planting.substitutes.plants[:3])
            if planting.substitutes
            else ""
        )
        console.print(
            f"  {held.planting}. {held.name}: {shorten(held.reasons[0], 120)}",
            markup=False,
            highlight=False,
        )
        if instead:
            console.print(f"     Instead: {instead}", markup=False, highlight=False)


def _print_confirm(answer: PlanAnswer) -> None:
    console.print("\nConfirm with", style="bold")
    for each in answer.confirm:
        console.print(
            f"  {each.whom}: {len(each.about)} questions, first: {shorten(each.about[0], 120)}",
            markup=False,
            highlight=False,
        )


def _print_effects(planting: PlantingAnswer) -> None:
    found = planting.sensitivity
    if found is None or not found.effects:
        return
    title = f"\nWhat the escape of {plain(planting.name)} (planting {planting.number}) hangs on; {found.samples:,} runs"
    shown = Table(
        "Input", "Low end gives", "High end gives", "Alone", "With all others", title=title
    )
    for effect in found.effects[:6]:
        shown.add_row(
            plain(effect.name),
            f"{effect.low:.1%}",
            f"{effect.high:.1%}",
            f"{effect.first_order:.0%}",
            f"{effect.total:.0%}",
        )
    console.print(shown)
