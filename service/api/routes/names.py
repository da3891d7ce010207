"""What a label means."""

from typing import Any

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, ConfigDict

from service.api.asked import AskedRoute, read_body
from service.api.limits import check_labels
from service.api.negotiation import body_of, sent_type
from service.api.parameters import Label, LibraryNow
from service.api.schemas import body_schema
from service.api.working import in_thread
from service.input.person import today
from service.output.models.law import BulkNamesAnswer, NamesAnswer
from service.output.models.shape import schema_class, written
from service.settings import settings
from service.store.deadline import check as check_deadline

router = APIRouter(route_class=AskedRoute, prefix="/v1/names", tags=["names"])


@router.get(
    "",
    operation_id="resolve_name",
    summary="Which plant a label means, and how sure that is",
    response_model=schema_class(NamesAnswer),
)
async def resolve_name(library: LibraryNow, label: Label) -> NamesAnswer:
    """The label taken apart, the plants that it may mean, and the steps that led to them."""
    resolution = library.resolver.resolve(label)
    return NamesAnswer(store_build=library.build_id, as_of=today(), resolution=resolution)


class NamesRequest(BaseModel):
    """Labels to resolve."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [{"labels": ["Eichhornia crassipes", "M. aquaticum", "cattail"]}]
        },
    )

    labels: list[str]


_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/json": {"schema": body_schema(NamesRequest)}},
    }
}


@router.post(
    "",
    operation_id="resolve_names",
    summary="Many labels at once, helping each other's abbreviated genera",
    response_model=schema_class(BulkNamesAnswer),
    openapi_extra=_BODY,
)
async def resolve_names(request: Request, library: LibraryNow) -> Response:
    """As for one label, without the working; the genera of the list help its abbreviations."""
    sent_type(request, ("application/json",))
    body = await body_of(request, settings().max_body_bytes)

    def worked_out() -> Response:
        labels = read_body(body, NamesRequest).labels
        check_labels(labels, settings())
        answer = BulkNamesAnswer(
            store_build=library.build_id,
            as_of=today(),
            resolutions=tuple(library.resolver.resolve_all(labels, between=check_deadline)),
        )
        return Response(written(answer), media_type="application/json")

    return await in_thread(request, worked_out)
