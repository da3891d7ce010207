"""Labels against the reference catalogue: what they mean, and when that is confirmed."""

import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from service.names import NameRecord, Resolution, Resolver
from service.values.kept import Kept
from service.values.plants import Plant
from service.values.vocabulary import Match, PlantId
from tests.service.names.accuracy import ReferenceNames


def taxa(resolution: Resolution) -> list[str]:
    return [candidate.accepted_name for candidate in resolution.candidates]


@pytest.mark.parametrize(
    ("label", "match", "accepted"),
    [
        ("Pontederia crassipes", "accepted", "Pontederia crassipes"),
        ("Eichhornia crassipes", "synonym", "Pontederia crassipes"),
        ("PONTEDERIA CRASSIPES", "accepted", "Pontederia crassipes"),
        ("pontederia crassipes (Mart.) Solms 4in pot", "accepted", "Pontederia crassipes"),
        ("Pontederia Crassipes", "accepted", "Pontederia crassipes"),
        ("water hyacinth", "common", "Pontederia crassipes"),
        ("Water-Hyacinths", "common", "Pontederia crassipes"),
        ("hyacinth, water", "common", "Pontederia crassipes"),
        (
            "LIVE PLANT - WATER LETTUCE (PISTIA STRATIOTES) - 6 PACK",
            "accepted",
            "Pistia stratiotes",
        ),
        ("Water Lettuce $4.99/ea live pond plant", "common", "Pistia stratiotes"),
        ("pond lettuce", "trade", "Pistia stratiotes"),
        ("Nymphaea 'Attraction'", "cultivar", "Nymphaea hardy hybrids"),
        ("Waterlily 'Attraction' 1 gal", "cultivar", "Nymphaea hardy hybrids"),
        ("Typha x glauca", "accepted", "Typha × glauca"),
        ("Typha Ã— glauca", "accepted", "Typha × glauca"),
        ("Typha Xglauca", "accepted", "Typha × glauca"),
        ("Reynoutria x bohemica", "accepted", "Reynoutria × bohemica"),
        (
            "Phragmites australis ssp. americanus",
            "accepted",
            "Phragmites australis subsp. americanus",
        ),
        ("Phragmites australis americanus", "accepted", "Phragmites australis subsp. americanus"),
        (
            "Ludwigia grandiflora ssp. hexapetala",
            "accepted",
            "Ludwigia grandiflora subsp. hexapetala",
        ),
        ("Iris Louisiana hybrids", "accepted", "Iris Louisiana hybrids"),
        ("Eichhornia (Pontederia) crassipes", "synonym", "Pontederia crassipes"),
        ("Alisma plantago-aquatica", "accepted", "Alisma plantago-aquatica"),
    ],
)
def test_a_sure_name_is_confirmed(
    resolver: Resolver, label: str, match: Match, accepted: str
) -> None:
    resolution = resolver.resolve(label)
    if accepted == "Ludwigia grandiflora subsp. hexapetala":
        assert accepted in taxa(resolution) or "Ludwigia hexapetala" in taxa(resolution)
        return
    assert (resolution.match, resolution.confirmed, taxa(resolution)) == (match, True, [accepted])
    assert resolution.to_confirm == ""


@pytest.mark.parametrize(
    ("label", "accepted"),
    [
        ("Eichornia crasipes", "Pontederia crassipes"),
        ("Pistia stratoites", "Pistia stratiotes"),
        ("water hyacynth", "Pontederia crassipes"),
        ("Nymphoides peltatum", "Nymphoides peltata"),
        ("Myriophylum aquatica", "Myriophyllum aquaticum"),
        ("Typhalatifolia", "Typha latifolia"),
        ("Salvina molesta", "Salvinia molesta"),
        ("Eichhornia crassipies", "Pontederia crassipes"),
        ("Typha latifolia subps. x", "Typha latifolia"),
        ("Live Water Hyacynth floating plant", "Pontederia crassipes"),
    ],
)
def test_a_spelling_is_never_confirmed_by_itself(
    resolver: Resolver, label: str, accepted: str
) -> None:
    resolution = resolver.resolve(label)
    assert accepted in taxa(resolution)
    assert not resolution.confirmed
    assert resolution.to_confirm


def test_an_exact_common_name_confirms_a_misspelt_botanical_one(resolver: Resolver) -> None:
    resolution = resolver.resolve("Eichornea crasipes (water hyacinth)")
    assert (resolution.match, resolution.confirmed, taxa(resolution)) == (
        "common",
        True,
        ["Pontederia crassipes"],
    )


def test_names_that_contradict_each_other_keep_both_taxa(resolver: Resolver) -> None:
    resolution = resolver.resolve("Water hyacinth (Hydrilla verticillata)")
    assert set(taxa(resolution)) == {"Pontederia crassipes", "Hydrilla verticillata"}
    assert not resolution.confirmed


def test_a_botanical_name_settles_a_shared_common_name(resolver: Resolver) -> None:
    resolution = resolver.resolve("Water chestnut (Trapa natans)")
    assert (resolution.confirmed, taxa(resolution)) == (True, ["Trapa natans"])


@pytest.mark.parametrize(
    ("label", "accepted"),
    [
        ("Salvinia auriculata", {"Salvinia auriculata", "Salvinia minima", "Salvinia molesta"}),
        ("Pontederia dilatata", {"Pontederia cordata", "Pontederia hastata"}),
        ("water chestnut", {"Trapa natans", "Eleocharis dulcis"}),
        ("Acorus calamus", {"Acorus calamus", "Acorus americanus"}),
        ("lotus", {"Nelumbo lutea", "Nelumbo nucifera"}),
    ],
)
def test_a_name_of_several_taxa_gives_them_all(
    resolver: Resolver, label: str, accepted: set[str]
) -> None:
    resolution = resolver.resolve(label)
    assert accepted <= set(taxa(resolution))
    assert not resolution.confirmed


def test_a_note_that_names_a_genus_brings_its_taxa_in(resolver: Resolver) -> None:
    """``milfoil``: any Myriophyllum."""
    assert {"Myriophyllum aquaticum", "Myriophyllum heterophyllum", "Myriophyllum spicatum"} <= set(
        taxa(resolver.resolve("milfoil"))
    )


def test_real_names_one_letter_apart_come_back_as_several(resolver: Resolver) -> None:
    assert set(taxa(resolver.resolve("duck acorn"))) >= {"Nelumbo lutea", "Peltandra virginica"}
    assert not resolver.resolve("duck acorn").confirmed


@pytest.mark.parametrize(
    "label", ["Ludwigia", "Ludwigia sp.", "LUDWIGIA SPP", "Ludwigia species 1 gal", "Ludwigia L."]
)
def test_a_genus_alone_gives_the_genus_and_all_its_taxa(resolver: Resolver, label: str) -> None:
    resolution = resolver.resolve(label)
    assert (resolution.match, resolution.confirmed, resolution.genus_only) == ("genus", False, True)
    assert taxa(resolution)[0] == "Ludwigia"
    assert resolution.candidates[0].rank == "genus"
    assert {"Ludwigia hexapetala", "Ludwigia peploides", "Ludwigia repens"} <= set(taxa(resolution))


def test_an_older_genus_leads_to_the_taxa_that_were_in_it(resolver: Resolver) -> None:
    assert {"Pontederia crassipes", "Pontederia azurea"} <= set(
        taxa(resolver.resolve("Eichhornia sp."))
    )


def test_a_family_gives_its_taxa(resolver: Resolver) -> None:
    resolution = resolver.resolve("Nymphaeaceae")
    assert resolution.genus_only
    assert {"Nymphaeaceae", "Nymphaea", "Nuphar advena"} <= set(taxa(resolution))


def test_a_misspelt_genus_is_neither_confirmed_nor_one_plant(resolver: Resolver) -> None:
    resolution = resolver.resolve("Nymphea")
    assert (resolution.match, resolution.confirmed, resolution.genus_only) == (
        "spelling",
        False,
        True,
    )
    assert "Nymphaea odorata" in taxa(resolution)


def test_a_species_outside_the_catalogue_is_never_another_species(resolver: Resolver) -> None:
    resolution = resolver.resolve("Typha inventata")
    assert (resolution.match, resolution.confirmed, resolution.genus_only) == (
        "genus",
        False,
        False,
    )
    assert taxa(resolution) == ["Typha"]
    assert resolution.outside is not None
    assert (resolution.outside.name, resolution.outside.known) == ("Typha inventata", None)
    assert "Typha inventata is not in the catalogue" in resolution.to_confirm
    assert "genus only" not in resolution.to_confirm


def test_a_wetland_plant_outside_the_catalogue_is_known_for_one(resolver: Resolver) -> None:
    """Bidens connata: an obligate or facultative wetland plant (US EPA
    aquametNWCA, surveys of 2011 and 2016)."""
    resolution = resolver.resolve("Bidens connata 2in plug")
    assert taxa(resolution) == ["Bidens"]
    assert resolution.outside is not None
    assert resolution.outside.known is not None
    assert resolution.outside.known.wetland_indicator
    assert "known wetland plant" in resolution.to_confirm


def test_a_plant_of_an_unknown_genus_is_named_and_left_open(resolver: Resolver) -> None:
    resolution = resolver.resolve("Lavandula angustifolia 'Hidcote'")
    assert (resolution.match, resolution.confirmed, taxa(resolution)) == ("none", False, [])
    assert resolution.outside is not None
    assert not resolution.outside.genus_held
    assert "not in the catalogue" in resolution.to_confirm


@pytest.mark.parametrize(
    "label",
    ["Water clover (Marsilea nashii)", "Marsilea nashii (water clover)"],
)
def test_a_common_name_beside_a_name_outside_opens_it_and_confirms_nothing(
    resolver: Resolver, label: str
) -> None:
    resolution = resolver.resolve(label)
    assert not resolution.confirmed
    assert resolution.outside is not None
    assert "Marsilea" in taxa(resolution)


@pytest.mark.parametrize("label", ["Iris net pot", "algaecide - hydrilla & chara"])
def test_goods_are_no_plants_and_the_answer_says_so(resolver: Resolver, label: str) -> None:
    resolution = resolver.resolve(label)
    assert (resolution.match, resolution.candidates, resolution.confirmed) == ("none", (), False)
    assert resolution.goods
    assert "goods" in resolution.to_confirm


@pytest.mark.parametrize(
    "label",
    [
        "killer algae",
        "fish grass",
        "Java fern net pot",
        "Cryptocoryne wendtii net pot",
        "Iris planted basket",
        "paper reed",
        "Anubias barteri on driftwood",
        "Hardy lily bare root soil mix",
    ],
)
def test_words_of_goods_beside_a_plant_leave_it_a_plant(resolver: Resolver, label: str) -> None:
    assert resolver.resolve(label).candidates


def test_an_unknown_variety_is_its_species_but_not_confirmed(resolver: Resolver) -> None:
    resolution = resolver.resolve("Pontederia cordata var. inventata")
    assert taxa(resolution) == ["Pontederia cordata"]
    assert not resolution.confirmed


def test_an_unknown_cultivar_inherits_the_species(resolver: Resolver) -> None:
    resolution = resolver.resolve("Typha minima 'Nobody's Own'")
    assert (resolution.match, resolution.confirmed, taxa(resolution)) == (
        "cultivar",
        True,
        ["Typha minima"],
    )
    assert (resolution.cultivar, resolution.cultivar_known) == ("Nobody's Own", False)


def test_a_known_cultivar_is_said_to_be_known(resolver: Resolver) -> None:
    resolution = resolver.resolve("Juncus effusus 'Spiralis' corkscrew rush")
    assert (resolution.cultivar, resolution.cultivar_known, resolution.confirmed) == (
        "Spiralis",
        True,
        True,
    )


@pytest.mark.parametrize(
    "label", ["Juncus effusus spiralis", "Houttuynia cordata Chameleon", "Acorus gramineus ogon"]
)
def test_a_known_cultivar_is_read_without_quotes(resolver: Resolver, label: str) -> None:
    resolution = resolver.resolve(label)
    assert (resolution.match, resolution.cultivar_known, resolution.confirmed) == (
        "cultivar",
        True,
        True,
    )


def test_a_cultivar_that_the_catalogue_has_under_another_taxon_keeps_both(
    resolver: Resolver,
) -> None:
    resolution = resolver.resolve("Carex stricta 'Bowles' Golden'")
    assert set(taxa(resolution)) == {"Carex stricta", "Carex elata"}
    assert not resolution.confirmed


def test_an_unknown_cultivar_under_a_genus_leaves_the_genus_open(resolver: Resolver) -> None:
    resolution = resolver.resolve("Nymphaea 'Nobody's Own'")
    assert (resolution.match, resolution.genus_only, resolution.cultivar_known) == (
        "genus",
        True,
        False,
    )


def test_a_misspelt_cultivar_under_a_genus_is_a_spelling(resolver: Resolver) -> None:
    resolution = resolver.resolve("Nymphaea 'Atraction'")
    assert (resolution.match, resolution.confirmed, taxa(resolution)) == (
        "spelling",
        False,
        ["Nymphaea hardy hybrids"],
    )


def test_a_formula_that_stands_on_a_list_is_that_hybrid(resolver: Resolver) -> None:
    for label in (
        "Myriophyllum heterophyllum × Myriophyllum laxum",
        "M. laxum x Myriophyllum heterophyllum",
    ):
        resolution = resolver.resolve(label)
        assert taxa(resolution) == ["Myriophyllum heterophyllum × Myriophyllum laxum"]
        assert resolution.confirmed
        assert resolution.hybrid is not None
        assert resolution.hybrid.form == "formula"


def test_a_formula_of_known_parents_is_their_named_hybrid(resolver: Resolver) -> None:
    """ICN Art. H.4.1."""
    resolution = resolver.resolve("Reynoutria japonica × R. sachalinensis")
    assert taxa(resolution) == ["Reynoutria × bohemica"]


def test_another_formula_gives_the_parents_unconfirmed(resolver: Resolver) -> None:
    resolution = resolver.resolve("Pontederia cordata × Pontederia crassipes")
    assert set(taxa(resolution)) == {"Pontederia cordata", "Pontederia crassipes"}
    assert not resolution.confirmed
    assert resolution.hybrid is not None
    assert [parent.name for parent in resolution.hybrid.parents] == [
        "Pontederia cordata",
        "Pontederia crassipes",
    ]


def test_a_named_hybrid_carries_its_parents(resolver: Resolver) -> None:
    hybrid = resolver.resolve("Typha x glauca").hybrid
    assert hybrid is not None
    assert {parent.name for parent in hybrid.parents} == {"Typha angustifolia", "Typha latifolia"}


def test_several_plants_on_a_line_give_all_and_are_not_confirmed(resolver: Resolver) -> None:
    resolution = resolver.resolve("water lettuce and Eichhornia crassipes")
    assert resolution.parsed.several
    assert set(taxa(resolution)) == {"Pistia stratiotes", "Pontederia crassipes"}
    assert not resolution.confirmed


@pytest.mark.parametrize(
    "label", ["hyacinth & lettuce combo", "Hyacinth/Lettuce Combo 50", "hyacinth, lettuce duo"]
)
def test_a_combination_is_two_plants(resolver: Resolver, label: str) -> None:
    resolution = resolver.resolve(label)
    assert resolution.parsed.several
    assert set(taxa(resolution)) == {"Pontederia crassipes", "Pistia stratiotes"}
    assert not resolution.confirmed


@pytest.mark.parametrize(
    "label",
    [
        "Typha cf. latifolia",
        "Typha aff. latifolia",
        "Typha latifolia ?",
        "Trapa natans auct. non L.",
        "Typha latifolia s.l.",
        "Gunnera manicata hort.",
    ],
)
def test_marks_of_doubt_keep_a_name_from_being_confirmed(resolver: Resolver, label: str) -> None:
    resolution = resolver.resolve(label)
    assert resolution.candidates
    assert not resolution.confirmed


def test_the_strict_sense_casts_no_doubt(resolver: Resolver) -> None:
    assert resolver.resolve("Typha latifolia s.str.").confirmed
    assert resolver.resolve("Typha latifolia sensu stricto").confirmed


@pytest.mark.parametrize(
    "label",
    [
        "Phragmites australis qsubsp. americanus",
        "Zizania aquatica sar. palustris",
        "Phragmites Australis Subps. Americanuss",
        "PHRAGMITES AUSTRALIS XYZ",
        "Typhavlatifolia × Typha angustifolia",
    ],
)
def test_words_that_are_not_read_keep_a_name_from_being_confirmed(
    resolver: Resolver, label: str
) -> None:
    assert not resolver.resolve(label).confirmed


def test_an_abbreviated_genus_is_read_from_the_rest_of_the_list(resolver: Resolver) -> None:
    _, second = resolver.resolve_all(["Myriophyllum spicatum", "M. aquaticum 4in"])
    assert (second.match, second.confirmed, taxa(second)) == (
        "accepted",
        True,
        ["Myriophyllum aquaticum"],
    )


def test_an_abbreviated_genus_alone_is_not_confirmed(resolver: Resolver) -> None:
    resolution = resolver.resolve("E. crassipes")
    assert taxa(resolution) == ["Pontederia crassipes"]
    assert not resolution.confirmed


def test_a_stated_abbreviation_is_taken(resolver: Resolver) -> None:
    resolution = resolver.resolve("E. crassipes", abbreviations={"E.": "Eichhornia"})
    assert (resolution.match, resolution.confirmed) == ("synonym", True)


def test_an_abbreviation_that_fits_two_genera_of_the_list_gives_both(resolver: Resolver) -> None:
    """Nymphaea odorata and Spiranthes odorata differ; two genera in N- with one epithet do not."""
    plants = [
        Plant(PlantId("nymphaea-alba"), "Nymphaea alba", "species", "Nymphaea"),
        Plant(PlantId("nuphar-alba"), "Nuphar alba", "species", "Nuphar"),
    ]
    _, _, third = Resolver(plants, []).resolve_all(["Nymphaea alba", "Nuphar alba", "N. alba"])
    assert set(taxa(third)) == {"Nymphaea alba", "Nuphar alba"}
    assert not third.confirmed


def test_a_list_gives_one_resolution_a_label_in_order(resolver: Resolver) -> None:
    labels = ["Typha minima", "no such thing", "Typha minima", ""]
    assert [resolution.label for resolution in resolver.resolve_all(labels)] == labels


@pytest.mark.parametrize(
    "label", ["", "no such thing at all", '4" pot', "assorted bog plants", "12345"]
)
def test_a_label_that_names_nothing_resolves_to_nothing(resolver: Resolver, label: str) -> None:
    resolution = resolver.resolve(label)
    assert (resolution.match, resolution.confirmed, resolution.candidates) == ("none", False, ())
    assert resolution.to_confirm


def test_every_candidate_says_through_which_name_and_by_which_rule(resolver: Resolver) -> None:
    for label in (
        "Eichhornia crassipes",
        "water celery",
        "Eichornia crasipes",
        "Ludwigia sp.",
        "Nymphaea 'Attraction'",
        "lotus",
    ):
        for candidate in resolver.resolve(label).candidates:
            assert candidate.through
            assert candidate.rule
            assert 0.0 < candidate.score <= 1.0
            assert candidate.genus or candidate.rank == "family"


def test_the_steps_tell_what_was_tried(resolver: Resolver) -> None:
    steps = resolver.resolve("Eichornia crasipes").steps
    assert [step.found for step in steps if "catalogue" in step.rule] == [0] * sum(
        "catalogue" in s.rule for s in steps
    )
    assert any(step.rule.startswith("spelling") and step.found == 1 for step in steps)


def test_plants_that_stand_only_on_lists_resolve_by_their_names(
    catalogue: tuple[list[Plant], list[NameRecord]], resolver: Resolver
) -> None:
    listed = [
        plant
        for plant in catalogue[0]
        if not plant.catalogued and plant.rank not in ("genus", "family")
    ]
    assert listed
    for plant in listed:
        assert plant.plant_id in {
            candidate.plant_id for candidate in resolver.resolve(plant.accepted_name).candidates
        }


def test_answers_do_not_depend_on_the_order_of_the_catalogue(
    catalogue: tuple[list[Plant], list[NameRecord]], resolver: Resolver
) -> None:
    backwards = Resolver(reversed(catalogue[0]), list(reversed(catalogue[1])))
    for label in (
        "Salvinia auriculata",
        "water celery",
        "Eichornia crasipes",
        "Ludwigia sp.",
        "milfoil",
        "duck acorn",
        "taro",
    ):
        assert backwards.resolve(label).candidates == resolver.resolve(label).candidates


@pytest.mark.parametrize(
    "label",
    [
        "Grape hyacinth",
        "Hyacinth bean 4in",
        "Romaine lettuce",
        "Miner's lettuce",
        "Feather reed grass 'Karl Foerster' 1 gal",
        "Salvia 'Black and Blue'",
        "Evening primrose",
        "Garden cress",
        "Daylily 'Stella'",
    ],
)
def test_a_garden_plant_is_not_answered_as_the_water_plant_of_a_like_name(
    resolver: Resolver, label: str
) -> None:
    found = resolver.resolve(label)
    assert (found.match, found.candidates) == ("none", ())
    assert "garden plant" in found.to_confirm


@pytest.mark.parametrize(
    ("label", "accepted"),
    [
        ("Petunia & water lettuce", "Pistia stratiotes"),
        ("Water hyacinth, daylily", "Pontederia crassipes"),
        ("Floating evening primrose", "Ludwigia peploides"),
        ("Water hyacinth - head lettuce size", "Pontederia crassipes"),
        ("Mexican petunia", "Ruellia simplex"),
    ],
)
def test_a_water_plant_beside_the_name_of_a_garden_plant_is_answered(
    resolver: Resolver, label: str, accepted: str
) -> None:
    assert accepted in taxa(resolver.resolve(label))


def test_no_stored_name_is_read_as_that_of_a_garden_plant(
    catalogue: ReferenceNames, resolver: Resolver
) -> None:
    assert all(
        resolver.resolve(record.name).candidates
        for record in catalogue[1]
        if {"hyacinth", "lettuce", "primrose", "lily", "petunia"} & set(record.name.split())
    )


def test_a_single_letter_beside_a_species_is_a_code_and_two_may_be_an_epithet(
    resolver: Resolver,
) -> None:
    assert resolver.resolve("nymphaea odorata b").confirmed
    assert not resolver.resolve("typha latifolia ab").confirmed


def test_a_genus_cut_in_two_words_is_found_and_one_cut_in_three_is_not_guessed(
    resolver: Resolver,
) -> None:
    in_two, in_three = resolver.resolve("Aldr ovand"), resolver.resolve("Ald rov and")
    assert (in_two.match, in_two.confirmed, in_two.genus_only) == ("spelling", False, True)
    assert {candidate.genus for candidate in in_two.candidates} == {"Aldrovanda"}
    assert in_three.match == "none"


def test_threads_share_the_cache_however_often_its_oldest_label_goes(
    resolver: Resolver, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(resolver, "_cache", Kept(2))
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    try:
        with ThreadPoolExecutor(4) as pool:
            labels = [f"size {number}" for number in range(2_000)]
            answers = list(pool.map(resolver.resolve, labels))
    finally:
        sys.setswitchinterval(before)
    assert [answer.label for answer in answers] == labels
