"""Labels as nurseries write them: what surrounds the name ends in named parts, nothing vanishes."""

import pytest

from service.names import PartKind, Relation, parse_label


@pytest.mark.parametrize(
    ("label", "kind", "text"),
    [
        ("Typha minima 4in", "size", "4in"),
        ('Typha minima 3.5" pot', "size", '3.5"'),
        ("Typha minima 1 gal.", "size", "1 gal."),
        ("Typha minima #5 can", "size", "#5"),
        ("Typha minima 2-1/2 inch", "size", "2-1/2 inch"),
        ("Typha minima ½ gal", "size", "½ gal"),
        ('Typha minima 4"x5"', "size", '4"x5"'),
        ('Typha minima 24-36"', "size", '24-36"'),
        ("Typha minima 10-15 cm", "size", "10-15 cm"),
        ("Typha minima P9", "size", "P9"),
        ("Typha minima 2L", "size", "2L"),
        ("Typha minima tray of 50", "count", "tray of 50"),
        ("Typha minima 6-pack", "count", "6-pack"),
        ("Typha minima x 25", "count", "x 25"),
        ("Typha minima 25x", "count", "25x"),
        ("Typha minima qty: 12", "count", "qty: 12"),
        ("Typha minima (12)", "count", "(12)"),
        ("Typha minima 25 ct", "count", "25 ct"),
        ("SKU: 48213-A Typha minima", "sku", "SKU: 48213-A"),
        ("Typha minima TYP-204", "sku", "TYP-204"),
        ("Typha minima #48213", "sku", "#48213"),
        ("Typha minima 0784123456", "sku", "0784123456"),
        ("Typha minima $4.99", "price", "$4.99"),
        ("Typha minima $4.99/ea", "price", "$4.99/ea"),
        ("Typha minima 12.50 USD", "price", "12.50 USD"),
        ("Typha minima variegated", "colour", "variegated"),
        ("Typha minima bare root", "sales", "bare root"),
        ("LIVE PLANT Typha minima", "sales", "LIVE PLANT"),
        ("Typha minima (dwarf cattail)", "common", "dwarf cattail"),
    ],
)
def test_what_stands_around_a_name_is_named(label: str, kind: PartKind, text: str) -> None:
    parsed = parse_label(label)
    assert parsed.names[0].canonical == "Typha minima"
    assert text in parsed.texts(kind)
    assert parsed.texts("rest") == () or "TYP" in label


@pytest.mark.parametrize(
    ("label", "common"),
    [
        ("Water Hyacinth (Eichhornia crassipes)", "Water Hyacinth"),
        ("Eichhornia crassipes (Water Hyacinth)", "Water Hyacinth"),
        ("Water Hyacinth - Eichhornia crassipes", "Water Hyacinth"),
        ("Eichhornia crassipes, Water Hyacinth", "Water Hyacinth"),
        ("Eichhornia crassipes / water hyacinth", "water hyacinth"),
        ("Eichhornia crassipes Water Hyacinth", "Water Hyacinth"),
    ],
)
def test_common_and_botanical_name_stand_in_either_order(label: str, common: str) -> None:
    parsed = parse_label(label)
    assert parsed.names[0].canonical == "Eichhornia crassipes"
    assert parsed.common == (common,)
    assert parsed.relation == "same"


def test_capitals_only_are_read() -> None:
    parsed = parse_label("PISTIA STRATIOTES 'JURASSIC' 4IN")
    assert (parsed.genus, parsed.species, parsed.cultivar) == ("Pistia", "stratiotes", "JURASSIC")
    assert parsed.texts("size") == ("4IN",)


def test_small_letters_only_are_read() -> None:
    parsed = parse_label("pistia stratiotes")
    assert parsed.names[0].canonical == "Pistia stratiotes"


@pytest.mark.parametrize(
    ("label", "mended"),
    [
        ("Typha Ã— glauca", "Typha × glauca"),
        ("Nymphaea â€˜Attractionâ€™", "Nymphaea ‘Attraction’"),
        ("Nymphaea &#39;Attraction&#39;", "Nymphaea 'Attraction'"),
        ("Nymphaea &quot;Attraction&quot;", 'Nymphaea "Attraction"'),
        ("Nymphaea 'GonnÃ¨re'", "Nymphaea 'Gonnère'"),
    ],
)
def test_broken_encoding_is_mended_and_said_to_be(label: str, mended: str) -> None:
    parsed = parse_label(label)
    assert parsed.text == mended
    assert parsed.repaired
    assert parsed.label == label
    assert parsed.names


def test_a_lost_letter_between_genus_and_epithet_is_taken_for_the_hybrid_sign() -> None:
    assert parse_label("Typha � glauca").names[0].notho == "species"


@pytest.mark.parametrize(
    ("label", "relation", "segments"),
    [
        ("Pistia stratiotes and Eichhornia crassipes", "several", 2),
        ("Pistia stratiotes & Eichhornia crassipes", "several", 2),
        ("Cyperus papyrus; Cyperus alternifolius; Typha minima", "several", 3),
        ("Pistia stratiotes / Eichhornia crassipes", "several", 2),
        ("Pistia stratiotes, Eichhornia crassipes", "several", 2),
        ("water lettuce and water hyacinth", "several", 2),
        ("Pistia stratiotes with water hyacinth", "several", 2),
        ("Eichhornia crassipes syn. Pontederia crassipes", "same", 0),
        ("Eichhornia crassipes (Pontederia crassipes)", "same", 0),
        ("Eichhornia crassipes = Pontederia crassipes", "same", 0),
        ("Eichhornia crassipes aka water hyacinth", "same", 0),
        ("Eichhornia crassipes", "one", 0),
    ],
)
def test_several_plants_on_a_line_are_told_from_several_names_of_one(
    label: str, relation: Relation, segments: int
) -> None:
    parsed = parse_label(label)
    assert parsed.relation == relation
    assert len(parsed.segments) == segments


def test_the_segments_are_labels_of_their_own() -> None:
    parsed = parse_label("Pistia stratiotes and Eichhornia crassipes 4in")
    assert [segment.strip() for segment in parsed.segments] == [
        "Pistia stratiotes",
        "Eichhornia crassipes 4in",
    ]


@pytest.mark.parametrize(
    "label",
    ["Water lettuce", "Yellow flag iris", "Giant Salvinia", "Joe Pye Weed", "Lizard's tail"],
)
def test_english_words_are_not_taken_for_latin(label: str) -> None:
    parsed = parse_label(label)
    assert parsed.names == ()
    assert parsed.common == (label,)


@pytest.mark.parametrize(
    "label", ["", " ", "4in", "???", "'", "×", "()", "\x00", "x", "cv.", "L.", "-", "12345"]
)
def test_labels_without_a_name_have_none(label: str) -> None:
    assert parse_label(label).names == ()


def test_a_very_long_label_is_read_to_its_limit_and_kept_whole() -> None:
    parsed = parse_label("Typha minima " + "z" * 5_000)
    assert parsed.genus == "Typha"
    assert sum(len(part.text) for part in parsed.parts if part.kind == "rest") >= 3_000


@pytest.mark.parametrize(
    "piece",
    [
        "'a' ",
        "sensu ,",
        "(",
        "((a)",
        "x ",
        "non ",
        "Aa a ",
        "A. ",
        "1-",
        "1/2 ",
        "Typha latifolia × ",
        "cv. A ",
        "Typha latifolia 'a' 'b' ",
    ],
)
def test_hostile_repetition_neither_fails_nor_hangs(piece: str) -> None:
    parsed = parse_label(piece * 3_000)
    kept = "".join(part.text for part in parsed.parts)
    assert sum(map(str.isalnum, kept)) == sum(map(str.isalnum, parsed.text))
