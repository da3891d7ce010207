"""What holds for every name of the catalogue, as it stands and under noise."""

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from service.names import NameRecord, Resolver
from service.values.plants import Plant
from tests.service.names.noise import NOISES, Named


def test_every_accepted_name_resolves_to_itself(
    catalogue: tuple[list[Plant], list[NameRecord]], resolver: Resolver
) -> None:
    for plant in catalogue[0]:
        resolution = resolver.resolve(plant.accepted_name)
        assert resolution.candidates[0].accepted_name == plant.accepted_name, plant
        if plant.rank not in ("genus", "family"):
            assert resolution.match == "accepted"


def test_no_stored_name_confirms_another_taxon(every_name: list[Named], resolver: Resolver) -> None:
    for named in every_name:
        resolution = resolver.resolve(named.record.name)
        taxa = {candidate.plant_id for candidate in resolution.candidates}
        assert named.record.plant_id in taxa, named
        assert not resolution.confirmed or taxa == {named.record.plant_id}


@given(st.integers(0, 10**6), st.sampled_from(sorted(NOISES)), st.integers(0, 10**9))
@settings(max_examples=300, deadline=None)
def test_noise_gives_the_right_taxon_or_several_or_an_unconfirmed_one(
    every_name: list[Named], resolver: Resolver, number: int, noise: str, seed: int
) -> None:
    named = every_name[number % len(every_name)]
    label = NOISES[noise](named, random.Random(seed))
    if label is None:
        return
    resolution = resolver.resolve(label)
    assert not resolution.confirmed or [c.plant_id for c in resolution.candidates] == [
        named.record.plant_id
    ]


@given(st.text(max_size=80))
@settings(max_examples=150, deadline=None)
def test_no_label_makes_the_resolver_fail(resolver: Resolver, label: str) -> None:
    resolution = resolver.resolve(label)
    assert resolution.label == label
    assert bool(resolution.to_confirm) is not resolution.confirmed
    assert not resolution.confirmed or len(resolution.candidates) == 1
