"""Whether the service lives, and whether it can answer."""

from typing import Literal

from fastapi import APIRouter, Request
from pydantic import BaseModel

from service.api.parameters import desk

router = APIRouter(prefix="/health", tags=["health"])


class Live(BaseModel):
    """The process answers."""

    status: Literal["live"] = "live"


class Ready(BaseModel):
    """The service can answer."""

    status: Literal["ready"] = "ready"
    store_build: str
    plants: int
    lists: int


@router.get("/live", operation_id="is_live", summary="The process answers")
def is_live() -> Live:
    return Live()


@router.get("/ready", operation_id="is_ready", summary="The store is open and the law is read; 503 with the reason otherwise")
def is_ready(request: Request) -> Ready:
    library = desk(request).current()
    return Ready(store_build=library.build_id, plants=len(library.plants), lists=len(library.law.versions))
