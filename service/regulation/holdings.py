"""How completely the law of a jurisdiction is held, and whom to ask."""

import re
from datetime import date

from service.regulation.law import LawBook, ListVersion
from service.values.vocabulary import JURISDICTION_NAMES, Coverage, Jurisdiction

_APART = re.compile(r";\s(?![^(]*\))")
"""Between two authorities; not within the brackets that name their law."""


def state_law_in_force(
    law: LawBook, jurisdiction: Jurisdiction, on: date
) -> tuple[ListVersion, ...]:
    """Lists of a jurisdiction in force on a day, without its counties' and towns' and own rules."""
    return tuple(
        version
        for version in law.held(jurisdiction)
        if version.is_law and version.kind != "ordinance" and version.in_force(on)
    )


def coverage_of(law: LawBook, jurisdiction: Jurisdiction, on: date) -> Coverage:
    """How completely the lists of a jurisdiction that are in force are held.

    A jurisdiction whose lists name no plant, and are not known to be complete, counts as none. An
    ordinance of a county or town says nothing of how completely the law of its state is held, so it
    does not count.
    """
    held = state_law_in_force(law, jurisdiction, on)
    if not held:
        return "none"
    if all(version.completeness == "complete" for version in held):
        return "complete"
    reaches_plants = any(
        version.entries or any(each.every_aquatic_plant for each in version.classes)
        for version in held
    )
    return "partial" if reaches_plants else "none"


def confirm_with(law: LawBook, jurisdiction: Jurisdiction) -> str:
    """Whom to ask: the authorities of the lists held, or in general words."""
    named = [version.authority for version in law.held(jurisdiction) if version.is_law]
    authorities = sorted(
        {each.strip() for authority in named for each in _APART.split(authority) if each.strip()}
    )
    if authorities:
        return "; ".join(authorities)
    return f"the department of agriculture and the wildlife or environment agency of {JURISDICTION_NAMES[jurisdiction]}"
