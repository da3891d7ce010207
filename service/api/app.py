"""The service as an ASGI application."""

from importlib.metadata import version
from pathlib import Path

from fastapi import FastAPI

from service.api import problems
from service.api.routes import health, holdings, law, names, plants, stock, waters
from service.settings import settings
from service.store.library import LibraryDesk

_DESCRIPTION = """Whether a planned water plant is restricted where it is to be sold, shipped, kept or planted; each answer with its source,
how that source was read, and whom to confirm it with. No answer is legal advice, and none says that a plant may be sold."""

TAGS = [
    {"name": "names", "description": "Which plant a label means, and how sure that is."},
    {"name": "law", "description": "What the lists held say of a plant in a place, on a day."},
    {"name": "stock", "description": "A stock list against many places."},
    {"name": "waters", "description": "Waters near a place, where they run, and the records around it."},
    {"name": "plants", "description": "The plants of the store."},
    {"name": "store", "description": "What the answers rest on."},
    {"name": "health", "description": "For the operator."},
]


def create_app(store: Path | None = None) -> FastAPI:
    """The application over the store at a path, by default that of the settings. The store need not be there yet."""
    app = FastAPI(
        title="Reedgate",
        version=version("reedgate"),
        summary="Water plants: lawful here, alive in winter, held where planted?",
        description=_DESCRIPTION,
        license_info={"name": "Apache-2.0", "identifier": "Apache-2.0"},
        openapi_tags=TAGS,
        responses={
            422: {"model": problems.Problem, "description": "The request cannot be read", "content": {problems.MEDIA_TYPE: {}}},
            503: {"model": problems.Problem, "description": "There is no store to answer from", "content": {problems.MEDIA_TYPE: {}}},
        },
        docs_url=None,
        redoc_url=None,
    )
    app.state.desk = LibraryDesk(store or settings().store)
    problems.install(app)
    for router in (names.router, law.router, holdings.router, stock.router, plants.router, waters.router, health.router):
        app.include_router(router)
    return app
