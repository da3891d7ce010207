"""The service as an ASGI application."""

import asyncio
import gc
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from importlib.metadata import version
from pathlib import Path

from fastapi import FastAPI
from starlette.middleware.cors import CORSMiddleware
from starlette.responses import Response

from service.api import contract, jobs, problems
from service.api.bodies import Places
from service.api.caching import Caching, Compressing
from service.api.direct import Direct
from service.api.late import LateRoutes
from service.api.limits import Limits
from service.api.metrics import Metrics, RouteNames
from service.api.observing import REQUEST_ID, Observing
from service.api.routes import feed, health, holdings, law, loads, names, plants, stock
from service.api.routes import problems as problem_routes
from service.api.tokens import Access
from service.settings import Settings, settings
from service.shared.homes import token_home
from service.store.library import StoreHandle
from service.store.published import Follower, PublishedStore

_DESCRIPTION = """Whether a planned water plant is restricted where it is to be sold, shipped, kept
or planted; each answer with its source, how that source was read, and whom to confirm it with. No
answer is legal advice, and none says that a plant may be sold."""

TAGS = [
    {"name": "names", "description": "Which plant a label means, and how sure that is."},
    {"name": "law", "description": "What the lists loaded say of a plant in a place, on a day."},
    {"name": "stock", "description": "A stock list against many places."},
    {"name": "plans", "description": "A planting plan, and many sites at once."},
    {
        "name": "waters",
        "description": "Waters near a place, where they run, and the records around it.",
    },
    {"name": "plants", "description": "The plants of the store."},
    {"name": "store", "description": "What the answers rest on."},
    {
        "name": "loads",
        "description": "Adding to the store; off until the operator makes a token for it.",
    },
    {"name": "problems", "description": "What each kind of problem means."},
    {"name": "health", "description": "For the operator."},
]
"""In the order of a user's work."""

ROUTERS = (
    names.router,
    law.router,
    holdings.router,
    feed.router,
    stock.router,
    plants.router,
    loads.router,
    problem_routes.router,
    health.router,
)
LATE_ROUTERS = {
    "service.api.routes.plans": ("/v1/plan-checks",),
    "service.api.routes.communities": ("/v1/community-screenings", "/v1/jobs"),
    "service.api.routes.waters": ("/v1/waters", "/v1/occurrences"),
    "service.api.routes.pages": ("/",),
}
"""Loaded when first asked for: module, and how its paths begin. The last takes what is left."""

_COMPRESSION_LEVEL = (
    6  # zlib's own default; more costs time and saves little on answers this short (measured)
)


_YOUNG_VALUES = 20_000
"""New values between two looks for garbage; Python's own 700 is less than a request makes (common
practice, no source).
"""


def create_app(store: Path | None = None, config: Settings | None = None) -> FastAPI:
    """The application over the store at a path, by default that of the settings. The store need not
    be there yet.

    Args:
        config: settings to use in place of those of the process.
    """
    config = config or settings()
    app = FastAPI(
        title="Reedgate",
        version=version("reedgate"),
        summary="Water plants: lawful here, alive in winter, contained where planted?",
        description=_DESCRIPTION,
        license_info={"name": "Apache-2.0", "identifier": "Apache-2.0"},
        openapi_tags=TAGS,
        redirect_slashes=False,
        telemetry={"tracing": False, "metrics": False, "logs": False},
        docs_url=None,
        redoc_url=None,
        lifespan=_living,
    )
    path = store or config.store_path
    app.state.store = _handle(path, None if store else config.store_address, config)
    app.state.config = config
    jobs.install(app, config, path)
    app.state.tokens = token_home(config, path)
    app.state.metrics = Metrics()
    app.state.load_turn = asyncio.Lock()
    app.state.places = Places(config.max_in_flight, config.max_large_at_once)
    problems.install(app)
    app.state.routes = RouteNames()
    for router in ROUTERS:
        app.include_router(router)
        app.state.routes.add(router)
    routes: RouteNames = app.state.routes
    late = LateRoutes(app, LATE_ROUTERS, routes.add)
    app.router.routes.append(late)
    contract.install(app, late)
    _add_layers(app, config)
    return app


def create_worker() -> FastAPI:
    """The application of a process that does nothing else.

    A build is some hundred thousand values that stay; the collector of garbage would go through
    them again and again (a fifth of the time to read a new label, measured).
    """
    gc.set_threshold(_YOUNG_VALUES, 20, 20)
    app = create_app()
    app.state.store.opened = _set_apart
    return app


def _set_apart() -> None:
    gc.unfreeze()
    gc.collect()
    gc.freeze()


@asynccontextmanager
async def _living(app: FastAPI) -> AsyncIterator[None]:
    yield
    await asyncio.to_thread(jobs.stop, app)


def _handle(path: Path, address: str | None, config: Settings) -> StoreHandle:
    if address is None:
        return StoreHandle(path)
    published = PublishedStore(address, path)
    return StoreHandle(path, Follower(published, config.store_check_seconds).start())


def _closed_page(headers: Mapping[str, str]) -> Response:
    # Here, so that a worker is ready before the page is loaded.
    from service.api.routes.pages import closed_page

    return closed_page(headers)


def _add_layers(app: FastAPI, config: Settings) -> None:
    """What lies around the routes, from the innermost outwards."""
    metrics: Metrics = app.state.metrics
    app.add_middleware(Direct, routes=law.asked_most())
    app.add_middleware(
        Compressing, minimum_size=config.gzip_from_bytes, compresslevel=_COMPRESSION_LEVEL
    )
    app.add_middleware(Caching, store=app.state.store, config=config, metrics=metrics)
    app.add_middleware(
        Access,
        tokens=app.state.tokens,
        metrics=metrics,
        required=config.require_token,
        closed=_closed_page,
    )
    app.add_middleware(Limits, config=config, metrics=metrics, places=app.state.places)
    if config.cors_origins:
        app.add_middleware(
            CORSMiddleware,
            allow_origins=config.cors_origins,
            allow_methods=["GET", "HEAD", "POST", "DELETE"],
            allow_headers=[
                "Authorization",
                "Content-Type",
                "If-None-Match",
                "Prefer",
                REQUEST_ID,
            ],
            expose_headers=[
                "Content-Disposition",
                "Deprecation",
                "ETag",
                "Link",
                "Location",
                "Preference-Applied",
                "RateLimit",
                "RateLimit-Policy",
                "Retry-After",
                "Sunset",
                REQUEST_ID,
            ],
        )
    app.add_middleware(
        Observing, metrics=metrics, routes=app.state.routes, contents=config.log_contents
    )
