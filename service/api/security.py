"""Headers that keep a browser from doing more with an answer than show it."""

import base64
import hashlib
import re

_DATA_POLICY = "default-src 'none'; frame-ancestors 'none'; sandbox"
_PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'{styles}; "
    "img-src 'self' data:{images}; "
    "font-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_STYLE = re.compile(rb"<style[^>]*>(.*?)</style>", re.DOTALL | re.IGNORECASE)

COMMON_HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(self)"),
)
"""On every answer."""


def content_policy(media_type: str, styles: tuple[str, ...] = (), images: str = "") -> str:
    """The content security policy for an answer: nothing at all for data; for a page, what comes
    from this service.

    Args:
        styles: sources of inline styles that the page may use (see ``style_sources``).
        images: another host that pictures may come from; the ground of the maps.
    """
    if media_type == "text/html":
        return _PAGE_POLICY.format(
            styles="".join(f" {style}" for style in styles), images=f" {images}" if images else ""
        )
    return _DATA_POLICY


def style_sources(page: bytes) -> tuple[str, ...]:
    """Hashes by which a policy lets the ``<style>`` elements of a page in, and no other inline
    style.
    """
    return tuple(dict.fromkeys(map(style_source, _STYLE.findall(page))))


def style_source(style: str | bytes) -> str:
    """The source by which a policy lets one inline style in."""
    content = style.encode() if isinstance(style, str) else style
    return f"'sha256-{base64.b64encode(hashlib.sha256(content).digest()).decode()}'"
