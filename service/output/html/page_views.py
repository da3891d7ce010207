"""What the page shows of an answer: findings that agree put together, lines of a list as they
come.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from service.checks.stock import StockLine, StockQuestion
from service.escape.harms import Harm, harms_of
from service.input.stock_table import StockTable
from service.names import Resolution
from service.output.words import own_rule_sentence, place_name
from service.regulation.coverage import JurisdictionCoverage
from service.regulation.finding import Finding
from service.regulation.restricted import restricted_in
from service.store.library import Library
from service.values.plants import Plant
from service.values.vocabulary import FEDERAL, OUTCOMES, Act, Jurisdiction
from service.values.words import joined

_MOST_PLANTS, _MOST_NAMED = 3, 8
"""Plants of a label whose facts are shown, and jurisdictions named in a sentence."""


@dataclass(frozen=True, slots=True)
class Agreeing:
    """Findings of one jurisdiction that agree, over their acts.

    Attributes:
        finding: the first of them.
        alike: acts of the others, which have the same but for the act.
    """

    finding: Finding
    alike: tuple[Act, ...]

    @property
    def acts(self) -> tuple[Act, ...]:
        return (self.finding.act, *self.alike)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Of the law and of own rules."""
        return (*self.finding.reasons, *map(own_rule_sentence, self.finding.own_rules))


def agreeing(findings: Iterable[Finding]) -> tuple[Agreeing, ...]:
    """Findings put together by what they say, strictest first."""
    groups: dict[object, list[Finding]] = {}
    for finding in findings:
        # Citations carry the outcome for the act asked; it is the entries that make findings alike.
        entries = tuple(
            (one.list_id, one.class_name, one.name_as_listed, one.area) for one in finding.citations
        )
        groups.setdefault((finding.outcome, finding.verified, entries), []).append(finding)
    found = [
        Agreeing(first, tuple(finding.act for finding in others))
        for first, *others in groups.values()
    ]
    return tuple(sorted(found, key=lambda group: OUTCOMES.index(group.finding.outcome)))


@dataclass(frozen=True, slots=True)
class Cell:
    """What one jurisdiction says of one line."""

    jurisdiction: Jurisdiction
    groups: tuple[Agreeing, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a list, answered; ``cells`` is empty where it has no label."""

    number: int
    label: str
    resolution: Resolution
    cells: tuple[Cell, ...]


def stock_rows(
    table: StockTable, lines: Iterable[StockLine], question: StockQuestion
) -> Iterator[Row]:
    """The lines as they come, numbered as in the file; blank ones left out."""
    for number, line in enumerate(lines, start=table.first_row):
        if line.label:
            findings = line.verdicts.findings
            cells = tuple(
                Cell(
                    place,
                    agreeing(finding for finding in findings if finding.jurisdiction == place),
                )
                for place in question.jurisdictions
            )
            yield Row(number, line.label, line.resolution, cells)


@dataclass(frozen=True, slots=True)
class CoverageTotals:
    """How many states are loaded how completely, and the entries."""

    complete: int
    partial: int
    none: int
    entries: int
    read: int


def coverage_totals(table: Iterable[JurisdictionCoverage]) -> CoverageTotals:
    """The coverage table in numbers; the states and the District of Columbia."""
    rows = list(table)
    counts = Counter(row.coverage for row in rows if row.jurisdiction != FEDERAL)
    entries, read = sum(row.entries for row in rows), sum(row.entries_read for row in rows)
    return CoverageTotals(counts["complete"], counts["partial"], counts["none"], entries, read)


def plant_facts(
    library: Library, resolution: Resolution, places: Sequence[Jurisdiction], on: date
) -> tuple[str, ...]:
    """Where the plants that a label may mean are native and restricted, a sentence each."""
    facts = []
    subjects = library.naming(resolution).subjects
    for candidate, subject in zip(resolution.candidates[:_MOST_PLANTS], subjects, strict=False):
        plant = library.plants.get(candidate.plant_id)
        if plant is not None:
            facts += [_native(plant, place) for place in places if place != FEDERAL]
            facts += [_harm(harm) for harm in harms_of([plant])]
        restricted = restricted_in(library.law, subject, on)
        if restricted:
            names = joined([place_name(place) for place in restricted[:_MOST_NAMED]])
            more = len(restricted) - _MOST_NAMED
            facts.append(
                f"{candidate.accepted_name}: selling or planting is barred or limited in "
                f"{names}{f' and {more} more' if more > 0 else ''}, by the lists loaded here."
            )
    return tuple(facts)


def _harm(harm: Harm) -> str:
    mark = "" if harm.verified else "unverified, "
    return f"{harm.plant}, where it got out: {harm.text} ({mark}{harm.known.source})"


def _native(plant: Plant, state: Jurisdiction) -> str:
    found = plant.nativity(state)
    where = place_name(state)
    said = {
        "native": f"native to {where}",
        "introduced": f"not native to {where}",
        "unknown": f"whether it is native to {where} is not known",
    }[found.status]
    rests_on = "by state" if found.scope == "state" else "by region"
    source = f" ({rests_on}; {found.source})" if found.source else ""
    return f"{plant.accepted_name}: {said}{source}."
