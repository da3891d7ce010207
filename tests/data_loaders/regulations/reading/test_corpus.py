"""The made documents of every shape, read and compared with what was planted in them."""

import pytest

from data_loaders.regulations.reading import read_document, read_list
from service.store.library import Library
from tests.data_loaders.regulations.reading.corpus import Sample, samples
from tests.data_loaders.regulations.reading.figures import measure
from tests.data_loaders.regulations.reading.scoring import Score, score
from tests.data_loaders.regulations.reading.shapes import SHAPES


@pytest.fixture(scope="module")
def made(library: Library) -> dict[str, Sample]:
    return {sample.shape: sample for sample in samples(library, a_shape=1)}


@pytest.fixture(scope="module")
def scores(library: Library, made: dict[str, Sample]) -> dict[str, Score]:
    return {
        shape: score(
            sample.plan,
            read_list(read_document(sample.content, sample.file), sample.plan.model, library),
            sample.name,
        )
        for shape, sample in made.items()
    }


@pytest.mark.parametrize("shape", SHAPES)
def test_a_document_of_each_shape_is_read_as_it_was_made(
    scores: dict[str, Score], shape: str
) -> None:
    found = scores[shape]
    assert found.recall >= 0.9, found.misses
    assert found.precision >= 0.9, found.misses
    assert found.class_right >= 0.9, found.misses
    assert found.lost == 0
    assert found.planted > 0


def test_a_document_of_each_shape_together_reach_the_figures_asked_for(
    scores: dict[str, Score],
) -> None:
    whole = Score()
    for shape_score in scores.values():
        whole.add(shape_score)
    assert whole.recall >= 0.98, whole.misses
    assert whole.precision >= 0.98, whole.misses
    assert whole.class_right >= 0.95, whole.misses
    assert whole.planted_share >= 0.98, whole.misses


@pytest.mark.slow
def test_the_whole_corpus_is_read_within_the_figures_asked_for(library: Library) -> None:
    whole = Score()
    for shape_score in measure(library).values():
        whole.add(shape_score)
    assert whole.documents >= 60
    assert whole.recall >= 0.98, whole.misses
    assert whole.precision >= 0.98, whole.misses
    assert whole.class_right >= 0.95, whole.misses
    assert whole.planted_found == whole.planted, whole.misses
    assert whole.lost == 0


def test_the_corpus_plants_every_kind_of_difference(made: dict[str, Sample]) -> None:
    plans = [sample.plan for sample in made.values()]
    assert sum(len(plan.gone) for plan in plans) > 20
    assert sum(len(plan.added) for plan in plans) > 20
    assert sum(len(plan.misspelt) for plan in plans) > 15
    assert sum(len(plan.strangers) for plan in plans) > 15
    assert sum(len(plan.moved) for plan in plans) > 5
    assert sum(len(plan.mentions) for plan in plans) > 60
    assert sum(line.struck for plan in plans for line in plan.lines) > 3
