"""The vocabularies as people read them. Words carry the meaning; nothing here depends on colour."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from service.values.quantities import Quantity, Unit
from service.values.vocabulary import (
    FEDERAL,
    JURISDICTION_NAMES,
    Act,
    Coverage,
    HowKnown,
    Jurisdiction,
    Match,
    Outcome,
)
from service.values.words import ROUTE_NAMES, distance, joined, percent_range
from service.values.words import percent as percent_of

if TYPE_CHECKING:  # types alone, so that a stock list need not load the escape model
    from service.checks.community.values import SiteGroup
    from service.checks.plan.values import Role, SourceKind, Verdict
    from service.containment import Verdict as ContainmentVerdict
    from service.escape import Assessment, Estimate, Interval
    from service.fit import Verdict as FitVerdict
    from service.names import Resolution
    from service.regulation.finding import OwnRule
    from service.values.nativity import NativityStatus
    from service.values.site import Holding, Reached

OUTCOMES: dict[Outcome, str] = {
    "prohibited": "Prohibited",
    "permit-required": "Permit required",
    "conditional": "Depends",
    "undetermined": "Not determined",
    "listed-other-acts": "Listed for other acts",
    "no-entry-found": "No entry found",
}
SHORT_OUTCOMES: dict[Outcome, str] = {
    "prohibited": "PROHIBITED",
    "permit-required": "PERMIT",
    "conditional": "depends",
    "undetermined": "not known",
    "listed-other-acts": "other acts",
    "no-entry-found": "no entry",
}
"""How an outcome reads in a cell of a table; the words carry the meaning, not a colour."""
OUTCOME_MEANINGS: dict[Outcome, str] = {
    "prohibited": "a list loaded here bars the act, and names no permit that fits it",
    "permit-required": "a list loaded here bars the act unless the authority permits it",
    "conditional": (
        "a county, a date, a form of the plant or another condition decides, and the plan does not"
        " say which it is"
    ),
    "undetermined": (
        "the name is open, no list is loaded, or the list does not say which acts it bars"
    ),
    "listed-other-acts": "a list names the plant, but bars other acts than this one",
    "no-entry-found": (
        "no list loaded here names the plant; this is silence, not leave to buy or plant it"
    ),
}
VERDICTS: dict[Verdict, str] = {
    "nothing-against": "Nothing against it",
    "with-care": "With care",
    "hold-back": "Hold back",
}
SITE_GROUPS: dict[SiteGroup, str] = {
    "barred": "A planting is barred",
    "permit": "A planting needs a permit",
    "likely": "By what is likely to get out",
    "no-waters": "No waters known",
}
NATIVITIES: dict[NativityStatus, str] = {
    "native": "native",
    "introduced": "introduced",
    "unknown": "not known",
}
KNOWN: dict[HowKnown, str] = {
    "read": "read in the text",
    "partly-read": "read in part",
    "memory": "from memory, not yet seen in the text",
    "common-practice": "common practice, no source",
    "published": "published",
    "user": "given in the plan",
    "measured": "worked out from loaded data",
}
KNOWN_SHORT: dict[HowKnown, str] = {
    "read": "read",
    "partly-read": "read in part",
    "memory": "from memory",
    "common-practice": "common practice",
    "published": "published",
    "user": "given",
    "measured": "worked out",
}
"""Beside a figure, where the words of ``KNOWN`` would be too long."""
MATCHES: dict[Match, str] = {
    "accepted": "by its accepted botanical name",
    "synonym": "by another botanical name of the plant",
    "common": "by a common name",
    "trade": "by a trade name",
    "cultivar": "by a cultivar name",
    "spelling": "by its spelling alone",
    "genus": "by the genus alone",
    "none": "by no name known here",
}
FITS: dict[FitVerdict, str] = {
    "fits": "Fits",
    "fits-with-change": "Fits with a change",
    "does-not-fit": "Does not fit",
    "unknown": "Not known yet",
}
CONTAINED: dict[ContainmentVerdict, str] = {
    "prohibited": "Not to be planted: prohibited",
    "nothing-holds": "Can spread from here",
    "partly-held": "Can still spread in part",
    "each-way-met": "Kept in on every way out",
    "no-way-out-stated": "Closed: no outlet, no overflow",
}
_NATIVE_CONTAINED: dict[ContainmentVerdict, str] = {
    "nothing-holds": "Native here: not kept in",
    "partly-held": "Native here: partly kept in",
}


def contained(verdict: ContainmentVerdict, *, native: bool) -> str:
    """How a planting is kept in; a plant native to the state does not spread from there, for it
    belongs to the flora around.

    >>> contained("nothing-holds", native=True)
    'Native here: not kept in'
    """
    return _NATIVE_CONTAINED.get(verdict, CONTAINED[verdict]) if native else CONTAINED[verdict]


ROUTES = ROUTE_NAMES
"""Ways out of a place, in words."""
HOLDINGS: dict[Holding, str] = {
    "open-ground": "in open ground",
    "basket": "in a basket",
    "solid-pot": "in a solid pot",
    "no-drain-tub": "in a tub without holes",
    "foam-island": "on a foam island",
    "floating-ring": "in a floating ring",
}
ROLES: dict[Role, str] = {
    "site": "the site lies here",
    "supply": "to be bought here, it must be sold",
    "neighbour": "near the state line",
    "water": "its water comes here",
}
COVERAGES: dict[Coverage, str] = {
    "complete": "lists loaded in full",
    "partial": "lists loaded in part",
    "none": "no list loaded with its plants",
}
KINDS: dict[SourceKind, str] = {
    "law": "Law",
    "own-rule": "Rule that is not law",
    "data": "Data set",
    "records": "Plant records",
    "method": "Reference for a trait, coefficient or formula",
}


def acts_in_words(acts: Iterable[Act]) -> str:
    """``buy, possess and plant``."""
    return joined(acts)


def place_name(jurisdiction: Jurisdiction) -> str:
    """``Ohio``; ``federal law`` for the whole country."""
    return "Federal law" if jurisdiction == FEDERAL else JURISDICTION_NAMES[jurisdiction]


def begun(text: str) -> str:
    """With a capital letter to begin with; the others stay as they are."""
    return text[:1].upper() + text[1:]


def percent_or_none(chance: float | None) -> str:
    """``20%``, or that it was not worked out."""
    return "not worked out" if chance is None else percent_of(chance)


def place_letters(jurisdiction: Jurisdiction) -> str:
    """``OH``; ``federal`` for the whole country."""
    return "federal" if jurisdiction == FEDERAL else jurisdiction.removeprefix("US-")


def yes_no(fact: bool | None) -> str:
    """A fact of a place."""
    return {True: "yes", False: "no", None: "not known"}[fact]


def in_unit(value: float | None, unit: Unit) -> str:
    """A quantity in SI with US customary beside it, or that it is not known."""
    return "not known" if value is None else Quantity.exact(value, unit).text()


def in_short(text: str, longest: int) -> str:
    """Sentences for a narrow column: without what stands in brackets, then the first alone, then
    that without what follows a semicolon or colon; cut only where it is still too long.

    >>> in_short("Likely to escape to the creek (likely 54% in ten years, 12% to 90%).", 40)
    'Likely to escape to the creek.'
    >>> in_short("It grows in still water; here it is moving. Current uproots it.", 50)
    'It grows in still water; here it is moving.'
    """
    plain = re.sub(r" \([^()]*\)", "", text)
    first = plain.split(". ")[0].rstrip(".") + "."
    begin = re.split(r"[;:]", first)[0].rstrip(".") + "."
    for shorter in (text, plain, first, begin):
        if len(shorter) <= longest:
            return shorter
    return begin[: longest - 3].rsplit(" ", 1)[0] + "..."


def first_office(asked: str) -> str:
    """The first of several offices by its name alone; each address is in the appendix."""
    return asked.split("; ")[0].split(" (")[0]


def own_rule_sentence(rule: OwnRule) -> str:
    """``No law, but Marl Hollow house rules: prohibited. We do not sell it.``"""
    return f"No law, but {rule.title}: {rule.outcome}. {rule.reason}"


def likely_words(escape: Assessment | None) -> str:
    """Whether the plant can get out and stay, in a few words for the client: ``likely 20%, up to
    45%``.
    """
    if escape is None:
        return "not worked out"
    if escape.escape_class is None:
        return "part of the flora"
    likely, high = percent_of(escape.likely), percent_of(escape.high)
    return f"likely {likely}" if likely == high else f"likely {likely}, up to {high}"


def percent(interval: Interval) -> str:
    """``3 to 45%``; ``under 1%`` where both ends are below that."""
    return percent_range(interval.low, interval.high)


def likely(estimate: Estimate) -> str:
    """``20% (8 to 45%)``: the likely chance, then from the 5th to the 95th percentile."""
    return f"{percent_of(estimate.likely)} ({percent(estimate.interval)})"


def water_name(reached: Reached) -> str:
    """Its name, or that it has none."""
    article = "An" if reached.water.kind[0] in "aeiou" else "A"
    return reached.water.name or f"{article} {reached.water.kind} without a name"


def relation(reached: Reached) -> str:
    """How the water lies to the place."""
    if reached.relation == "contains":
        return "the place lies in it or on it"
    if reached.relation == "downstream" and reached.along_m is not None:
        return f"{distance(reached.along_m)} down the water"
    if reached.relation == "upstream":
        return f"{distance(reached.overland_m)} away over land, upstream"
    return f"{distance(reached.overland_m)} away over land"


def sureness(resolution: Resolution) -> str:
    """How the label was matched and whether that is sure, as one phrase."""
    sure = "confirmed" if resolution.confirmed else "not confirmed"
    return f"matched {MATCHES[resolution.match]}, {sure}"


def safe_address(address: str) -> str:
    """A web address to link to; anything but http and https leads nowhere."""
    return address if address.lower().startswith(("http://", "https://")) else "#"
