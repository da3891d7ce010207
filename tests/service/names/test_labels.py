"""Labels of the trades against an expert's answers: ``labels.txt`` has each with its reason."""

import pytest

from service.names import Resolver
from tests.service.names.labels import Label, Score, failing, read_labels, score

Scored = list[tuple[Label, Score]]


@pytest.fixture(scope="module")
def scored(resolver: Resolver) -> Scored:
    return [(label, score(label, resolver.resolve(label.label))) for label in read_labels()]


def test_the_fixture_is_large_and_each_label_has_a_reason() -> None:
    labels = read_labels()
    assert len(labels) >= 400
    assert len({label.label for label in labels}) == len(labels)
    assert all(label.why for label in labels)


def test_no_label_is_confirmed_as_another_plant(scored: Scored) -> None:
    assert failing(scored, "confirmed and wrong") == []


def test_no_goods_are_taken_for_plants(scored: Scored) -> None:
    assert failing(scored, "goods taken for a plant") == []


def test_a_name_outside_the_catalogue_is_never_another_species(scored: Scored) -> None:
    assert failing(scored, "another species") == []


def test_nearly_every_plant_is_right_or_among_the_candidates(scored: Scored) -> None:
    plants = [pair for pair in scored if pair[0].answer in ("sure", "ask", "several")]
    missed = failing(plants, "missed")
    assert len(missed) <= 0.01 * len(plants), missed
