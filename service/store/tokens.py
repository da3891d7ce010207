"""API tokens: a small file beside the store, for the store itself is never written to by the
service.

A token is 256 random bits, so one round of SHA-256 is enough to keep it: nobody can try them all,
as one can with words that people choose. Only the hash is kept; the token is shown once, when it is
made.
"""

import contextlib
import fcntl
import hashlib
import hmac
import os
import secrets
from abc import ABC, abstractmethod
from collections.abc import Iterator
from contextlib import AbstractContextManager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal, Protocol

from pydantic import BaseModel, ConfigDict, ValidationError

from service.errors import BadRequest, NotFound, StoreError

Scope = Literal["read", "load"]
"""``read`` asks; ``load`` adds to the store too."""

_PREFIX = "rgt"


class TokensUnreadable(StoreError):
    """The token file cannot be used, so no token is taken."""

    title = "The tokens cannot be read"


class TokensUnwritable(StoreError):
    """The token file cannot be written, so nothing was changed."""

    title = "The tokens cannot be written"


class _Stored(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Token(_Stored):
    """A token as kept.

    ``hashes`` has a second one while a rotation lets the old token run on until ``old_until``.
    """

    token_id: str
    name: str
    scopes: tuple[Scope, ...]
    sha256: str
    created: datetime
    expires: datetime | None = None
    old_sha256: str | None = None
    old_until: datetime | None = None

    def accepts(self, secret_sha256: str, now: datetime) -> bool:
        """Whether a secret with this hash is the token's, on a day that it holds."""
        if self.expires is not None and now >= self.expires:
            return False
        old = self.old_sha256 is not None and self.old_until is not None and now < self.old_until
        return hmac.compare_digest(self.sha256, secret_sha256) or (
            old and hmac.compare_digest(self.old_sha256 or "", secret_sha256)
        )


class _File(_Stored):
    tokens: tuple[Token, ...] = ()


class Tokens(Protocol):
    """Where tokens are kept: a file beside the store, or what servers share."""

    def tokens(self) -> dict[str, Token]: ...

    def find(self, presented: str, now: datetime | None = None) -> Token | None: ...

    def has_scope(self, scope: Scope) -> bool: ...

    def add(
        self, name: str, scopes: tuple[Scope, ...], *, days: int | None = None
    ) -> tuple[Token, str]: ...

    def rotate(self, token_id: str, *, overlap_hours: float = 0) -> str: ...

    def revoke(self, token_id: str) -> None: ...


class TokenKeeper(ABC):
    """What is done with tokens, wherever they are kept."""

    @abstractmethod
    def tokens(self) -> dict[str, Token]:
        """Tokens by id.

        Raises:
            TokensUnreadable: they cannot be read.
        """

    @abstractmethod
    def _changing(self) -> AbstractContextManager[dict[str, Token]]:
        """The tokens, to be changed by one at a time; kept when the block ends without an error."""

    def find(self, presented: str, now: datetime | None = None) -> Token | None:
        """The token that a client presents, if it is valid.

        Raises:
            TokensUnreadable: the file is damaged or may not be read.
        """
        prefix, _, rest = presented.partition("_")
        token_id, _, secret = rest.partition("_")
        token = self.tokens().get(token_id) if prefix == _PREFIX and secret else None
        return (
            token
            if token is not None and token.accepts(_hash(secret), now or datetime.now(UTC))
            else None
        )

    def has_scope(self, scope: Scope) -> bool:
        """Whether any token has the scope."""
        return any(scope in token.scopes for token in self.tokens().values())

    def add(
        self, name: str, scopes: tuple[Scope, ...], *, days: int | None = None
    ) -> tuple[Token, str]:
        """Make a token. The second value is the token itself, shown nowhere again."""
        if not scopes:
            raise BadRequest(
                "A token needs a scope.", pointer="scope", next_step="Give read, load or both."
            )
        secret, now = secrets.token_urlsafe(32), datetime.now(UTC)
        token = Token(
            token_id=secrets.token_hex(4),
            name=name,
            scopes=tuple(dict.fromkeys(scopes)),
            sha256=_hash(secret),
            created=now,
            expires=now + timedelta(days=days) if days else None,
        )
        with self._changing() as tokens:
            tokens[token.token_id] = token
        return token, _shown(token.token_id, secret)

    def rotate(self, token_id: str, *, overlap_hours: float = 0) -> str:
        """Give a token a new secret; the old one runs on for so many hours.

        Raises:
            NotFound: no token has the id.
        """
        secret, now = secrets.token_urlsafe(32), datetime.now(UTC)
        with self._changing() as tokens:
            old = _present(tokens, token_id)
            tokens[token_id] = old.model_copy(
                update={
                    "sha256": _hash(secret),
                    "old_sha256": old.sha256 if overlap_hours else None,
                    "old_until": now + timedelta(hours=overlap_hours) if overlap_hours else None,
                }
            )
        return _shown(token_id, secret)

    def revoke(self, token_id: str) -> None:
        """Take a token back.

        Raises:
            NotFound: no token has the id.
        """
        with self._changing() as tokens:
            _present(tokens, token_id)
            del tokens[token_id]


class TokenFile(TokenKeeper):
    """The tokens of a store, in a file.

    Read anew when the file changes; written whole or not at all, one writer at a time.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._read: tuple[tuple[int, int, int], dict[str, Token]] | None = None

    def tokens(self) -> dict[str, Token]:
        """Tokens by id.

        Raises:
            TokensUnreadable: the file is damaged or may not be read.
        """
        try:
            stat = self.path.stat()
            state = (stat.st_ino, stat.st_size, stat.st_mtime_ns)
            if self._read is None or self._read[0] != state:
                read = _File.model_validate_json(self.path.read_bytes())
                self._read = (state, {token.token_id: token for token in read.tokens})
        except FileNotFoundError:
            return {}
        except (OSError, ValidationError) as error:
            raise TokensUnreadable(
                f"The token file {self.path.name} cannot be read.",
                next_step="Put back a copy of it, or remove it and make new tokens.",
            ) from error
        return self._read[1]

    def open_to_others(self) -> bool:
        """Whether other accounts of the machine may read or write the file."""
        try:
            return bool(self.path.stat().st_mode & 0o077)
        except OSError:
            return False

    @contextlib.contextmanager
    def _changing(self) -> Iterator[dict[str, Token]]:
        try:
            with self._locked():
                tokens = dict(self.tokens())
                yield tokens
                self._write(tokens)
        except OSError as error:
            raise TokensUnwritable(
                f"The token file {self.path.name} cannot be written: "
                f"{os.strerror(error.errno or 0)}.",
                next_step="No token was made or changed. Make room on the disk, or let this "
                "account write to the folder, or name another file: REEDGATE_TOKENS_FILE.",
            ) from error

    @contextlib.contextmanager
    def _locked(self) -> Iterator[None]:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        lock = self.path.with_name(f".{self.path.name}.lock")
        with os.fdopen(os.open(lock, os.O_WRONLY | os.O_CREAT, 0o600), "w") as stream:
            fcntl.flock(stream, fcntl.LOCK_EX)
            yield

    def _write(self, tokens: dict[str, Token]) -> None:
        draft = self.path.with_name(f".{self.path.name}.draft")
        descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        try:
            with os.fdopen(descriptor, "w", encoding="utf-8") as written:
                written.write(_File(tokens=tuple(tokens.values())).model_dump_json(indent=1) + "\n")
                written.flush()
                os.fsync(written.fileno())
            draft.replace(self.path)
        except OSError:
            draft.unlink(missing_ok=True)
            raise


def _present(tokens: dict[str, Token], token_id: str) -> Token:
    if token_id not in tokens:
        raise NotFound(f"No token has the id {token_id!r}.", next_step="See: reedgate tokens list.")
    return tokens[token_id]


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _shown(token_id: str, secret: str) -> str:
    return f"{_PREFIX}_{token_id}_{secret}"
