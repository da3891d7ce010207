"""How completely the law of a jurisdiction is loaded, and whom to ask."""

import re
from datetime import date

from service.regulation.law import LawBook, ListVersion, Office, Topic
from service.values.vocabulary import JURISDICTION_NAMES, Act, Coverage, Jurisdiction

_APART = re.compile(r";\s(?![^(]*\))")
"""Between two authorities; not within the brackets that name their law."""

_TOPIC: dict[Act, Topic] = {
    "import": "trade",
    "export": "trade",
    "sell": "trade",
    "buy": "trade",
    "give": "trade",
    "transport": "trade",
    "propagate": "trade",
    "possess": "waters",
    "plant": "waters",
    "release": "waters",
}
"""Nursery inspection looks after what is grown and moved for sale; the wildlife or environment
agency after what is kept and put into water. Common practice, no source.
"""


def state_law_in_force(
    law: LawBook, jurisdiction: Jurisdiction, on: date
) -> tuple[ListVersion, ...]:
    """Lists of a jurisdiction in force on a day, without its counties' and towns' and own rules."""
    return tuple(
        version
        for version in law.lists_of(jurisdiction)
        if version.is_law and version.kind != "ordinance" and version.in_force(on)
    )


def coverage_of(law: LawBook, jurisdiction: Jurisdiction, on: date) -> Coverage:
    """How completely the lists of a jurisdiction that are in force are loaded.

    A list that breaks off leaves the whole ``partial``. A jurisdiction whose lists name no plant,
    and are not known to be complete, counts as none. An ordinance of a county or town says nothing
    of how completely the law of its state is loaded, so it does not count.

    >>> coverage_of(LawBook(()), Jurisdiction("US-OH"), date(2026, 6, 1))
    'none'
    """
    in_force = state_law_in_force(law, jurisdiction, on)
    if not in_force:
        return "none"
    if all(version.completeness == "complete" for version in in_force):
        return "complete"
    reaches_plants = any(
        version.entries or any(rule.every_aquatic_plant for rule in version.classes)
        for version in in_force
    )
    return "partial" if reaches_plants else "none"


def confirm_with(law: LawBook, jurisdiction: Jurisdiction, act: Act) -> str:
    """Whom to ask about an act: the office for its topic with its address, else the authorities of
    the lists loaded, else in general words.
    """
    office = next(
        (
            office
            for office in law.offices
            if (office.jurisdiction, office.topic) == (jurisdiction, _TOPIC[act])
        ),
        None,
    )
    if office is not None:
        return _with_address(office)
    named = [version.authority for version in law.lists_of(jurisdiction) if version.is_law]
    authorities = sorted(
        {part.strip() for authority in named for part in _APART.split(authority) if part.strip()}
    )
    if authorities:
        return "; ".join(authorities)
    return (
        "the department of agriculture and the wildlife or environment agency of "
        f"{JURISDICTION_NAMES[jurisdiction]}"
    )


def _with_address(office: Office) -> str:
    if not office.url:
        return office.name
    said = "" if office.url_known == "read" else ", address from memory, not opened"
    return f"{office.name} ({office.url}{said})"
