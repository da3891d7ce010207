"""Long answers in pages, with links to the others (RFC 8288)."""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from typing import Annotated, TypeVar
from urllib.parse import parse_qsl, urlencode

from fastapi import Depends, Query, Request, Response

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Page:
    """Which part of a long answer is asked for, and where its links go."""

    limit: int
    offset: int
    request: Request
    response: Response

    def of(self, items: Sequence[_T]) -> tuple[_T, ...]:
        """The part asked for. Puts the links to the other parts on the response."""
        links = {
            "first": 0,
            "prev": max(0, self.offset - self.limit),
            "next": self.offset + self.limit,
            "last": self._last(len(items)),
        }
        if self.offset == 0:
            del links["prev"]
        if links["next"] >= len(items):
            del links["next"]
        self.response.headers["Link"] = ", ".join(
            f'<{self._address(offset)}>; rel="{rel}"' for rel, offset in links.items()
        )
        return tuple(items[self.offset : self.offset + self.limit])

    def _last(self, total: int) -> int:
        return max(0, total - 1) // self.limit * self.limit

    def _address(self, offset: int) -> str:
        # Relative to the request, so that it holds behind any proxy.
        url = self.request.url
        kept = [
            (key, value)
            for key, value in parse_qsl(url.query, keep_blank_values=True)
            if key not in ("limit", "offset")
        ]
        return f"{url.path}?{urlencode([*kept, ('limit', self.limit), ('offset', offset)])}"


def _page_of(default: int, largest: int) -> Callable[..., Awaitable[Page]]:
    async def page(
        request: Request,
        response: Response,
        limit: Annotated[
            int, Query(ge=1, le=largest, description="most items on a page")
        ] = default,
        offset: Annotated[int, Query(ge=0, le=10_000_000, description="items to pass over")] = 0,
    ) -> Page:
        return Page(limit, offset, request, response)

    return page


LongPage = Annotated[Page, Depends(_page_of(1_000, 1_000))]
"""For answers that are short enough to come whole, as a rule."""
ShortPage = Annotated[Page, Depends(_page_of(50, 500))]
