"""Whether an entry of a list reaches a taxon, for one act, on one day, in one county.

The answer is covered, depends (a fact that the request does not give would decide), open (the
label stops at a genus) or outside, with the reasons as sentences. Botanical side: the taxon, its
synonyms, the ranks above it. Legal side: scope, exceptions, areas, dates.
"""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from service.regulation.law import Entry, FiledEntry, ListClass, Term
from service.regulation.subject import INFRASPECIFIC, Subject
from service.values.vocabulary import (
    FEDERAL,
    JURISDICTION_NAMES,
    Act,
    CountyFips,
    Jurisdiction,
    PlantId,
)

Extent = Literal["covered", "depends", "open", "outside"]
_WIDEST_FIRST: tuple[Extent, ...] = ("covered", "depends", "open", "outside")


@dataclass(frozen=True, slots=True)
class Reach:
    """How far an entry reaches a taxon.

    Attributes:
        seeds_only: the entry is on seed lots, not on plants.
        assumed: it rests on what the list does not say: whether it covers a cultivar or a hybrid.
    """

    extent: Extent
    reasons: tuple[str, ...] = ()
    seeds_only: bool = False
    assumed: bool = False

    def narrowed(self, extent: Extent, reason: str) -> "Reach":
        """This reach with one more thing said, never wider than before."""
        kept = max(self.extent, extent, key=_WIDEST_FIRST.index)
        return Reach(kept, (*self.reasons, reason), self.seeds_only, self.assumed)


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What the request says beside the plant."""

    act: Act
    on: date
    county: CountyFips | None = None


def reach_of(
    filed: FiledEntry, subject: Subject, given: Circumstances, listed_here: frozenset[PlantId]
) -> Reach:
    """Reach of one entry.

    Args:
        listed_here: those of the hybrid's parents that the law of the entry's jurisdiction lists.
    """
    entry = filed.entry
    reach = _botanical(entry, subject, listed_here, filed.version.jurisdiction)
    if reach.extent == "outside":
        return reach
    for term in entry.terms:
        reach = _apply(term, entry, subject, given, reach)
        if reach.extent == "outside":
            return reach
    return reach


def class_reach(list_class: ListClass, subject: Subject, given: Circumstances) -> Reach:
    """Reach of a class that covers every aquatic plant without entries."""
    reach = _as_aquatic_plant(subject)
    for term in list_class.terms:
        if reach.extent == "outside":
            return reach
        if term.reaches_act(given.act):
            reach = _limited(term, given, reach)
    return reach


def _as_aquatic_plant(subject: Subject) -> Reach:
    match subject.aquatic:
        case "yes":
            return Reach("covered")
        case "no":
            return Reach("outside", (f"{subject.name} is not an aquatic plant.",))
        case "wet-ground":
            return Reach(
                "depends",
                (f"{subject.name} grows on wet ground; whether it counts as aquatic is not said.",),
            )
        case _:
            return Reach(
                "depends", (f"Whether {subject.name} is an aquatic plant is not known here.",)
            )


def _botanical(
    entry: Entry, subject: Subject, listed_here: frozenset[PlantId], place: Jurisdiction
) -> Reach:
    if entry.plant_id == subject.plant_id:
        return _with_cultivar(entry, subject)
    if entry.plant_id in subject.lineage:
        return _from_above(entry, subject, place)
    if entry.plant_id in subject.hybrid_parents:
        return _through_parent(entry, subject, listed_here)
    if entry.plant_id in subject.below:
        return _from_below(entry, subject)
    if entry.plant_id in subject.genus_members and not subject.hybrid_parents:
        return Reach(
            "depends",
            (
                f"{subject.name} are hybrids whose parents are not recorded; "
                f"{entry.accepted_name} of the genus is listed.",
            ),
        )
    return Reach("outside")


def _with_cultivar(entry: Entry, subject: Subject) -> Reach:
    if subject.cultivar is None or "cultivars" in entry.scope:
        return Reach("covered")
    return Reach(
        "covered",
        (
            "The list does not say whether cultivars are covered; a cultivar is taken to be the "
            "species, in the strict sense.",
        ),
        assumed=True,
    )


def _from_above(entry: Entry, subject: Subject, place: Jurisdiction) -> Reach:
    if entry.rank in INFRASPECIFIC:
        return Reach(
            "outside",
            (
                f"The list names {entry.name_as_listed or entry.accepted_name}, which "
                f"{subject.name} is not.",
            ),
        )
    above = (
        f"{entry.name_as_listed or entry.accepted_name} is listed, which takes in {subject.name}."
    )
    reach = _with_cultivar(entry, subject)
    if entry.rank == "strain":
        return reach.narrowed("depends", above)
    if _native_and_unsaid(entry, subject, place):
        return reach.narrowed("covered", above).narrowed(
            "depends",
            f"{subject.name} is native {_where(subject, place)}; whether the list means it was "
            "not read.",
        )
    return reach.narrowed("covered", above)


def _native_and_unsaid(entry: Entry, subject: Subject, place: Jurisdiction) -> bool:
    """Whether a native plant is under a wider entry that does not say how far it goes down.

    A native subspecies of a listed species may not be meant anywhere; a native species of a listed
    genus, only where it is native: elsewhere it is as foreign as its kin.
    """
    if "subordinate-taxa" in entry.scope:
        return False
    if subject.rank in INFRASPECIFIC:
        return subject.native == "yes" or place in subject.native_states
    return bool(subject.native_states) if place == FEDERAL else place in subject.native_states


def _where(subject: Subject, place: Jurisdiction) -> str:
    if place in subject.native_states:
        return f"to {JURISDICTION_NAMES[place]}"
    return "to North America"


def _through_parent(entry: Entry, subject: Subject, listed_here: frozenset[PlantId]) -> Reach:
    parent = f"{subject.name} is a hybrid of {entry.accepted_name}, which is listed"
    if any(term.kind == "hybrids-of-listed-parents" for term in entry.terms):
        listed = [parent_id for parent_id in subject.hybrid_parents if parent_id in listed_here]
        if len(listed) > 1:
            return Reach("covered", (f"{parent}, and so are its parents all.",))
        if len(subject.hybrid_parents) < 2:
            return Reach(
                "depends",
                (
                    f"{parent}; hybrids are covered only where both parents are, and the other is "
                    "not recorded.",
                ),
            )
        return Reach(
            "outside", (f"{parent}, but hybrids are covered only where both parents are.",)
        )
    if "hybrids" in entry.scope:
        return Reach("covered", (f"{parent} with its hybrids.",))
    return Reach(
        "covered",
        (
            f"{parent}; the list does not say whether hybrids are covered, and they are taken to "
            "be, in the strict sense.",
        ),
        assumed=True,
    )


def _from_below(entry: Entry, subject: Subject) -> Reach:
    if subject.rank in ("genus", "family"):
        return Reach("open", (f"{entry.accepted_name} of this genus is listed; give the species.",))
    listed = entry.name_as_listed or entry.accepted_name
    if subject.cultivar is not None and subject.cultivar == listed.rsplit(" ", 1)[-1].casefold():
        return Reach(
            "covered",
            (f"The list names {listed}; '{subject.cultivar.title()}' is that plant in trade.",),
        )
    return Reach(
        "depends", (f"The list names only {listed}; the label does not tell whether it is that.",)
    )


def _apply(term: Term, entry: Entry, subject: Subject, given: Circumstances, reach: Reach) -> Reach:
    """The reach after one more term of the entry."""
    if not term.reaches_act(given.act):
        return reach
    match term.kind:
        case "except-taxa":
            return _except_taxa(term, entry, subject, reach)
        case "except-native":
            return _except_native(term, entry, subject, reach)
        case (
            "except-cultivars"
            | "except-approved-cultivars"
            | "except-variegated"
            | "except-forms"
            | "except-all-cultivars"
            | "only-cultivars"
        ):
            return _cultivars(term, subject, reach)
        case _:
            return _limited(term, given, reach)


def _limited(term: Term, given: Circumstances, reach: Reach) -> Reach:
    """The reach after a term that looks at the circumstances alone, whatever the plant."""
    match term.kind:
        case "only-counties" | "except-counties":
            return _counties(term, given, reach)
        case "from-date" | "sold-off-until":
            return _dates(term, given, reach)
        case "strain":
            return reach.narrowed(
                "depends",
                f"The entry is for one form alone ({term.words}); the label does not tell which "
                "it is.",
            )
        case "seeds-only":
            return Reach(
                reach.extent,
                (*reach.reasons, f"The entry is on seed lots ({term.words})."),
                seeds_only=True,
                assumed=reach.assumed,
            )
        case "only-regions":
            named = given.county is not None and given.county in term.counties
            return (
                reach
                if named
                else reach.narrowed("depends", f"It holds in part of the state: {term.words}.")
            )
        case "except-waters" if (
            term.counties and given.county is not None and given.county not in term.counties
        ):
            return reach
        case "except-waters" | "only-where" | "spares-existing" | "spares-use" | "purpose":
            return reach.narrowed(
                "depends", f"A limit that the request does not answer: {term.words}."
            )
        case "unstructured":
            return reach.narrowed("depends", f"A limit in words: {term.words}.")
        case _:
            return reach


def _except_taxa(term: Term, entry: Entry, subject: Subject, reach: Reach) -> Reach:
    if any(taxon in subject.lineage for taxon in term.taxa):
        return reach.narrowed(
            "outside",
            f"Expressly left out of {entry.name_as_listed or entry.accepted_name}: {term.words}.",
        )
    if any(taxon in subject.below for taxon in term.taxa):
        return reach.narrowed("depends", f"Part of it is left out: {term.words}.")
    return reach


def _except_native(term: Term, entry: Entry, subject: Subject, reach: Reach) -> Reach:
    if subject.native == "no":
        return reach
    if entry.rank == "strain" and subject.native == "yes" and subject.rank in INFRASPECIFIC:
        return reach.narrowed(
            "outside", f"{subject.name} is the native plant, which is left out: {term.words}."
        )
    return reach.narrowed(
        "depends",
        f"Native plants are left out ({term.words}); whether this one is native there is not "
        "known.",
    )


def _cultivars(term: Term, subject: Subject, reach: Reach) -> Reach:
    cultivar = subject.cultivar
    if term.kind == "only-cultivars":
        if cultivar is None and subject.rank == "species":
            return reach.narrowed("depends", f"Only some forms are covered: {term.words}.")
        return reach
    if term.kind == "except-all-cultivars" and subject.rank == "hybrid":
        return reach.narrowed("outside", f"Left out: {term.words}.")
    if cultivar is None:
        return reach
    shown = f"'{cultivar.title()}'"
    if term.kind == "except-all-cultivars":
        return reach.narrowed("outside", f"Left out: {term.words}.")
    if term.kind == "except-cultivars":
        named = cultivar in term.cultivars and (
            not term.taxa or any(taxon in subject.lineage for taxon in term.taxa)
        )
        return (
            reach.narrowed("outside", f"{shown} is left out by name: {term.words}.")
            if named
            else reach
        )
    if term.kind == "except-variegated" and "varieg" in cultivar:
        return reach.narrowed("outside", f"{shown} is a variegated cultivar: {term.words}.")
    return reach.narrowed(
        "depends", f"Whether {shown} is among those left out is not known: {term.words}."
    )


def _counties(term: Term, given: Circumstances, reach: Reach) -> Reach:
    inside = given.county in term.counties
    if given.county is None:
        return reach.narrowed("depends", f"It depends on the county: {term.words}.")
    if inside == (term.kind == "only-counties"):
        return reach
    return reach.narrowed("outside", f"Not in this county: {term.words}.")


def _dates(term: Term, given: Circumstances, reach: Reach) -> Reach:
    assert term.on is not None
    if term.kind == "from-date" and given.on < term.on:
        return reach.narrowed(
            "outside", f"Not yet in force on {given.on.isoformat()}: {term.words}."
        )
    if term.kind == "sold-off-until" and given.on <= term.on:
        return reach.narrowed("depends", f"Stock in hand may still be disposed of: {term.words}.")
    return reach
