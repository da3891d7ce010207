"""Routes that are loaded when somebody first asks for them.

Plans, communities and the page bring most of the program with them: geometry, arrays, templates. A
worker that has not been asked for them yet is ready in half the time without.
"""

import threading
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import cast

from fastapi import APIRouter, FastAPI
from fastapi.concurrency import run_in_threadpool
from starlette.routing import BaseRoute, Match
from starlette.types import Receive, Scope, Send


class LateRoutes(BaseRoute):
    """Routers by module name, with the beginnings of their paths.

    Stands after all other routes: what none of them matches is looked for here.

    Args:
        loaded: called with each router that is loaded.
    """

    def __init__(
        self,
        app: FastAPI,
        modules: Mapping[str, tuple[str, ...]],
        loaded: Callable[[APIRouter], None],
    ) -> None:
        self._app = app
        self._waiting = dict(modules)
        self._loaded = loaded
        self._lock = threading.Lock()
        self.path = ""

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        found = scope["type"] == "http" and self._module_of(scope["path"]) is not None
        return (Match.FULL if found else Match.NONE), {}

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        module = self._module_of(scope["path"])
        if module is not None:
            await run_in_threadpool(self._load, module)
        await self._app.router(scope, receive, send)

    def load_all(self) -> None:
        """Load what is not loaded yet; the contract names every route."""
        for module in tuple(self._waiting):
            self._load(module)

    def _module_of(self, path: str) -> str | None:
        return next(
            (module for module, begin in self._waiting.items() if path.startswith(begin)), None
        )

    def _load(self, module: str) -> None:
        with self._lock:
            if module not in self._waiting:
                return
            router = cast("APIRouter", import_module(module).router)
            routes = self._app.router.routes
            routes.remove(self)
            self._app.include_router(router)
            routes.append(self)
            self._loaded(router)
            del self._waiting[module]
