"""What holds for every label: parsing never fails, and no letter or digit vanishes."""

from hypothesis import example, given, settings
from hypothesis import strategies as st

from service.names import fold, normal_form, parse_label, vernacular_form

_PIECES = st.sampled_from(
    [
        "Typha", "typha", "TYPHA", "latifolia", "×", "x", "X", "+", "'", "‘", "’", '"', "“", "cv.", "subsp.", "ssp.", "var.", "f.",
        "sp.", "spp.", "cf.", "aff.", "sensu", "auct.", "non", "s.l.", "L.", "(L.)", "(", ")", "[", "]", "Mill.", "ex", "&", "and",
        "Group", "PURPLE", "RAIN", "™", "water", "lily", "4in", '4"', "1 gal", "#5", "$4.99", "x 25", "(3)", "SKU", "48213", ",", ";",
        "/", "-", "=", "?", "M.", "aquaticum", "nothosubsp.", "é", "æ", "Ã—", "�", "\x00", "\n", "½", "²", "漢", "́", "hybrids", "red",
    ]
)  # fmt: skip
_LABELS = st.one_of(
    st.text(max_size=60),
    st.lists(_PIECES, max_size=12).map(" ".join),
    st.lists(_PIECES, max_size=12).map("".join),
)


def _letters_and_digits(text: str) -> str:
    return "".join(letter for letter in text if letter.isalnum())


@given(_LABELS)
@settings(max_examples=400, deadline=None)
def test_parts_rejoin_to_the_letters_of_the_label(label: str) -> None:
    parsed = parse_label(label)
    assert parsed.label == label
    assert _letters_and_digits("".join(part.text for part in parsed.parts)) == _letters_and_digits(
        parsed.text
    )
    if label.isascii() and "&" not in label:
        assert parsed.text == label


@given(_LABELS)
@example("Iris ( L.) Mill.")
@settings(max_examples=200, deadline=None)
def test_parts_stand_where_they_say_in_order_and_apart(label: str) -> None:
    parsed = parse_label(label)
    reached = 0
    for part in parsed.parts:
        assert reached <= part.start < part.end
        assert parsed.text[part.start : part.end] == part.text
        reached = part.end


@given(_LABELS)
@settings(max_examples=200, deadline=None)
def test_segments_keep_every_letter_of_a_line_of_several(label: str) -> None:
    parsed = parse_label(label)
    kept = _letters_and_digits("".join(parsed.segments))
    connectors = _letters_and_digits("".join(parsed.texts("connector")))
    if parsed.several:
        assert len(kept) >= len(_letters_and_digits(parsed.text)) - len(connectors)
    else:
        assert kept == ""


@given(_LABELS)
@settings(max_examples=200, deadline=None)
def test_normal_forms_are_idempotent_and_never_fail(label: str) -> None:
    assert fold(fold(label)) == fold(label)
    assert vernacular_form(label) == vernacular_form(label)
    assert isinstance(normal_form(label), str)
