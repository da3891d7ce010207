"""The corpus of made documents: every shape with several lists of the reference.

python -m tests.data_loaders.regulations.reading.figures      the figures, over the whole corpus
"""

from collections.abc import Iterator
from dataclasses import dataclass

from data_loaders.regulations.listfile import ListFile, read_list_file
from data_loaders.regulations.load import reference_lists
from service.store.library import Library
from tests.data_loaders.regulations.reading.plan import Plan, draw_plan
from tests.data_loaders.regulations.reading.shapes import SHAPES, STRIKING, shuffled

LISTS_A_SHAPE = 4
LEAST_ENTRIES = 5


@dataclass(frozen=True)
class Sample:
    """One document, and what it says."""

    shape: str
    plan: Plan
    file: str
    content: bytes

    @property
    def name(self) -> str:
        return f"{self.shape}-{self.plan.list_id}"


def lists() -> list[ListFile]:
    """The lists of the reference that are long enough to plant differences in; one version of
    each.
    """
    models = {model.list_id: model for model in map(read_list_file, reference_lists())}
    return [model for model in models.values() if len(model.entries) >= LEAST_ENTRIES]


def samples(library: Library, *, a_shape: int = LISTS_A_SHAPE) -> Iterator[Sample]:
    """Documents of every shape; ``a_shape`` lists each. Those of fewer lists are among those of
    more.
    """
    models = {model.list_id: model for model in lists()}
    for shape in SHAPES:
        several = {name for name, model in models.items() if _has_classes(model)}
        first = shuffled(shape, several)[:1]
        rest = [name for name in shuffled(shape, models) if name not in first]
        for list_id in (first + rest)[:a_shape]:
            yield make(shape, models[list_id], library)


def make(shape: str, model: ListFile, library: Library) -> Sample:
    plan = draw_plan(model, library, f"{shape}:{model.list_id}", strike=shape in STRIKING)
    file, content = SHAPES[shape](plan)
    return Sample(shape, plan, file, content)


def _has_classes(model: ListFile) -> bool:
    return len({entry.class_name for entry in model.entries}) > 1
