"""The names that lists print: names of their taxa, and candidates in the place of the list."""

from datetime import date

import pytest

from service.checks.label import check_label
from service.names import printed_names
from service.regulation.finding import Question
from service.store.library import Library
from service.values.vocabulary import Jurisdiction

DAY = date(2026, 11, 1)


@pytest.mark.parametrize(
    ("label", "place", "listed"),
    [
        ("Giant duckweed", "US-TX", "Landoltia punctata"),
        ("feather-foils", "US-NH", "Myriophyllum"),
        ("Polygonum cuspidatum", "US-CT", "Reynoutria japonica"),
        ("rooting water hyacinth", "US-LA", "Pontederia azurea"),
        ("creeping waterprimrose", "US-NC", "Ludwigia hexapetala"),
    ],
)
def test_a_name_on_a_list_of_the_place_brings_its_taxon_in(
    library: Library, label: str, place: str, listed: str
) -> None:
    answer = check_label(library, label, [Question(Jurisdiction(place), "transport", DAY)])
    assert listed in {candidate.accepted_name for candidate in answer.resolution.candidates}
    assert answer.findings[0].outcome not in ("no-entry-found", "undetermined")
    assert answer.findings[0].citations


def test_the_taxon_comes_in_only_where_the_list_is(library: Library) -> None:
    feather_foils = library.resolver.resolve("feather-foils")
    here = library.with_listed(
        feather_foils, library.naming(feather_foils), [Jurisdiction("US-NH")]
    )
    elsewhere = library.with_listed(
        feather_foils, library.naming(feather_foils), [Jurisdiction("US-OH")]
    )
    assert elsewhere == feather_foils
    assert not here.confirmed
    assert "New Hampshire" in here.to_confirm


def test_a_scientific_name_that_is_sure_is_not_opened_by_a_common_name(library: Library) -> None:
    texas = Question(Jurisdiction("US-TX"), "sell", DAY)
    answer = check_label(library, "Spirodela polyrhiza", [texas])
    assert answer.resolution.confirmed
    assert not any("Landoltia" in reason for reason in answer.findings[0].reasons)


@pytest.mark.parametrize(
    ("label", "outcome"),
    [
        ("Salvinia inventata", "permit-required"),  # Florida lists the genus Salvinia as a whole
        ("Hygrophila auriculata", "undetermined"),  # H. polysperma is listed, its genus is not
        ("Lavandula angustifolia", "undetermined"),
    ],
)
def test_a_plant_outside_the_catalogue_is_answered_by_its_genus_or_left_open(
    library: Library, label: str, outcome: str
) -> None:
    answer = check_label(library, label, [Question(Jurisdiction("US-FL"), "possess", DAY)])
    assert answer.findings[0].outcome == outcome
    assert not answer.findings[0].verified
    assert "not in the catalogue" in " ".join(answer.findings[0].reasons)


@pytest.mark.parametrize(
    ("cell", "names"),
    [
        ("mosquito fern, water velvet", {"mosquito fern", "water velvet"}),
        ("Hyacinth, water", {"water Hyacinth"}),
        ("Common/European frogbit", {"Common frogbit", "European frogbit"}),
        (
            "Eurasian or European water-milfoil",
            {"Eurasian water-milfoil", "European water-milfoil"},
        ),
        ("Tamarix (Salt Cedar)", {"Tamarix", "Salt Cedar"}),
        ("creeping Jenny; moneywort", {"creeping Jenny", "moneywort"}),
        ("Whitetops and its varieties", {"Whitetops"}),
        ("Trapa natans L.", {"Trapa natans"}),
        ("", set()),
    ],
)
def test_every_name_in_a_cell_is_read(cell: str, names: set[str]) -> None:
    assert names <= set(printed_names(cell))


def test_every_printed_name_is_a_name(library: Library) -> None:
    """Every Latin and common name that a loaded list prints resolves to its taxon, or to one at
    another rank, in the place of the list."""
    missed = []
    for version in library.law.versions:
        for entry in version.entries if version.is_law else ():
            for name in (
                *printed_names(entry.name_as_listed),
                *printed_names(entry.common_as_listed),
            ):
                resolution = library.resolver.resolve(name)
                found = library.with_listed(
                    resolution, library.naming(resolution), [version.jurisdiction]
                )
                taxa = {
                    taxon
                    for candidate in found.candidates
                    for taxon in library.taxonomy.subject(candidate.plant_id).lineage
                }
                if entry.plant_id not in taxa:
                    missed.append((version.list_id, name, entry.accepted_name))
    assert missed == []
