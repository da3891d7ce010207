"""A label that another in a further size tells means what it means when it is worked out alone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.names import Resolver

PACKAGES = ("4in", "1 gal.", "#1", "(3)", "x 12", "6ct", "$4.99", "SKU 12345", '3-1/2" $5', "1  qt")
NAMES = (
    "Typha latifolia",
    "TYPHA ANGUSTIFOLIA L.",
    "Water hyacinth",
    "Hardy water  lettuce",
    "Nymphaea odorata 'Alba'",
    "frog's-bit",
    "Iris sp.",
    "Acorus var. ",
    "Nymphea odorato",
    "Typha x glauca",
    "Iris and Typha latifolia",
    "grape hyacinth",
    "plastic pot",
    "Foobaria limosa",
    "Hyacinth, water",
    "Ñandú & iris",
    "4in Iris virginica",
)


@pytest.mark.parametrize("name", NAMES)
@given(sizes=st.lists(st.sampled_from(PACKAGES), min_size=2, max_size=4))
def test_a_label_in_another_size_means_what_it_means_alone(
    resolver: Resolver, name: str, sizes: list[str]
) -> None:
    for size in sizes:
        label = f"{name} {size}"
        assert resolver.resolve(label) == resolver._resolve(label, [])


def test_the_second_size_of_a_plant_is_told_by_the_first(
    resolver: Resolver, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = resolver.resolve("Typha domingensis 7in")
    monkeypatch.setattr(Resolver, "_resolve", None)
    second = resolver.resolve("Typha domingensis 12 plugs $9")
    assert second.candidates == first.candidates
    assert [(part.kind, part.text) for part in second.parsed.parts[-2:]] == [
        ("count", "12 plugs"),
        ("price", "$9"),
    ]
