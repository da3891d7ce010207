"""What is asked of the law, and what is answered: values that every part of the law shares."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from service.regulation.law import Duty, Permit
from service.values.vocabulary import (
    Act,
    CountyFips,
    Coverage,
    HowKnown,
    Jurisdiction,
    ListId,
    Outcome,
)

Movement = Literal["interstate", "within", "unknown"]
"""Whether the act takes the plant over a state line; federal law is on such movement alone."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked, beside the plant."""

    jurisdiction: Jurisdiction
    act: Act
    on: date
    county: CountyFips | None = None
    movement: Movement = "unknown"


@dataclass(frozen=True, slots=True)
class Citation:
    """An entry of a list that reaches the plant, with all that a person needs to find and check
    it.
    """

    list_id: ListId
    jurisdiction: Jurisdiction
    title: str
    citation: str
    authority: str
    class_name: str
    name_as_listed: str
    exceptions: str
    area: str
    condition: str
    acts: tuple[Act, ...]
    duty: Duty
    permit: Permit
    effective_from: date | None
    url: str
    how_known: HowKnown
    read_copy_date: str
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class OwnRule:
    """What a list that is not law says: a buyer's or an association's rule."""

    list_id: ListId
    title: str
    outcome: Outcome
    reason: str
    citation: Citation


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found for one act in one jurisdiction.

    Attributes:
        coverage: how completely the jurisdiction's lists are loaded.
        verified: every fact that the outcome rests on was read in the text.
        lists_searched: lists that were in force and looked through.
        own_rules: rules that are not law, apart.
        gaps: what is not loaded of the law and leaves the outcome undetermined, a sentence each.
    """

    outcome: Outcome
    act: Act
    jurisdiction: Jurisdiction
    coverage: Coverage
    verified: bool
    reasons: tuple[str, ...]
    confirm_with: str
    citations: tuple[Citation, ...] = ()
    lists_searched: tuple[ListId, ...] = ()
    own_rules: tuple[OwnRule, ...] = ()
    gaps: tuple[str, ...] = ()

    @property
    def open_for_gaps_alone(self) -> bool:
        """Whether nothing was found against the plant, and it is undetermined only because the
        law is not loaded in full here.
        """
        return (
            self.outcome == "undetermined"
            and bool(self.gaps)
            and all(citation.outcome == "listed-other-acts" for citation in self.citations)
        )

    def __hash__(self) -> int:
        # Findings are shared by many lines and looked up often; the long texts need not be hashed
        # each time.
        return hash((self.outcome, self.act, self.jurisdiction, self.verified, len(self.citations)))
