"""Two name columns of one row, read together."""

import pytest

from service.names import Resolution, Resolver, together


def of_row(resolver: Resolver, botanical: str, common: str) -> Resolution:
    """Both names of a row; one alone where the other is blank."""
    first, *second = [resolver.resolve(name) for name in (botanical, common) if name.strip()]
    return together(first, *second) if second else first


@pytest.mark.parametrize(
    ("botanical", "common", "confirmed", "taxa"),
    [
        # agreeing
        ("Pontederia crassipes", "water hyacinth", True, {"Pontederia crassipes"}),
        ("Eichornia crasipes", "Water Hyacinth", True, {"Pontederia crassipes"}),
        ("Trapa natans", "water chestnut", True, {"Trapa natans"}),
        ("Spirodela polyrhiza", "giant duckweed 1 cup", True, {"Spirodela polyrhiza"}),
        # one blank, or without a meaning
        ("Pontederia crassipes", "", True, {"Pontederia crassipes"}),
        ("", "water hyacinth", True, {"Pontederia crassipes"}),
        ("  ", "lotus", False, {"Nelumbo lutea", "Nelumbo nucifera"}),
        ("Pontederia cordata", "Xyzzy Blue", True, {"Pontederia cordata"}),
        ("N/A", "water lettuce", True, {"Pistia stratiotes"}),
        # disagreeing
        (
            "Pistia stratiotes",
            "water hyacinth",
            False,
            {"Pistia stratiotes", "Pontederia crassipes"},
        ),
        ("Hygrophila auriculata", "water wisteria", False, {"Hygrophila", "Hygrophila difformis"}),
        # both doubtful
        ("Typha sp.", "lotus", False, {"Typha latifolia", "Nelumbo lutea"}),
    ],
)
def test_two_names_of_a_row(
    resolver: Resolver, botanical: str, common: str, confirmed: bool, taxa: set[str]
) -> None:
    resolution = of_row(resolver, botanical, common)
    assert resolution.confirmed is confirmed
    assert taxa <= {candidate.accepted_name for candidate in resolution.candidates}
    assert confirmed or resolution.to_confirm


def test_two_names_that_disagree_say_so(resolver: Resolver) -> None:
    resolution = of_row(resolver, "Pistia stratiotes", "water hyacinth")
    assert "which plant it is" in resolution.to_confirm


def test_a_common_name_never_makes_a_name_outside_the_catalogue_sure(resolver: Resolver) -> None:
    for botanical in ("Lavandula angustifolia", "Hygrophila auriculata"):
        resolution = of_row(resolver, botanical, "water wisteria")
        assert not resolution.confirmed
        assert resolution.outside is not None
        assert f"{botanical} is not in the catalogue" in resolution.to_confirm


def test_two_names_that_agree_on_one_taxon_leave_no_other(resolver: Resolver) -> None:
    resolution = of_row(resolver, "Eleocharis dulcis", "water chestnut")
    assert [candidate.accepted_name for candidate in resolution.candidates] == ["Eleocharis dulcis"]
