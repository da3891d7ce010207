"""Names as the botanical codes give them.

Articles of the International Code of Nomenclature for algae, fungi, and plants (ICN) are those of
the Shenzhen edition of 2018; the examples of Arts 24, 49, H.2, H.3 and Rec. 50D were read there.
Articles of the International Code of Nomenclature for Cultivated Plants (ICNCP, 9th edition, 2016)
are from memory.
"""

import pytest

from service.names import ParsedLabel, parse_label


def only(label: str) -> ParsedLabel:
    parsed = parse_label(label)
    assert len(parsed.names) == 1, parsed
    return parsed


@pytest.mark.parametrize(
    ("label", "canonical", "authorship"),
    [
        # ICN Art. 46.1: author citations.
        ("Rosa gallica L.", "Rosa gallica", "L."),
        ("Rosa gallica var. eriostyla R. Keller", "Rosa gallica var. eriostyla", "R. Keller"),
        ("Rosa gallica L. var. gallica", "Rosa gallica var. gallica", "L."),
        # ICN Art. 49.1 Ex. 1, 4, 5: authors of the basionym in brackets.
        ("Medicago orbicularis (L.) Bartal.", "Medicago orbicularis", "(L.) Bartal."),
        ("Medicago polymorpha var. orbicularis L.", "Medicago polymorpha var. orbicularis", "L."),
        ("Helianthemum aegyptiacum (L.) Mill.", "Helianthemum aegyptiacum", "(L.) Mill."),
        ("Corydalis solida (L.) Clairv.", "Corydalis solida", "(L.) Clairv."),
        # ICN Art. 24.1 Ex. 1 and Art. 24.2 Ex. 2: rank terms.
        (
            "Saxifraga aizoon subf. surculosa Engl. & Irmsch.",
            "Saxifraga aizoon subf. surculosa",
            "Engl. & Irmsch.",
        ),
        (
            "Solanum melongena var. insanum (L.) Prain",
            "Solanum melongena var. insanum",
            "(L.) Prain",
        ),
        # ICN Art. 26: autonyms repeat the epithet.
        ("Galium verum L. subsp. verum", "Galium verum subsp. verum", "L."),
        # ICN Art. 46.5: "ex".
        ("Gossypium tomentosum Nutt. ex Seem.", "Gossypium tomentosum", "Nutt. ex Seem."),
        # A catalogue name with several authors at each rank.
        (
            "Phragmites australis (Cav.) Trin. ex Steud. subsp. americanus Saltonst., P.M.Peterson & Soreng",
            "Phragmites australis subsp. americanus",
            "(Cav.) Trin. ex Steud. Saltonst. , P. M. Peterson & Soreng",
        ),
    ],
)
def test_epithets_ranks_and_authors_are_told_apart(
    label: str, canonical: str, authorship: str
) -> None:
    parsed = only(label)
    assert parsed.names[0].canonical == canonical
    assert parsed.authorship == authorship
    assert parsed.texts("rest") == ()


def test_a_full_classification_keeps_every_rank() -> None:
    """ICN Art. 24.1 Ex. 1."""
    parsed = only(
        "Saxifraga aizoon var. aizoon subvar. brevifolia f. multicaulis subf. surculosa Engl. & Irmsch."
    )
    assert parsed.names[0].infraspecific == (
        ("var.", "aizoon"), ("subvar.", "brevifolia"), ("f.", "multicaulis"), ("subf.", "surculosa"),
    )  # fmt: skip


def test_filius_is_an_author_and_forma_a_rank() -> None:
    """ICN Art. 46 against Art. 4: ``f.`` after an author, before an epithet."""
    assert only("Carex lurida Hook. f.").authorship == "Hook. f."
    assert only("Carex lurida f. flexuosa").names[0].infraspecific == (("f.", "flexuosa"),)


@pytest.mark.parametrize("sign", ["×", "× ", "x ", "X "])
def test_the_hybrid_sign_is_read_in_all_its_spellings(sign: str) -> None:
    """ICN Art. H.3.1 Ex. 1 (Salix ×capreola), Rec. H.3A."""
    parsed = only(f"Salix {sign}capreola Andersson")
    assert (parsed.genus, parsed.species, parsed.names[0].notho) == ("Salix", "capreola", "species")


@pytest.mark.parametrize(
    "label",
    ["×Agropogon littoralis (Sm.) C.E.Hubb.", "x Agropogon littoralis", "× Agropogon littoralis"],
)
def test_a_sign_before_the_genus_makes_a_nothogenus(label: str) -> None:
    """ICN Art. H.3.1 Ex. 1."""
    parsed = only(label)
    assert (parsed.genus, parsed.species, parsed.names[0].notho) == (
        "Agropogon",
        "littoralis",
        "genus",
    )


def test_notho_before_a_rank_term_is_read() -> None:
    """ICN Art. H.3.1 Ex. 1."""
    parsed = only("Polypodium vulgare nothosubsp. mantoniae (Rothm.) Schidlay")
    assert parsed.names[0].infraspecific == (("subsp.", "mantoniae"),)
    assert parsed.names[0].notho == "infraspecific"


@pytest.mark.parametrize(
    ("label", "parents"),
    [
        # ICN Art. H.2.1 Ex. 1.
        (
            "Agrostis stolonifera L. × Polypogon monspeliensis (L.) Desf.",
            ["Agrostis stolonifera", "Polypogon monspeliensis"],
        ),
        ("Salix aurita L. × S. caprea L.", ["Salix aurita", "Salix caprea"]),
        (
            "Mentha aquatica L. × M. arvensis L. × M. spicata L.",
            ["Mentha aquatica", "Mentha arvensis", "Mentha spicata"],
        ),
        (
            "Polypodium vulgare subsp. prionodes (Asch.) Rothm. × P. vulgare L. subsp. vulgare",
            ["Polypodium vulgare subsp. prionodes", "Polypodium vulgare subsp. vulgare"],
        ),
        # Art. H.2.1 Ex. 2 rules out the bare epithet; labels have it all the same.
        ("Kunzea linearis × robusta", ["Kunzea linearis", "Kunzea robusta"]),
    ],
)
def test_a_hybrid_formula_gives_its_parents(label: str, parents: list[str]) -> None:
    parsed = parse_label(label)
    assert parsed.relation == "formula"
    assert [name.canonical for name in parsed.names] == parents


@pytest.mark.parametrize(
    "label",
    [
        "Fragaria 'Cambridge Favourite'",
        "Fragaria ‘Cambridge Favourite’",
        'Fragaria "Cambridge Favourite"',
        "Fragaria “Cambridge Favourite”",
        "Fragaria `Cambridge Favourite´",
        "Fragaria cv. Cambridge Favourite",
        "Fragaria ''Cambridge Favourite''",
    ],
)
def test_a_cultivar_epithet_is_read_in_whatever_quotes(label: str) -> None:
    """ICNCP: single quotation marks are right, double ones and ``cv.`` are met on labels."""
    parsed = only(label)
    assert (parsed.genus, parsed.cultivar) == ("Fragaria", "Cambridge Favourite")


@pytest.mark.parametrize(
    ("label", "epithet"),
    [
        ("Nymphaea 'Perry's Baby Red'", "Perry's Baby Red"),
        ("Carex elata 'Bowles' Golden'", "Bowles' Golden"),
        ("Juncus patens 'Carman's Gray' 1 gal", "Carman's Gray"),
        ("Nymphaea'Sunny Pink'", "Sunny Pink"),
    ],
)
def test_an_apostrophe_does_not_end_an_epithet(label: str, epithet: str) -> None:
    assert only(label).cultivar == epithet


@pytest.mark.parametrize(
    "label",
    [
        "Rhododendron boothii Mishmiense Group",
        "Rhododendron boothii (Mishmiense Group)",
        "Rhododendron boothii Mishmiense Gp",
    ],
)
def test_a_group_is_read(label: str) -> None:
    """ICNCP: the word Group, in brackets where it stands inside a name."""
    parsed = only(label)
    assert parsed.group is not None
    assert parsed.group.startswith("Mishmiense")
    assert parsed.names[0].canonical == "Rhododendron boothii"


@pytest.mark.parametrize(
    "label",
    [
        "Iris ensata PURPLE PARASOL",
        "Iris ensata Purple Parasol™",
        "Iris ensata 'Koji' PURPLE PARASOL",
    ],
)
def test_a_trade_designation_is_no_cultivar_epithet(label: str) -> None:
    """ICNCP: trade designations stand in capitals or another type, never in quotes."""
    parsed = only(label)
    assert (parsed.trade_designation or "").upper() == "PURPLE PARASOL"
    assert parsed.cultivar in (None, "Koji")


def test_graft_chimaeras_by_sign_and_by_formula() -> None:
    """ICNCP: the addition sign."""
    named = only("+Laburnocytisus 'Adamii'")
    assert named.texts("graft-sign") == ("+",)
    assert (named.genus, named.cultivar) == ("Laburnocytisus", "Adamii")
    formula = parse_label("Crataegus monogyna + Mespilus germanica")
    assert formula.relation == "graft"
    assert [name.canonical for name in formula.names] == [
        "Crataegus monogyna",
        "Mespilus germanica",
    ]


@pytest.mark.parametrize(
    ("label", "qualifier"),
    [
        ("Ficus exasperata auct. non Vahl", "auct. non Vahl"),  # ICN Rec. 50D.1 Ex. 1
        ("Lindera Thunb., non Adans.", "non Adans."),  # ICN Rec. 50C.1 Ex. 2
        ("Phyllanthus niruri s. l.", "s. l."),  # ICN Rec. 47A
        ("Phyllanthus niruri s.str.", "s.str."),
        ("Phyllanthus niruri sensu lato", "sensu lato"),
        ("Typha cf. latifolia", "cf."),
        ("Typha aff. latifolia", "aff."),
    ],
)
def test_marks_of_sense_and_doubt_are_kept(label: str, qualifier: str) -> None:
    assert only(label).names[0].qualifier == qualifier


@pytest.mark.parametrize(
    "label", ["Ludwigia sp.", "Ludwigia spp.", "Ludwigia species", "Ludwigia ssp."]
)
def test_open_nomenclature_leaves_the_species_empty(label: str) -> None:
    parsed = only(label)
    assert parsed.names[0].open_nomenclature
    assert parsed.species == ""


def test_hyphens_stay_in_epithets() -> None:
    """ICN Art. 23.1, 60.11."""
    assert only("Alisma plantago-aquatica L.").species == "plantago-aquatica"
    assert only("Hydrocharis morsus-ranae").species == "morsus-ranae"


def test_an_abbreviated_genus_is_marked() -> None:
    parsed = only("M. aquaticum (Vell.) Verdc.")
    assert (parsed.genus, parsed.names[0].abbreviated, parsed.species) == ("M", True, "aquaticum")
