"""``reedgate status`` and ``reedgate coverage``."""

from datetime import date
from pathlib import Path

import click

from service.checks.label import check_label
from service.cli.common import (
    JURISDICTIONS,
    acts_option,
    console,
    on_option,
    open_library,
    store_option,
    unique_acts,
)
from service.input.person import read_county, today
from service.names import Resolution
from service.output.words import own_rule_sentence
from service.regulation.coverage import coverage_table, standing_of
from service.regulation.finding import Finding, Question
from service.values.vocabulary import JURISDICTION_NAMES, Act, Jurisdiction
from service.values.words import STANDING_CAUTIONS


@click.command()
@click.argument("label")
@click.option(
    "--in",
    "places",
    type=JURISDICTIONS,
    required=True,
    help="Where: US, or a state such as US-OH; several separated by commas, by code or name.",
)
@acts_option
@click.option("--county", help="County of the state, by name or five-digit FIPS code.")
@on_option
@click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON.")
@store_option
def status(
    label: str,
    places: tuple[Jurisdiction, ...],
    acts: tuple[Act, ...],
    county: str | None,
    on: date | None,
    as_json: bool,
    store: Path | None,
) -> None:
    """What the lists loaded say of one plant in one place.

    \b
    Examples:
      reedgate status "Water hyacinth 4in" --in US-WI
      reedgate status "Glyceria maxima" --in US-WI --county Dane --act sell --act possess
    """
    library = open_library(store)
    day = on or today()
    questions = [
        Question(place, act, day, read_county(library.counties, place, county) if county else None)
        for place in places
        for act in unique_acts(acts)
    ]
    answer = check_label(library, label, questions)
    resolution, findings = answer.resolution, answer.findings
    if as_json:
        from service.output.models.law import StatusAnswer
        from service.output.models.shape import written

        sent = StatusAnswer(
            store_build=library.build_id,
            as_of=day,
            name=resolution,
            findings=findings,
            standings=tuple(standing_of(library.law, place, day) for place in places),
        )
        click.echo(written(sent, indent=2))
        return
    _print_name(resolution)
    for finding in findings:
        _print_finding(finding)
    console.print("\nHow far the law loaded here can be relied on:")
    for place in places:
        phrase = standing_of(library.law, place, day).phrase
        console.print(f"  {phrase}", markup=False, highlight=False)
    console.print(
        f"\nAs of {day.isoformat()}, store build {library.build_id}. {STANDING_CAUTIONS[0]}",
        style="dim",
    )


def _print_name(resolution: Resolution) -> None:
    names = (
        ", ".join(candidate.accepted_name for candidate in resolution.candidates)
        or "no plant known by it"
    )
    sure = "" if resolution.confirmed else " [not confirmed]"
    console.print(
        f"{resolution.label} -> {names} (by {resolution.match}){sure}",
        markup=False,
        highlight=False,
    )
    if resolution.to_confirm:
        console.print(f"  To confirm: {resolution.to_confirm}", markup=False, highlight=False)


def _print_finding(finding: Finding) -> None:
    place = JURISDICTION_NAMES[finding.jurisdiction]
    mark = "" if finding.verified else " (unverified)"
    console.print(
        f"\n{place}, {finding.act}: [bold]{finding.outcome}[/bold]{mark}",
        highlight=False,
    )
    for reason in finding.reasons:
        console.print(f"  - {reason}", markup=False, highlight=False)
    for rule in finding.own_rules:
        console.print(f"  - {own_rule_sentence(rule)}", markup=False, highlight=False)
    console.print(f"  Confirm with: {finding.confirm_with}", markup=False, highlight=False)
    for citation in finding.citations:
        read = f"{citation.how_known}" + (
            f", copy of {citation.read_copy_date}" if citation.read_copy_date else ""
        )
        console.print(
            f"  Source: {citation.citation}, {citation.class_name} ({read}) {citation.url}",
            markup=False,
            highlight=False,
        )


@click.command()
@on_option
@store_option
def coverage(on: date | None, store: Path | None) -> None:
    """Jurisdiction by jurisdiction: lists loaded, how completely, the share of entries read, the
    oldest reading.

    \b
    Example:  reedgate coverage
    """
    from rich.table import Table

    day = on or today()
    table = Table(
        "Jurisdiction",
        "Lists",
        "Loaded",
        "Entries",
        "Read",
        "Oldest reading",
        title=f"Law loaded, as of {day.isoformat()}",
    )
    for row in coverage_table(open_library(store).law, day):
        share = f"{row.share_read:.0%}" if row.share_read is not None else "-"
        oldest = "; ".join(
            part
            for part in (
                row.oldest_reading,
                f"{row.undated_copies} undated" if row.undated_copies else "",
            )
            if part
        )
        table.add_row(
            f"{row.jurisdiction} {row.name}",
            str(len(row.lists)),
            row.coverage,
            str(row.entries),
            share,
            oldest,
        )
    console.print(table)
    console.print(
        "Lists loaded in part may lack entries; a jurisdiction without a list is answered"
        " 'undetermined'.",
        style="dim",
    )
