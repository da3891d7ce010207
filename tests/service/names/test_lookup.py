"""Look-ups over a small catalogue of invented plants, where each rule can be seen by itself."""

from service.names import NameRecord, Resolver
from service.names.index import CatalogueIndex
from service.names.lookup import MAX_SPELLING_CANDIDATES, Lookup
from service.names.values import NameKind, NameSense
from service.values.plants import Plant
from service.values.vocabulary import PlantId


def plant(name: str) -> Plant:
    return Plant(PlantId(name.lower().replace(" ", "-")), name, "species", name.split()[0])


def name(
    text: str,
    of: str,
    kind: NameKind = "common",
    sense: NameSense = "strict",
    also: tuple[str, ...] = (),
) -> NameRecord:
    return NameRecord(text, kind, PlantId(of.lower().replace(" ", "-")), "", "", sense, also)


def resolver(*names: NameRecord, taxa: tuple[str, ...]) -> Resolver:
    return Resolver([plant(taxon) for taxon in taxa], names)


def test_the_next_best_spelling_is_a_candidate_too_and_nothing_further_off() -> None:
    """Doubt widens: with one name a letter away, another at two letters stays possible."""
    taxa = ("Inventa palustrosa", "Inventa palustrossa", "Aliena palustris")
    lookup = Lookup(CatalogueIndex([plant(taxon) for taxon in taxa], []), ())
    found = lookup.near_words("Inventa palustroa", [])
    assert found is not None
    scores = {c.accepted_name: c.score for c in found.candidates.values()}
    assert set(scores) == {"Inventa palustrosa", "Inventa palustrossa"}
    assert scores["Inventa palustrosa"] > scores["Inventa palustrossa"]


def test_no_more_than_twelve_spellings_are_offered() -> None:
    taxa = tuple(f"Inventa aquatic{letter}" for letter in "abcdefghijklmnop")
    lookup = Lookup(CatalogueIndex([plant(taxon) for taxon in taxa], []), ())
    found = lookup.near_words("Inventa aquatiqq", [])
    assert found is None or len(found.candidates) <= MAX_SPELLING_CANDIDATES
    near = lookup.near_words("Inventa aquaticz", [])
    assert near is not None
    assert len(near.candidates) == MAX_SPELLING_CANDIDATES


def test_a_genus_used_as_a_plants_name_leaves_the_genus_open() -> None:
    names = [name("floatie", "Inventa natans", sense="genus")]
    resolution = resolver(*names, taxa=("Inventa natans", "Inventa fluitans")).resolve("floatie")
    assert resolution.genus_only
    assert not resolution.confirmed


def test_a_name_that_asks_is_not_a_genus_alone() -> None:
    names = [name("floatie", "Inventa natans", sense="open")]
    resolution = resolver(*names, taxa=("Inventa natans",)).resolve("floatie")
    assert not resolution.genus_only
    assert not resolution.confirmed


def test_a_name_of_several_taxa_says_that_it_is() -> None:
    names = [name("floatie", "Inventa natans"), name("floatie", "Aliena natans")]
    resolution = resolver(*names, taxa=("Inventa natans", "Aliena natans")).resolve("floatie")
    assert len(resolution.candidates) == 2
    assert "used for more than one taxon" in resolution.to_confirm


def test_a_name_that_may_mean_others_brings_them_in() -> None:
    names = [name("floatie", "Inventa natans", also=("Aliena", "Tertia mira"))]
    taxa = ("Inventa natans", "Aliena natans", "Aliena fluitans", "Tertia mira", "Quarta mira")
    resolution = resolver(*names, taxa=taxa).resolve("floatie")
    assert {candidate.accepted_name for candidate in resolution.candidates} == set(taxa[:4])
    assert "used for more than one taxon" in resolution.to_confirm


def test_a_real_name_one_letter_away_is_named_and_keeps_the_other_open() -> None:
    names = [name("swamp docks", "Inventa natans"), name("swamp ducks", "Aliena natans")]
    resolution = resolver(*names, taxa=("Inventa natans", "Aliena natans")).resolve("swamp dock")
    assert {candidate.accepted_name for candidate in resolution.candidates} == {
        "Inventa natans",
        "Aliena natans",
    }
    assert not resolution.confirmed
    assert "one letter away is swamp ducks" in resolution.to_confirm


def test_a_known_slip_is_wide_where_real_names_are_near() -> None:
    names = [
        name("swomp dock", "Inventa natans", "misspelling"),
        name("swamp dock", "Aliena natans"),
    ]
    resolution = resolver(*names, taxa=("Inventa natans", "Aliena natans")).resolve("swomp dock")
    assert resolution.match == "spelling"
    assert {candidate.accepted_name for candidate in resolution.candidates} == {
        "Inventa natans",
        "Aliena natans",
    }
    assert not resolution.confirmed


def test_the_best_candidate_comes_first_and_a_slip_is_worth_less_than_a_name() -> None:
    names = [
        name("floatie", "Inventa natans", "misspelling"),
        name("floatie", "Aliena natans", "trade"),
    ]
    resolution = resolver(*names, taxa=("Inventa natans", "Aliena natans")).resolve("floatie")
    assert [(c.accepted_name, c.score, c.rule) for c in resolution.candidates] == [
        ("Aliena natans", 1.0, "trade name"),
        ("Inventa natans", 0.95, "known misspelling"),
    ]
