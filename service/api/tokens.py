"""Who may ask: bearer tokens (RFC 6750), looked at before anything else is done for a request."""

from collections.abc import Callable, Mapping

from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from service.api import problems
from service.api.heads import header
from service.api.limits import LOADS
from service.api.metrics import Metrics
from service.store.tokens import Scope as TokenScope
from service.store.tokens import Token, Tokens, TokensUnreadable

_OPEN = ("/health/", "/problems", "/static/")
"""What everybody may fetch: it says nothing of the store."""
_CHALLENGE = {"WWW-Authenticate": 'Bearer realm="reedgate"'}


class Access:
    """Lets a request through, or answers 401 or 403.

    Reading is open unless the operator asks for tokens. What changes the store takes a token with
    the scope ``load``, and is off where there is none. A token that is given must hold, needed or
    not. Where the tokens cannot be read, none is taken.
    """

    def __init__(
        self,
        app: ASGIApp,
        tokens: Tokens,
        metrics: Metrics,
        *,
        required: bool,
        closed: Callable[[Mapping[str, str]], Response],
    ) -> None:
        self._app = app
        self._tokens = tokens
        self._metrics = metrics
        self._required = required
        self._closed = closed

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"].startswith(_OPEN):
            await self._app(scope, receive, send)
            return
        needed: TokenScope = "load" if scope["path"].startswith(LOADS) else "read"
        try:
            refusal = self._refusal(scope, needed)
        except TokensUnreadable as error:
            refusal = (problems.problem_of(error), {"Retry-After": "60"})
        if refusal is None:
            await self._app(scope, receive, send)
            return
        self._metrics.refused.labels("token").inc()
        problem, headers = refusal
        if problem is problems.NO_TOKEN and _wants_page(scope):
            await self._closed(headers)(scope, receive, send)
            return
        await problems.response_of(problem, headers)(scope, receive, send)

    def _refusal(
        self, scope: Scope, needed: TokenScope
    ) -> tuple[problems.Problem, dict[str, str]] | None:
        given = header(scope, b"authorization")
        if given is None:
            return (problems.NO_TOKEN, _CHALLENGE) if self._required or needed == "load" else None
        token = self._found(given)
        if token is None:
            return problems.BAD_TOKEN, {
                "WWW-Authenticate": f'{_CHALLENGE["WWW-Authenticate"]}, error="invalid_token"'
            }
        scope.setdefault("state", {})["token_id"] = token.token_id
        if needed in token.scopes or (needed == "read" and not self._required):
            return None
        if not self._tokens.has_scope("load"):
            return problems.LOADS_OFF, {}
        return problems.WRONG_SCOPE, {
            "WWW-Authenticate": f"{_CHALLENGE['WWW-Authenticate']}, "
            f'error="insufficient_scope", scope="{needed}"'
        }

    def _found(self, authorization: str) -> Token | None:
        kind, _, presented = authorization.partition(" ")
        return self._tokens.find(presented.strip()) if kind.lower() == "bearer" else None


def _wants_page(scope: Scope) -> bool:
    """Whether a person's browser asks for a room: it gets one that asks for the token."""
    takes = header(scope, b"accept") or ""
    return (
        scope["method"] in ("GET", "HEAD")
        and "text/html" in takes
        and not scope["path"].startswith("/v1/")
    )
