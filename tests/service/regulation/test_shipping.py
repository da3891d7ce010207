"""Lanes from one state to another, step by step, on real entries of the reference; each with its
citation.
"""

from datetime import date

import pytest

from service.regulation.finding import Finding
from service.regulation.for_name import Naming
from service.regulation.law import LawBook, Term
from service.regulation.shipping import Lane, ship
from service.store.library import Library
from service.values.vocabulary import FEDERAL, OUTCOMES, CountyFips, Jurisdiction, Outcome
from tests.service.regulation.builders import a_class, a_list, a_subject, an_entry, law

ON = date(2026, 6, 1)
OHIO, IOWA = Jurisdiction("US-OH"), Jurisdiction("US-IA")
_SHORT: dict[str, Outcome] = {
    "X": "prohibited", "P": "permit-required", "c": "conditional", "?": "undetermined", "o": "listed-other-acts", "-": "no-entry-found",
}  # fmt: skip


def lane(library: Library, label: str, origin: str, destination: str) -> Lane:
    naming = library.naming(library.resolver.resolve(label))
    return ship(library.law, naming, Jurisdiction(origin), Jurisdiction(destination), ON)


def acts_of(steps: tuple[Finding, ...]) -> list[tuple[str, str, Outcome]]:
    return [(step.jurisdiction.removeprefix("US-"), step.act, step.outcome) for step in steps]


# Federal movement | origin: export sell transport | destination: import sell buy possess | the lane
LANES = [
    # 7 C.F.R. §§ 360.200, 360.300 (movement by permit); no list of Kentucky is loaded, and Tennessee
    # lists no water plant of this name
    ("Hydrilla verticillata", "US-KY", "US-TN", "P", "? ? ?", "- - - -", "P"),
    # 7 C.F.R. § 360.200; 31 Tex. Admin. Code §§ 57.112, 57.113; La. Admin. Code tit. 76, pt. VII, §
    # 1101 (import; what else it bars was not established)
    ("Hydrilla verticillata", "US-TX", "US-LA", "P", "P P P", "P ? ? ?", "P"),
    # Ga. Comp. R. & Regs. 40-4-9-.01(h): sale, no permit; what else it bars was not established
    ("Hydrilla verticillata", "US-FL", "US-GA", "P", "o P P", "? X ? ?", "X"),
    # Ohio Admin. Code 901:5-30-01 (sale); Wis. Admin. Code § NR 40.05 (restricted: possession is
    # not barred)
    ("Butomus umbellatus", "US-OH", "US-WI", "-", "o X o", "o P P o", "X"),
    # Wis. Admin. Code § NR 40.04 (prohibited: possession barred too)
    ("Trapa natans", "US-KY", "US-WI", "-", "? ? ?", "o P P P", "P"),
    # Fla. Admin. Code R. 5B-64.011 from the origin's side; rule 5B-57.007 breaks off and does not
    # name it, so sending it out is open
    ("Trapa natans", "US-FL", "US-GA", "-", "? P P", "- - - -", "P"),
    # R.I. freshwater invasive statute is loaded without its plants
    ("Trapa natans", "US-TN", "US-RI", "-", "- - -", "? ? ? ?", "?"),
    # nothing loaded names it
    ("Nymphaea odorata", "US-OH", "US-WI", "-", "- - -", "- - - -", "-"),
]


@pytest.mark.parametrize(
    ("label", "origin", "destination", "federal", "from_origin", "to_destination", "whole"), LANES
)
def test_a_lane_asks_federal_movement_then_the_origin_then_the_destination(
    library: Library,
    label: str,
    origin: str,
    destination: str,
    federal: str,
    from_origin: str,
    to_destination: str,
    whole: str,
) -> None:
    found = lane(library, label, origin, destination)
    here, there = origin.removeprefix("US-"), destination.removeprefix("US-")
    assert acts_of(found.steps) == [
        ("US", "transport", _SHORT[federal]),
        *(
            (here, act, _SHORT[outcome])
            for act, outcome in zip(
                ("export", "sell", "transport"), from_origin.split(), strict=True
            )
        ),
        *(
            (there, act, _SHORT[outcome])
            for act, outcome in zip(
                ("import", "sell", "buy", "possess"), to_destination.split(), strict=True
            )
        ),
    ]
    assert found.outcome == _SHORT[whole]
    assert found.outcome == min((step.outcome for step in found.steps), key=OUTCOMES.index)


def test_within_one_state_no_line_is_crossed(library: Library) -> None:
    """Wis. Admin. Code § NR 40.05, Iris pseudacorus restricted."""
    found = lane(library, "Iris pseudacorus", "US-WI", "US-WI")
    assert acts_of(found.steps) == [
        ("WI", "sell", "permit-required"),
        ("WI", "transport", "permit-required"),
        ("WI", "buy", "permit-required"),
        ("WI", "possess", "listed-other-acts"),
    ]


def test_a_lane_with_a_permit_route_names_each_authority_in_the_order_of_strictness(
    library: Library,
) -> None:
    found = lane(library, "Hydrilla verticillata", "US-TX", "US-LA")
    assert [authority.split(" (")[0] for authority in found.permit_authorities] == [
        "USDA Animal and Plant Health Inspection Service",
        "Texas Parks and Wildlife Department",
        "Texas Department of Agriculture",
        "Louisiana Department of Wildlife and Fisheries",
    ]


def test_a_lane_that_one_step_bars_outright_names_no_permit(library: Library) -> None:
    found = lane(library, "Butomus umbellatus", "US-OH", "US-WI")
    assert found.permit_authorities == ()
    assert found.reasons[0].startswith("US-OH sell: prohibited. ")
    assert any(reason.startswith("US-WI sell: permit-required. ") for reason in found.reasons)


def test_reasons_come_strictest_first(library: Library) -> None:
    reasons = lane(library, "Hydrilla verticillata", "US-FL", "US-GA").reasons
    ranks = [OUTCOMES.index(reason.split(": ")[1].split(".")[0]) for reason in reasons]
    assert ranks == sorted(ranks)


def small(*, sell: bool = False, export: bool = False, county: CountyFips | None = None) -> LawBook:
    """Invented law of two states, loaded in full and read."""
    acts = (*(("sell",) if sell else ()), *(("export",) if export else ()))
    terms = (Term("only-counties", "one county", counties=(county,)),) if county else ()
    origin = a_list(*([an_entry()] if export else []), classes=(a_class(acts=acts),))
    destination = a_list(
        *([an_entry(terms=terms)] if sell else []),
        list_id="us-ia-test",
        jurisdiction=IOWA,
        classes=(a_class(acts=("sell",)),),
    )
    federal = a_list(list_id="us-test", jurisdiction=FEDERAL)
    return law(origin, destination, federal)


NAMED = Naming("confirmed", (a_subject(),))


def test_an_export_bar_of_the_origin_stops_the_lane_whatever_the_destination_says() -> None:
    assert ship(small(export=True), NAMED, OHIO, IOWA, ON).outcome == "prohibited"
    assert ship(small(), NAMED, OHIO, IOWA, ON).outcome == "no-entry-found"


@pytest.mark.parametrize(
    ("county", "outcome"),
    [(None, "conditional"), ("19001", "prohibited"), ("19003", "no-entry-found")],
)
def test_a_county_of_the_destination_decides_what_holds_in_one_county(
    county: str | None, outcome: Outcome
) -> None:
    book = small(sell=True, county=CountyFips("19001"))
    assert (
        ship(book, NAMED, OHIO, IOWA, ON, CountyFips(county) if county else None).outcome == outcome
    )


def test_that_nothing_bars_a_lane_is_verified_only_where_every_step_is() -> None:
    assert ship(small(), NAMED, OHIO, IOWA, ON).verified
    partial = a_list(list_id="us-ia-other", jurisdiction=IOWA, completeness="partial")
    assert not ship(law(*small().versions, partial), NAMED, OHIO, IOWA, ON).verified


def test_an_unsure_name_leaves_a_lane_undetermined_where_nothing_is_found() -> None:
    guessed = Naming("spelling", (a_subject(),))
    assert ship(small(), guessed, OHIO, IOWA, ON).outcome == "undetermined"
