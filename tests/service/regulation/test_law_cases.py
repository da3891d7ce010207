"""Published cases of law against the reference.

The source of each stands in ``tests/checks/law_cases.csv``, column ``citation``.
"""

import csv
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Literal

import pytest

from service.regulation.finding import Finding, Question, find
from service.store.library import Library
from service.values.vocabulary import Act, CountyFips, Jurisdiction, PlantId

Expected = Literal["barred", "listed", "other-class", "not-on-list"]
_TABLE = Path("tests/checks/law_cases.csv").read_text(encoding="utf-8").splitlines()
CASES = {row["question"]: row for row in csv.DictReader(_TABLE)}
ON = date(2026, 6, 1)

FEDERAL_LIST = "us-federal-noxious-weeds"
FLORIDA = "us-fl-prohibited-aquatic"
WISCONSIN = "us-wi-nr40"
CONNECTICUT = "us-ct-invasive-plants"
MAINE = "us-me-invasive-aquatic"
MINNESOTA_REGULATED = "us-mn-regulated-invasive"
NEW_HAMPSHIRE = "us-nh-exotic-aquatic-weeds"


@dataclass(frozen=True)
class Case:
    """A question of the table as the engine is asked it.

    ``barred``: prohibited or only with a permit. ``listed``: cited from the list, whatever the act.
        ``other-class``: cited from the list in
    the class named, not in another. ``not-on-list``: the list does not bear on it.
    """

    question: str
    plant: str
    place: str
    list_id: str
    expected: Expected
    act: Act = "sell"
    county: str | None = None
    on: date = ON
    class_name: str = ""


def federal(question: str, plant: str, expected: Expected) -> Case:
    return Case(question, plant, "US", FEDERAL_LIST, expected, act="transport")


REPRODUCED = [
    federal("Is Azolla pinnata a federal noxious weed (USA)?", "azolla-pinnata", "barred"),
    federal("Is Eichhornia azurea (Pontederia azurea) a federal noxious weed (USA)?", "pontederia-azurea", "barred"),
    federal("Is Hydrilla verticillata a federal noxious weed (USA)?", "hydrilla-verticillata", "barred"),
    federal("Is Hygrophila polysperma a federal noxious weed (USA)?", "hygrophila-polysperma", "barred"),
    federal("Is Ipomoea aquatica a federal noxious weed (USA)?", "ipomoea-aquatica", "barred"),
    federal("Is Salvinia molesta a federal noxious weed (USA)?", "salvinia-molesta", "barred"),
    *(
        federal(f"Is {name} on the federal aquatic and wetland noxious weed list (USA)?", plant, "not-on-list")
        for name, plant in {
            "Eichhornia crassipes (Pontederia crassipes)": "pontederia-crassipes",
            "Pistia stratiotes": "pistia-stratiotes",
            "Salvinia minima": "salvinia-minima",
            "Myriophyllum spicatum": "myriophyllum-spicatum",
            "Egeria densa": "egeria-densa",
            "Lythrum salicaria": "lythrum-salicaria",
            "Trapa natans": "trapa-natans",
        }.items()
    ),
    Case("Pontederia crassipes (listed as Eichhornia spp.) in Florida without a permit", "pontederia-crassipes", "US-FL", FLORIDA, "barred"),
    Case("Does the Florida entry Eichhornia spp. make native Pontederia cordata prohibited?", "pontederia-cordata", "US-FL", FLORIDA, "not-on-list"),
    Case("Pontederia rotundifolia in Florida", "pontederia-rotundifolia", "US-FL", FLORIDA, "barred", class_name="Class I"),
    Case("Hydrilla verticillata in Florida", "hydrilla-verticillata", "US-FL", FLORIDA, "barred", class_name="Class I"),
    Case("Salvinia molesta in Florida", "salvinia-molesta", "US-FL", FLORIDA, "barred", class_name="Class I"),
    Case("Salvinia minima in Florida", "salvinia-minima", "US-FL", FLORIDA, "not-on-list"),
    Case("Pistia stratiotes in Florida", "pistia-stratiotes", "US-FL", FLORIDA, "barred", class_name="Class II"),
    Case("Hygrophila polysperma in Florida", "hygrophila-polysperma", "US-FL", FLORIDA, "barred", class_name="Class II"),
    Case("Limnophila sessiliflora in Florida", "limnophila-sessiliflora", "US-FL", FLORIDA, "barred", class_name="Class II"),
    Case("Trapa natans in Florida", "trapa-natans", "US-FL", FLORIDA, "barred", class_name="Class I"),
    Case("Alternanthera philoxeroides in Florida", "alternanthera-philoxeroides", "US-FL", FLORIDA, "barred", class_name="Class I"),
    Case("Myriophyllum aquaticum in Florida", "myriophyllum-aquaticum", "US-FL", FLORIDA, "not-on-list"),
    Case("Eichhornia crassipes (Pontederia crassipes) in Wisconsin", "pontederia-crassipes", "US-WI", WISCONSIN, "barred", class_name="Prohibited"),
    Case("Eichhornia azurea in Wisconsin", "pontederia-azurea", "US-WI", WISCONSIN, "barred", class_name="Prohibited"),
    Case("Egeria densa in Wisconsin", "egeria-densa", "US-WI", WISCONSIN, "barred", class_name="Prohibited"),
    Case("Pistia stratiotes in Wisconsin", "pistia-stratiotes", "US-WI", WISCONSIN, "barred", class_name="Prohibited"),
    Case("Nelumbo nucifera (sacred lotus) in Wisconsin", "nelumbo-nucifera", "US-WI", WISCONSIN, "barred", class_name="Prohibited"),
    Case("Glyceria maxima in Dane County, Wisconsin", "glyceria-maxima", "US-WI", WISCONSIN, "other-class", county="55025", class_name="Restricted"),
    Case("Glyceria maxima in Bayfield County, Wisconsin", "glyceria-maxima", "US-WI", WISCONSIN, "barred", county="55007", class_name="Prohibited"),
    Case(
        "Non-native Phragmites australis in Brown County, Wisconsin", "phragmites-australis", "US-WI", WISCONSIN, "other-class", county="55009", class_name="Restricted"
    ),
    Case("Sale of Potamogeton crispus in Connecticut", "potamogeton-crispus", "US-CT", CONNECTICUT, "barred"),
    Case("Sale of Cabomba caroliniana in Connecticut", "cabomba-caroliniana", "US-CT", CONNECTICUT, "barred"),
    Case("Sale of Myriophyllum spicatum in Connecticut", "myriophyllum-spicatum", "US-CT", CONNECTICUT, "barred"),
    Case("Pistia stratiotes in Connecticut", "pistia-stratiotes", "US-CT", CONNECTICUT, "not-on-list"),
    Case("Is Myriophyllum aquaticum an invasive aquatic plant under Maine law?", "myriophyllum-aquaticum", "US-ME", MAINE, "barred"),
    Case("Is Trapa natans an invasive aquatic plant under Maine law?", "trapa-natans", "US-ME", MAINE, "barred"),
    Case("Is Hydrilla verticillata an invasive aquatic plant under Maine law?", "hydrilla-verticillata", "US-ME", MAINE, "barred"),
    Case("Is any Myriophyllum species not indigenous to Maine covered?", "myriophyllum-aquaticum", "US-ME", MAINE, "barred"),
    Case("Is Pontederia crassipes on the Maine invasive aquatic plant list?", "pontederia-crassipes", "US-ME", MAINE, "not-on-list"),
    *(
        Case(f"{name} in Minnesota", plant, "US-MN", MINNESOTA_REGULATED, "listed", class_name="Regulated invasive species")
        for name, plant in {
            "Egeria densa": "egeria-densa",
            "Cabomba caroliniana": "cabomba-caroliniana",
            "Ipomoea aquatica": "ipomoea-aquatica",
            "Eichhornia crassipes (Pontederia crassipes)": "pontederia-crassipes",
        }.items()
    ),
    Case("Non-native Nymphaea and cultivars in Minnesota", "nymphaea-mexicana", "US-MN", MINNESOTA_REGULATED, "listed"),
    Case("Nymphoides peltata in Minnesota after 20 Feb 2024", "nymphoides-peltata", "US-MN", "us-mn-prohibited-invasive", "barred", on=date(2024, 2, 21)),
    Case("Egeria densa in Indiana", "egeria-densa", "US-IN", "us-in-aquatic-plants", "barred"),
    Case("Is Eichhornia crassipes among the 28 Indiana prohibited aquatic plants?", "pontederia-crassipes", "US-IN", "us-in-aquatic-plants", "not-on-list"),
    Case("Eichhornia crassipes (Pontederia crassipes) in South Carolina", "pontederia-crassipes", "US-SC", "us-sc-illegal-aquatic", "barred", act="possess"),
    Case("Pistia stratiotes in South Carolina", "pistia-stratiotes", "US-SC", "us-sc-illegal-aquatic", "barred", act="import"),
    Case("Placing floating waterhyacinth into public waters of Alabama", "pontederia-crassipes", "US-AL", "us-al-nonindigenous-aquatic", "listed", act="release"),
    Case("Placing parrot-feather into public waters of Alabama", "myriophyllum-aquaticum", "US-AL", "us-al-nonindigenous-aquatic", "listed", act="release"),
    Case(
        "any Myriophyllum species in New Hampshire: sale, distribution, import, propagation, transport, introduction", "myriophyllum-spicatum", "US-NH", NEW_HAMPSHIRE, "barred", act="propagate"
    ),
    Case("Iris pseudacorus in New Hampshire: sale, distribution, import, propagation, transport, introduction", "iris-pseudacorus", "US-NH", NEW_HAMPSHIRE, "barred", act="import"),
    Case("Typha laxmannii in New Hampshire: sale, distribution, import, propagation, transport, introduction", "typha-laxmannii", "US-NH", NEW_HAMPSHIRE, "barred", act="transport"),
    Case("Eichhornia crassipes (Pontederia crassipes) in Texas", "pontederia-crassipes", "US-TX", "us-tx-exotic-aquatic", "barred"),
    Case("Pistia stratiotes in Texas", "pistia-stratiotes", "US-TX", "us-tx-exotic-aquatic", "barred"),
    Case("Salvinia minima (all Salvinia species) in Texas", "salvinia-minima", "US-TX", "us-tx-exotic-aquatic", "barred"),
    Case("Does the Oregon noxious weed quarantine cover the federal noxious weed list?", "azolla-pinnata", "US-OR", "us-or-federal-noxious-weeds", "barred"),
    Case("Ipomoea aquatica under the Oregon quarantine", "ipomoea-aquatica", "US-OR", "us-or-noxious-quarantine", "not-on-list"),
    Case("Ipomoea aquatica under the Oregon quarantine", "ipomoea-aquatica", "US-OR", "us-or-federal-noxious-weeds", "not-on-list"),
    Case("Trapa natans in Oregon", "trapa-natans", "US-OR", "us-or-noxious-quarantine", "barred"),
    Case("Butomus umbellatus in Oregon", "butomus-umbellatus", "US-OR", "us-or-noxious-quarantine", "barred"),
    Case("Glyceria maxima sale in Washington State", "glyceria-maxima", "US-WA", "us-wa-quarantine", "barred"),
    Case("Butomus umbellatus sale in Washington State", "butomus-umbellatus", "US-WA", "us-wa-quarantine", "barred"),
    Case("Cabomba caroliniana sale in Washington State", "cabomba-caroliniana", "US-WA", "us-wa-quarantine", "barred"),
    Case("Myriophyllum aquaticum in Michigan", "myriophyllum-aquaticum", "US-MI", "us-mi-part413", "barred", class_name="Prohibited species"),
    Case("Michigan: may prohibited or restricted species be possessed, introduced, imported or sold alive?", "lagarosiphon-major", "US-MI", "us-mi-part413", "barred", act="possess"),
    Case("Lagarosiphon major in Michigan", "lagarosiphon-major", "US-MI", "us-mi-part413", "barred", class_name="Prohibited species"),
    Case("Cabomba caroliniana in Vermont", "cabomba-caroliniana", "US-VT", "us-vt-noxious-weeds", "barred", class_name="Class A noxious weed"),
    Case("Egeria densa in Vermont", "egeria-densa", "US-VT", "us-vt-noxious-weeds", "barred", class_name="Class A noxious weed"),
]  # fmt: skip

NOT_REPRODUCED = {
    "Does a federal noxious weed entry at genus level cover all species, subspecies, varieties and forms in it?": "a rule of reading, "
    "tested with the engine's ranks in test_reach; the reference holds no federal entry at genus level",
    "Texas: does a later change of scientific name take a species off the harmful list?": "a rule of reading; that old and new names give "
    "one finding is a property in test_finding",
    "Texas: are hybrids, seeds and regenerative parts of listed plants covered?": "a rule of reading; kept as the scope of the entries and tested below",
    "New York: what must accompany a regulated species on sale?": "New York's regulated class is not in the reference, only its prohibited one",
    "New York: may a regulated species be sold and possessed?": "New York's regulated class is not in the reference, only its prohibited one",
    "How many plants are on the EU list of Union concern after the 2022 update?": "law of the European Union is outside the project",
    "Alternanthera philoxeroides in the EU": "law of the European Union is outside the project",
    "Pontederia crassipes in the EU": "law of the European Union is outside the project",
}


def asked(library: Library, case: Case) -> Finding:
    question = Question(
        Jurisdiction(case.place),
        case.act,
        case.on,
        CountyFips(case.county) if case.county else None,
    )
    return find(library.law, library.taxonomy.subject(PlantId(case.plant)), question)


def test_every_published_case_is_reproduced_or_said_not_to_be() -> None:
    assert {case.question for case in REPRODUCED} | set(NOT_REPRODUCED) == set(CASES)


@pytest.mark.parametrize("case", REPRODUCED, ids=lambda case: f"{case.question[:60]}")
def test_the_reference_reproduces_a_published_case(library: Library, case: Case) -> None:
    finding = asked(library, case)
    cited = [citation for citation in finding.citations if citation.list_id == case.list_id]
    match case.expected:
        case "barred":
            assert finding.outcome in ("prohibited", "permit-required"), CASES[case.question][
                "citation"
            ]
            assert any(
                citation.outcome == finding.outcome
                and (not case.class_name or citation.class_name == case.class_name)
                for citation in cited
            )
        case "listed":
            assert cited
            assert all(
                not case.class_name or citation.class_name == case.class_name for citation in cited
            )
        case "other-class":
            assert {citation.class_name for citation in cited} == {case.class_name}
        case "not-on-list":
            assert cited == []


@pytest.mark.parametrize("act", ["sell", "give", "transport"])
def test_vermont_takes_the_federal_list_in(library: Library, act: Act) -> None:
    """Quarantine #3 of 2002 by its definitions; both its classes bar these acts."""
    case = Case("", "azolla-pinnata", "US-VT", "us-vt-federal-noxious-weeds", "barred", act)
    assert asked(library, case).outcome in ("prohibited", "permit-required")
    assert asked(library, replace(case, act="possess")).outcome == "undetermined"


def test_texas_entries_take_in_hybrids_and_parts(library: Library) -> None:
    """31 TAC 57.112(a), as in the table of cases."""
    texas = next(
        version for version in library.law.versions if version.list_id == "us-tx-exotic-aquatic"
    )
    assert all({"hybrids", "seeds-and-parts"} <= set(entry.scope) for entry in texas.entries)
