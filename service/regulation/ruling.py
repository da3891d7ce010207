"""What one entry of a list, or one class on every aquatic plant, says of an act with a plant, and
its sentences.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.regulation.answers import Citation, Question
from service.regulation.law import Entry, ListClass, ListVersion
from service.regulation.reach import Circumstances, Reach
from service.values.vocabulary import FEDERAL, Act, HowKnown, Outcome

_PHRASE: dict[Act, str] = {
    "import": "bringing it in",
    "export": "sending it out",
    "sell": "selling it",
    "buy": "buying it",
    "give": "giving it away",
    "transport": "moving it",
    "possess": "keeping it",
    "propagate": "propagating it",
    "plant": "planting it",
    "release": "releasing it",
}


def sentence(
    version: ListVersion, list_class: ListClass, listed: str, outcome: Outcome, act: Act
) -> str:
    """What one entry says of one act."""
    where = f"{version.title} ({version.citation}) lists {listed} as {list_class.name}"
    doing = _PHRASE[act]
    bars = ", ".join(list_class.acts)
    match outcome:
        case "prohibited" if list_class.permit_for:
            purposes = ", ".join(list_class.permit_for)
            return f"{where}: {doing} is barred; permits are given for {purposes} alone."
        case "prohibited" if list_class.permit == "unknown":
            return f"{where}: {doing} is barred, and no permit route is established."
        case "prohibited":
            return f"{where}: {doing} is barred."
        case "permit-required":
            return f"{where}: {doing} is barred without a permit of {version.authority}."
        case "conditional":
            return f"{where}: {doing} is barred under conditions."
        case "undetermined" if act in list_class.acts or list_class.acts_known:
            return f"{where}; the label is too wide to tell."
        case "undetermined" if bars:
            return f"{where}, which bars {bars}; whether it bars other acts was not established."
        case "undetermined":
            return f"{where}, but which acts that bars was not established."
        case _ if not bars:
            said = f" {list_class.summary}" if list_class.summary else ""
            return f"{where}, a class that was read and bars none of the acts asked about.{said}"
        case _:
            return f"{where}, which bars {bars}, not {act}."


def doubt(how_known: HowKnown, doubts: Sequence[str], assumed: bool = False) -> str:
    """Why a finding is unverified.

    Args:
        assumed: it rests on what the list does not say.
    """
    match how_known:
        case "memory":
            base = "Unverified: this is from memory, not yet seen in the text"
        case "partly-read":
            base = "Unverified: the text of this was read only in part, or in somebody's copy of it"
        case _ if assumed:
            base = "Unverified: it rests on what the list does not say"
        case _:
            base = "Unverified"
    return f"{base} ({'; '.join(doubts)})." if doubts else f"{base}."


@dataclass(frozen=True, slots=True)
class Ruling:
    """What one entry, or one class, says."""

    outcome: Outcome
    verified: bool
    reason: str
    citation: Citation
    is_law: bool


def circumstances(version: ListVersion, question: Question) -> Circumstances:
    """The question as a list looks at it.

    Federal law knows movement, whichever way the state line is crossed.
    """
    act = question.act
    if (
        version.jurisdiction == FEDERAL
        and version.is_law
        and question.jurisdiction != FEDERAL
        and act == "export"
    ):
        act = "transport"
    return Circumstances(act, question.on, question.county)


def ruling_of(
    version: ListVersion,
    list_class: ListClass,
    entry: Entry | None,
    reach: Reach,
    question: Question,
    given: Circumstances,
) -> Ruling:
    reach = _limited_to_movement(version, question, given, reach)
    outcome = _outcome(list_class, reach, given)
    listed = (
        (entry.name_as_listed or entry.common_as_listed or entry.accepted_name)
        if entry
        else "every aquatic plant"
    )
    doubts = [term.words for term in entry.terms if term.kind == "doubt"] if entry else []
    how_known = _weakest(version, list_class, entry)
    verified = (
        how_known == "read"
        and (given.act in list_class.acts or list_class.acts_known)
        and not reach.assumed
        and not doubts
        and not _later_text(version, question.on)
    )
    reasons = [sentence(version, list_class, listed, outcome, given.act), *reach.reasons]
    if list_class.duty in ("control", "eradicate", "report"):
        reasons.append(f"This class carries a duty to {list_class.duty} it.")
    if _later_text(version, question.on):
        reasons.append(
            f"The text loaded is as amended {version.amended}, after the day asked about."
        )
    if not verified:
        reasons.append(doubt(how_known, doubts, reach.assumed))
    citation = Citation(
        list_id=version.list_id,
        jurisdiction=version.jurisdiction,
        title=version.title,
        citation=version.citation,
        authority=version.authority,
        class_name=list_class.name,
        name_as_listed=listed,
        exceptions=entry.exceptions if entry else "",
        area=entry.area if entry else "",
        condition=entry.condition if entry else "; ".join(term.words for term in list_class.terms),
        acts=list_class.acts,
        duty=list_class.duty,
        permit=list_class.permit,
        effective_from=version.effective_from,
        url=(entry.read_url if entry and entry.read_url else version.url),
        how_known=how_known,
        read_copy_date=version.read_copy_date,
        outcome=outcome,
    )
    return Ruling(outcome, verified, " ".join(reasons), citation, version.is_law)


def _limited_to_movement(
    version: ListVersion, question: Question, given: Circumstances, reach: Reach
) -> Reach:
    """Federal law seen from within a state: it is on movement over the state line only."""
    if (
        version.jurisdiction != FEDERAL
        or question.jurisdiction == FEDERAL
        or question.movement == "interstate"
        or not version.is_law
    ):
        return reach
    if given.act == "transport" and question.act == "transport":
        return reach.narrowed(
            "depends", "Federal law reaches it if the movement crosses a state line."
        )
    if given.act == "release":
        return reach.narrowed(
            "depends", "Federal law reaches a release only as part of movement between states."
        )
    return reach


def _outcome(list_class: ListClass, reach: Reach, given: Circumstances) -> Outcome:
    if reach.seeds_only:
        return "listed-other-acts"
    if reach.extent == "open":
        return "undetermined"
    if given.act not in list_class.acts:
        return "listed-other-acts" if list_class.acts_known else "undetermined"
    if reach.extent == "depends":
        return "conditional"
    if list_class.permit == "yes" and not list_class.permit_for:
        return "permit-required"
    return "prohibited"


def _weakest(version: ListVersion, list_class: ListClass, entry: Entry | None) -> HowKnown:
    """The least of what is known of list, class and entry.

    A list read in part still has entries that were read.
    """
    known: list[HowKnown] = [list_class.how_known]
    if entry is not None:
        known.append(entry.how_known)
    if version.how_known == "memory" or entry is None:
        known.append(version.how_known)
    for weaker in ("memory", "partly-read"):
        if weaker in known:
            return "memory" if weaker == "memory" else "partly-read"
    return known[-1]


def _later_text(version: ListVersion, on: date) -> bool:
    return version.amended is not None and on < version.amended
