"""The columns that an answered stock list has beside its own, as plain text, and what the answer
rests on.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from service.checks.stock import StockLine, StockQuestion, Verdicts
from service.input.stock_table import StockTable, rows_without_name
from service.output.words import own_rule_sentence
from service.regulation.coverage import StateStanding, standing_of
from service.regulation.finding import Finding
from service.regulation.for_name import law_reasons
from service.regulation.shipping import Lane
from service.store.library import Library
from service.values.vocabulary import Act, Coverage, Jurisdiction
from service.values.words import STANDING_CAUTIONS

_CHARACTERS_KEPT = 16_000_000
"""Characters of answers kept for later lines of the same plant."""


def answer_header(question: StockQuestion) -> list[str]:
    """Headings of the answer columns."""
    outcomes = [
        f"{jurisdiction}:{act}" for jurisdiction in question.jurisdictions for act in question.acts
    ]
    lanes = (
        [f"{question.origin}>{jurisdiction}:ship" for jurisdiction in question.jurisdictions]
        if question.origin
        else []
    )
    named = ["match", "accepted_name", "confirmed"]
    return [*named, *outcomes, *lanes, "own_rules", "citations", "reasons"]


@dataclass(frozen=True, slots=True, eq=False)
class AnswerTail:
    """The columns after ``confirmed``. Lines that mean the same plant share one of these."""

    cells: tuple[str, ...]


def answer_rows(
    table: StockTable, lines: Iterable[StockLine], question: StockQuestion
) -> Iterator[tuple[list[str], tuple[str, str, str], AnswerTail]]:
    """Each row of the list, its ``match``, ``accepted_name`` and ``confirmed``, and the other
    columns of the answer, in order. A row that gives no name has no outcome, and its reason says
    why.
    """
    unanswered = dict(rows_without_name(table))
    blanks = [""] * (len(answer_header(question)) - 4)
    tails = _Tails()
    numbered = enumerate(zip(table.rows, lines, strict=True), start=table.first_row)
    for number, (row, line) in numbered:
        resolution = line.resolution
        if not line.answered:
            yield row, ("none", "", "no"), AnswerTail((*blanks, unanswered[number]))
            continue
        names = "; ".join(candidate.accepted_name for candidate in resolution.candidates)
        sure = "yes" if resolution.confirmed else "no"
        tail = tails.of(line.verdicts, resolution.to_confirm)
        yield row, (resolution.match, names, sure), tail


class _Tails:
    """Writes out the verdicts of a plant once, and keeps them for its later lines."""

    def __init__(self) -> None:
        # The verdicts are kept too: an id may come again once its object is gone.
        self._kept: dict[tuple[int, str], tuple[Verdicts, AnswerTail]] = {}
        self._size = 0

    def of(self, verdicts: Verdicts, to_confirm: str) -> AnswerTail:
        key = (id(verdicts), to_confirm)
        if key in self._kept:
            return self._kept[key][1]
        *others, reasons = _verdict_columns(verdicts)
        why = " | ".join(part for part in (to_confirm, reasons) if part)
        tail = AnswerTail((*others, why))
        if self._size > _CHARACTERS_KEPT:
            self._kept.clear()
            self._size = 0
        self._kept[key] = (verdicts, tail)
        self._size += sum(map(len, tail.cells))
        return tail


def _verdict_columns(verdicts: Verdicts) -> list[str]:
    cited = dict.fromkeys(
        f"{citation.jurisdiction} {citation.citation}"
        f" ({citation.class_name}: {citation.name_as_listed})"
        for finding in verdicts.findings
        for citation in finding.citations
    )
    rules = dict.fromkeys(
        own_rule_sentence(rule) for finding in verdicts.findings for rule in finding.own_rules
    )
    outcomes = [finding.outcome for finding in verdicts.findings]
    outcomes += [lane.outcome for lane in verdicts.lanes]
    reasons = [*_reasons(verdicts.findings), *_lane_reasons(verdicts.lanes)]
    return [*outcomes, " | ".join(rules), "; ".join(cited), " | ".join(reasons)]


def _reasons(findings: Sequence[Finding]) -> Iterator[str]:
    """Short: each sentence once, after the places that it is said of. Places that only lists loaded
    in part, or a name that is not sure, leave open are one sentence; ``status`` says all of each.
    """
    said: list[tuple[str, str, str]] = []
    left_open: dict[str, list[Finding]] = {}
    for finding in findings:
        sentence = law_reasons(finding)[0]
        if finding.open_for_gaps_alone and sentence in finding.gaps:
            left_open.setdefault(_HOW_LOADED[finding.coverage], []).append(finding)
        elif finding.outcome == "undetermined" and not finding.citations:
            left_open.setdefault("while the name is not sure", []).append(finding)
        elif finding.outcome != "no-entry-found":
            doubt = "" if finding.verified else "(unverified) "
            said.append((finding.jurisdiction, f" {finding.act}", f"{doubt}{sentence}"))
    yield from _once(said)
    for why, group in left_open.items():
        yield _not_determined(why, group, findings)


_HOW_LOADED: dict[Coverage, str] = {
    "complete": "of whose lists no version of that day is loaded",
    "partial": "whose lists are loaded in part",
    "none": "of which no list is loaded with its plants",
}


def _not_determined(why: str, group: Sequence[Finding], asked: Sequence[Finding]) -> str:
    """``Not determined in 2 places whose lists are loaded in part: US-AL, US-AZ``; acts are named
    where another act of the place has another answer.
    """
    acts: dict[Jurisdiction, list[Act]] = {}
    for finding in group:
        acts.setdefault(finding.jurisdiction, []).append(finding.act)
    asked_there = Counter(finding.jurisdiction for finding in asked)
    places = [
        place if len(acts[place]) == asked_there[place] else f"{place} {' '.join(acts[place])}"
        for place in acts
    ]
    number = f"{len(places)} places" if len(places) > 1 else "a place"
    return f"Not determined in {number} {why}: {', '.join(places)}"


def _lane_reasons(lanes: Sequence[Lane]) -> Iterator[str]:
    """The first reason of each lane; lanes that only lists loaded in part leave open together."""
    said: list[tuple[str, str, str]] = []
    left_open: dict[Jurisdiction, list[Jurisdiction]] = {}
    for lane in lanes:
        deciding = [step for step in lane.steps if step.outcome == lane.outcome]
        if all(step.open_for_gaps_alone for step in deciding):
            left_open.setdefault(lane.origin, []).append(lane.destination)
        elif lane.reasons:
            said.append((f"{lane.origin} to {lane.destination}", "", lane.reasons[0]))
    yield from _once(said)
    for origin, places in left_open.items():
        yield (
            f"Shipping from {origin} not determined, because a list of one end is loaded in part or"
            f" not at all: {', '.join(places)}"
        )


def _once(said: Iterable[tuple[str, str, str]]) -> Iterator[str]:
    """Each sentence once, after the places that it is said of and the act."""
    places: dict[tuple[str, str], list[str]] = {}
    for place, act, sentence in said:
        places.setdefault((act, sentence), []).append(place)
    for (act, sentence), where in places.items():
        yield f"{', '.join(where)}{act}: {sentence}"


def standings(library: Library, question: StockQuestion) -> list[StateStanding]:
    """How far the law of each place asked about can be relied on here."""
    return [standing_of(library.law, place, question.on) for place in question.jurisdictions]


def about_lines(library: Library, question: StockQuestion) -> list[str]:
    """The day, the build, the cautions, and how far the law of each place can be relied on."""
    return [
        f"As of {question.on.isoformat()}, store build {library.build_id}.",
        "No entry found is not a permission: it says that no list loaded here names the plant.",
        *STANDING_CAUTIONS,
        *(standing.phrase for standing in standings(library, question)),
    ]
