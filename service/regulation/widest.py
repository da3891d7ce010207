"""The finding for a label: the strictest over all that the label may mean, and no clearer than its name is sure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from service.regulation.finding import Finding, Question, find
from service.regulation.holdings import confirm_with, coverage_of
from service.regulation.law import LawBook
from service.regulation.subject import Subject
from service.vocabulary import OUTCOMES, Outcome

Certainty = Literal["confirmed", "shared", "spelling", "genus", "none"]
"""How sure the name is: one taxon by an exact name; several taxa that share it; near in spelling; a genus alone; nothing."""


@dataclass(frozen=True, slots=True)
class Naming:
    """What a label may mean.

    Attributes:
        subjects: every taxon it may mean, best first.
        to_confirm: what would settle it, in words.
    """

    label: str
    certainty: Certainty
    subjects: tuple[Subject, ...]
    to_confirm: str = ""


def find_widest(law: LawBook, naming: Naming, question: Question) -> Finding:
    """The strictest finding over the taxa of a label.

    A name that is only near in spelling never yields ``no-entry-found``: what was found belongs to a guess.
    """
    if not naming.subjects:
        return _unnamed(law, naming, question)
    findings = [find(law, subject, question) for subject in naming.subjects]
    if naming.certainty == "confirmed":
        return findings[0]
    return _joined(findings, naming)


def _joined(findings: Sequence[Finding], naming: Naming) -> Finding:
    strict = min(findings, key=lambda each: OUTCOMES.index(each.outcome))
    outcome: Outcome = strict.outcome
    if naming.certainty in ("spelling", "genus") and outcome in ("no-entry-found", "listed-other-acts"):
        outcome = "undetermined"
    bearing = [each for each in findings if each.citations and each is not strict]
    return replace(
        strict,
        outcome=outcome,
        verified=False,
        reasons=tuple(dict.fromkeys((_doubt(naming), *strict.reasons, *(reason for each in bearing for reason in each.reasons)))),
        citations=tuple(dict.fromkeys((*strict.citations, *(citation for each in bearing for citation in each.citations)))),
        own_rules=tuple(dict.fromkeys(rule for each in findings for rule in each.own_rules)),
    )


def _doubt(naming: Naming) -> str:
    names = ", ".join(subject.name for subject in naming.subjects)
    match naming.certainty:
        case "spelling":
            doubt = f"The name was matched by spelling alone, to {names}."
        case "genus":
            doubt = f"The label names a genus; it may be any of it ({names})."
        case _:
            doubt = f"The label may mean {names}; the strictest answer over them is given."
    return f"{doubt} {naming.to_confirm}".strip()


def _unnamed(law: LawBook, naming: Naming, question: Question) -> Finding:
    return Finding(
        outcome="undetermined",
        act=question.act,
        jurisdiction=question.jurisdiction,
        coverage=coverage_of(law, question.jurisdiction, question.on),
        verified=False,
        reasons=(f"No plant is known by the name {naming.label!r}. {naming.to_confirm}".strip(),),
        confirm_with=confirm_with(law, question.jurisdiction),
    )
