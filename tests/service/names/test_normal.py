"""One form for each scientific name and for each vernacular name."""

import pytest

from service.names import normal_form, vernacular_form


@pytest.mark.parametrize(
    "spellings",
    [
        (
            "Typha × glauca",
            "Typha x glauca",
            "Typha ×glauca",
            "TYPHA × GLAUCA",
            "typha x glauca",
            "Typha glauca",
            "Typha X glauca",
        ),
        (
            "Phragmites australis subsp. americanus",
            "Phragmites australis ssp. americanus",
            "Phragmites australis subspecies Americanus",
        ),
        (
            "Ludwigia grandiflora subsp. hexapetala",
            "Ludwigia grandiflora ssp hexapetala (Hook. & Arn.) G.L.Nesom & Kartesz",
        ),
        (
            "Nymphaea odorata",
            "Nymphæa odorata",
            "Nymphaea odorata Aiton",
            "  Nymphaea   odorata ",
            "NYMPHAEA ODORATA",
        ),
        (
            "Myriophyllum heterophyllum × Myriophyllum laxum",
            "Myriophyllum laxum x M. heterophyllum",
            "M. laxum × Myriophyllum heterophyllum",
        ),
        ("Myriophyllum spicatum × Myriophyllum sibiricum", "Myriophyllum sibiricum x spicatum"),
        (
            "Nymphaea 'Attraction'",
            "Nymphaea ‘ATTRACTION’",
            'NYMPHAEA "Attraction"',
            "Nymphaea cv. 'Attraction'",
        ),
        ("Typha", "Typha L.", "TYPHA"),
        ("Polypodium vulgare nothosubsp. mantoniae", "Polypodium vulgare subsp. mantoniae"),
        ("Agropogon littoralis", "×Agropogon littoralis", "x Agropogon littoralis (Sm.) C.E.Hubb."),
        ("Rosa gallica var. gallica", "Rosa gallica L. var. gallica"),
        ("Carex lurida", "Carex lurida Hook. f.", "Carex lurida Hook. f. ex Boott"),
    ],
)
def test_spellings_of_one_name_share_a_form(spellings: tuple[str, ...]) -> None:
    """ICN Arts 60.7 (signs, ligatures), H.3.3 (hybrid sign disregarded), H.2 (formulas)."""
    assert len({normal_form(spelling) for spelling in spellings}) == 1, [
        normal_form(s) for s in spellings
    ]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Carex lurida", "Carex lupulina"),
        ("Phragmites australis", "Phragmites australis subsp. americanus"),
        ("Nymphaea 'Attraction'", "Nymphaea"),
        ("Typha angustifolia × Typha latifolia", "Typha latifolia"),
        ("Iris Louisiana hybrids", "Iris"),
        ("Nymphaea hardy hybrids", "Nymphaea tropical day-blooming hybrids"),
        ("Carex lurida f. flexuosa", "Carex lurida"),
    ],
)
def test_different_names_have_different_forms(one: str, other: str) -> None:
    assert normal_form(one) != normal_form(other)


def test_a_form_is_its_own_form() -> None:
    for name in (
        "Typha × glauca",
        "Rosa gallica L. var. gallica",
        "Nymphaea 'Attraction'",
        "Iris Louisiana hybrids",
    ):
        assert normal_form(normal_form(name)) == normal_form(name)


@pytest.mark.parametrize(
    "spellings",
    [
        ("water hyacinth", "Water-Hyacinths", "waterhyacinth", "WATER HYACINTH"),
        ("lizard's tail", "lizards tail", "Lizard’s Tails", "lizard tail"),
        ("water lily", "waterlilies", "water-lily"),
        ("rush", "rushes"),
        ("yellow flag iris", "yellow flag irises"),
        ("forget-me-not", "forget me nots"),
        ("narrow-leaved cattail", "narrow leaf cattails"),
        ("ladies' tresses", "ladys tress"),
    ],
)
def test_vernacular_spellings_share_a_form(spellings: tuple[str, ...]) -> None:
    assert len({vernacular_form(spelling) for spelling in spellings}) == 1, [
        vernacular_form(s) for s in spellings
    ]


@pytest.mark.parametrize(
    "name", ["lotus", "iris", "papyrus", "grass", "moss", "cress", "Azolla", "calamus"]
)
def test_singular_endings_in_s_stay(name: str) -> None:
    assert vernacular_form(name) == name.lower()
