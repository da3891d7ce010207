"""Where a plant is restricted: the jurisdictions whose lists bar or limit selling or planting
it.
"""

from datetime import date

from service.regulation.law import FiledEntry, LawBook, cached_by_book
from service.regulation.reach import Circumstances, reach_of
from service.regulation.subject import Subject
from service.values.vocabulary import JURISDICTION_NAMES, Act, Jurisdiction, PlantId

ACTS_ASKED: tuple[Act, ...] = ("sell", "plant")


@cached_by_book(most=10_000)
def restricted_in(law: LawBook, subject: Subject, on: date) -> tuple[Jurisdiction, ...]:
    """Jurisdictions whose law bars or limits selling or planting a taxon on a day, federal law
    first, then the states by name.

    An entry counts where its class restricts the act and it reaches the taxon, if only in an area,
    under a condition, or with a permit. A rule on every aquatic plant says nothing of this one, and
    an ordinance says nothing of its state, so neither counts. A class whose acts were not
    established does not count either: that it restricts is not known.

    >>> from datetime import date
    >>> from service.regulation.law import LawBook
    >>> from service.regulation.subject import Subject
    >>> from service.values.vocabulary import PlantId
    >>> trapa = PlantId("trapa-natans")
    >>> restricted_in(LawBook(()), Subject(trapa, "Trapa natans", "species", (trapa,)),
    ...               date(2026, 6, 1))
    ()
    """
    listing = law.places_listing(subject.bearing)
    return tuple(
        jurisdiction
        for jurisdiction in JURISDICTION_NAMES
        if jurisdiction in listing and _restricts(law, jurisdiction, subject, on)
    )


def _restricts(law: LawBook, jurisdiction: Jurisdiction, subject: Subject, on: date) -> bool:
    parents_listed = law.listed(jurisdiction, subject.hybrid_parents, on)
    return any(
        _reaches(filed, subject, Circumstances(act, on), parents_listed)
        for filed in law.filed(jurisdiction, subject.bearing)
        if filed.version.is_law and filed.version.kind != "ordinance" and filed.version.in_force(on)
        for act in ACTS_ASKED
        if act in filed.list_class.acts
    )


def _reaches(
    filed: FiledEntry, subject: Subject, given: Circumstances, parents_listed: frozenset[PlantId]
) -> bool:
    reach = reach_of(filed, subject, given, parents_listed)
    return reach.extent in ("covered", "depends") and not reach.seeds_only
