"""What a label means."""

from typing import Annotated

from fastapi import APIRouter, Body

from service.api.limits import check_labels
from service.api.parameters import Label, LibraryNow
from service.input.day import today
from service.output.models.law import BulkNamesAnswer, NamesAnswer, explained, resolution_model
from service.settings import settings

router = APIRouter(prefix="/v1/names", tags=["names"])


@router.get(
    "", operation_id="resolve_name", summary="Which plant a label means, and how sure that is"
)
async def resolve_name(library: LibraryNow, label: Label) -> NamesAnswer:
    resolution = library.resolver.resolve(label)
    return NamesAnswer(store_build=library.build_id, as_of=today(), **explained(resolution))


@router.post(
    "",
    operation_id="resolve_names",
    summary="Many labels at once, helping each other's abbreviated genera",
)
def resolve_names(
    library: LibraryNow,
    labels: Annotated[
        list[str], Body(embed=True, examples=[["Eichhornia crassipes", "M. aquaticum", "cattail"]])
    ],
) -> BulkNamesAnswer:
    check_labels(labels, settings())
    resolutions = library.resolver.resolve_all(labels)
    return BulkNamesAnswer(
        store_build=library.build_id,
        as_of=today(),
        resolutions=tuple(map(resolution_model, resolutions)),
    )
