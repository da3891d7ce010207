"""The two pages for the client, gathered from the answer: plants in three groups, what to buy, whom
to ask.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from service.checks.plan.values import VERDICTS, PlanAnswer, PlantingAnswer, Verdict
from service.output.words import VERDICTS as VERDICT_WORDS
from service.output.words import likely_words, place_name
from service.values.nativity import Nativity
from service.values.vocabulary import Act, Jurisdiction, Outcome
from service.values.words import joined

FULL_ROWS = 14
"""Plantings up to which each shows several conditions on the first pages; beyond, one each."""
MOST_CONDITIONS, LONGEST = 2, 190
"""Sentences with each plant, and letters of each; the plant's own part has all."""

_MARKS: dict[Verdict, str] = {
    "hold-back": (
        '<circle cx="10" cy="10" r="9" fill="#15323b"/><path d="M4.5 8h11v4h-11z" fill="#fff"/>'
    ),
    "with-care": (
        '<path d="M10 1.5 19 18H1z" fill="#fff" stroke="#15323b" stroke-width="2" '
        'stroke-linejoin="round"/><path d="M9 7h2l-.4 5.6H9.4zM9 14h2v2H9z" fill="#15323b"/>'
    ),
    "nothing-against": (
        '<path d="M3 17C2 8 8 3 18 2c0 10-5 16-13 15z" fill="#fff" stroke="#15323b" '
        'stroke-width="1.6"/><path d="M2 19C6 13 9 10 14 6" fill="none" stroke="#15323b" '
        'stroke-width="1.6"/>'
    ),
}
"""A bar in a disc, a warning triangle, a leaf: told apart by shape, on any printer."""


def verdict_mark(verdict: Verdict) -> Markup:
    """The picture of a verdict; the words stand beside it."""
    return Markup(
        '<svg class="verdict" viewBox="0 0 20 20" width="20" height="20" aria-hidden="true" '
        f'focusable="false">{_MARKS[verdict]}</svg>'
    )


@dataclass(frozen=True, slots=True)
class PlantRow:
    """A planting in a line.

    Attributes:
        todo: why it is held back, or what has to be met.
        more: how many further sentences the plant's own part has.
        instead: names of what to plant instead.
    """

    planting: PlantingAnswer
    nativity: str
    note: str
    spreads: str
    todo: tuple[str, ...]
    more: int
    instead: str


@dataclass(frozen=True, slots=True)
class PlantGroup:
    """The plantings of one verdict."""

    verdict: Verdict
    words: str
    rows: tuple[PlantRow, ...]


def plant_groups(answer: PlanAnswer, notes: dict[str, str]) -> tuple[PlantGroup, ...]:
    """Those held back first; a group without plantings is left out.

    Args:
        notes: letter by source of nativity, see ``nativity_notes``.
    """
    most = MOST_CONDITIONS if len(answer.plantings) <= FULL_ROWS else 1
    groups = []
    for verdict in VERDICTS:
        rows = tuple(
            _row(planting, notes, most)
            for planting in answer.plantings
            if planting.verdict == verdict
        )
        if rows:
            groups.append(PlantGroup(verdict, VERDICT_WORDS[verdict], rows))
    return tuple(groups)


def _row(planting: PlantingAnswer, notes: dict[str, str], most: int) -> PlantRow:
    found = planting.substitutes.plants[:2] if planting.substitutes else ()
    return PlantRow(
        planting,
        nativity_words(planting),
        notes.get(_source_of(planting.nativity), "") if planting.nativity else "",
        likely_words(planting.escape),
        planting.conditions[:most],
        max(0, len(planting.conditions) - most),
        joined((plant.common_name or plant.accepted_name for plant in found), "or"),
    )


def nativity_words(planting: PlantingAnswer) -> str:
    """``native``, ``not native``, or that it is not known."""
    if planting.nativity is None:
        return "not known"
    words = {"native": "native", "introduced": "not native", "unknown": "not known"}
    return words[planting.nativity.status]


def _source_of(nativity: Nativity) -> str:
    """The table behind it; the regions that the catalogue names, and the name under which the table
    has the plant, stay with the plant.
    """
    return nativity.source.split(":")[0].split("; under the name")[0].rstrip(".")


def nativity_notes(answer: PlanAnswer) -> dict[str, str]:
    """A letter for each source of nativity, in the order in which they are met."""
    sources = dict.fromkeys(
        _source_of(planting.nativity) for planting in answer.plantings if planting.nativity
    )
    return dict(zip(sources, "abcdefghijklmnopqrstuvwxyz", strict=False))


def headline(answer: PlanAnswer) -> str:
    """``12 plantings: 4 held back, 6 with care, 2 with nothing found against them.``"""
    total = len(answer.plantings)
    counts = {
        verdict: sum(planting.verdict == verdict for planting in answer.plantings)
        for verdict in VERDICTS
    }
    words: dict[Verdict, str] = {
        "hold-back": "to hold back",
        "with-care": "to plant with care",
        "nothing-against": "with nothing found against them",
    }
    said = joined(f"{count} {words[verdict]}" for verdict, count in counts.items() if count)
    return f"{total} {'planting' if total == 1 else 'plantings'}: {said}."


@dataclass(frozen=True, slots=True)
class Asking:
    """One question to one office.

    Attributes:
        office: its name alone.
        question: with the acts, without the plants.
        plantings: numbers.
    """

    office: str
    question: str
    plantings: tuple[int, ...]


_DONE: dict[Act, str] = {
    "import": "brought into the country",
    "export": "sent out",
    "sell": "sold",
    "buy": "bought",
    "give": "given away",
    "transport": "moved",
    "possess": "kept",
    "propagate": "propagated",
    "plant": "planted",
    "release": "released",
}
_QUESTIONS: dict[Outcome, str] = {
    "permit-required": "Is there a permit for these to be {acts}?",
    "conditional": "May these be {acts}? A condition of the law decides.",
    "undetermined": "May these be {acts}?",
    "no-entry-found": "May these be {acts}? The lists loaded here are not complete.",
}


def askings(answer: PlanAnswer) -> tuple[Asking, ...]:
    """What to ask whom about the plants that are not barred, in the order of the document."""
    asked: dict[tuple[Jurisdiction, str, Outcome], tuple[dict[Act, None], dict[int, None]]] = {}
    sellers: dict[int, None] = {}
    for planting in answer.plantings:
        if planting.outcome == "prohibited":
            continue
        for found in planting.findings:
            finding = found.finding
            open_gap = finding.outcome == "no-entry-found" and not finding.verified
            if found.role != "site" or not (finding.outcome in list(_QUESTIONS)[:3] or open_gap):
                continue
            office = finding.confirm_with.split("; ")[0].split(" (")[0]
            acts, numbers = asked.setdefault(
                (finding.jurisdiction, office, finding.outcome), ({}, {})
            )
            acts[finding.act] = None
            numbers[planting.number] = None
        if any(ground.kind == "name-open" for ground in planting.grounds):
            sellers[planting.number] = None
    return tuple(_askings(asked, sellers))


def _askings(
    asked: dict[tuple[Jurisdiction, str, Outcome], tuple[dict[Act, None], dict[int, None]]],
    sellers: dict[int, None],
) -> Iterator[Asking]:
    if sellers:
        question = "Which plants are these, by their botanical names?"
        yield Asking("The grower or seller", question, tuple(sellers))
    for (jurisdiction, office, outcome), (acts, numbers) in asked.items():
        question = _QUESTIONS[outcome].format(acts=joined(_DONE[act] for act in acts))
        who = f"{place_name(jurisdiction)}: {office}" if office else place_name(jurisdiction)
        yield Asking(who, question, tuple(numbers))
