"""Settings, read from the environment (``REEDGATE_...``), and the table of them in the README.

python -m service.settings README.md
"""

import hashlib
import os
import re
import sys
import tempfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Literal, Self

from platformdirs import user_data_path
from pydantic import BaseModel, ConfigDict, Field, SecretStr, field_validator

PREFIX = "REEDGATE_"
_ADDRESS = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*://")


def is_address(text: str) -> bool:
    """Whether a text is an address, and no path.

    >>> is_address("s3://plants/builds"), is_address("stores/reedgate.db")
    (True, False)
    """
    return bool(_ADDRESS.match(text))


TABLE_BEGIN, TABLE_END = "<!-- settings: begin -->", "<!-- settings: end -->"


class Settings(BaseModel):
    """Every setting, with its default."""

    model_config = ConfigDict(frozen=True)

    store: str = Field(
        default_factory=lambda: str(user_data_path("reedgate") / "reedgate.db"),
        description="path of the store, or the address that builds are published to",
    )
    store_copies: Path = Field(
        default_factory=lambda: user_data_path("reedgate") / "published",
        description="folder in which the present build of a published store is copied",
    )
    store_check_seconds: float = Field(
        default=10.0,
        gt=0,
        description="how often a server looks whether another build was published",
    )
    border_tolerance_m: float = Field(
        default=2_000.0, ge=0, description="a state line nearer than this has both states answered"
    )

    max_body_bytes: int = Field(default=20_000_000, ge=1, description="largest request body")
    max_load_bytes: int = Field(
        default=2_000_000_000, ge=1, description="largest file handed to a load over HTTP"
    )
    max_labels: int = Field(
        default=200_000,
        ge=1,
        description="most rows of one stock check, or labels of one resolution",
    )
    max_label_characters: int = Field(default=2_000, ge=1, description="longest label")
    max_findings: int = Field(
        default=1_000_000,
        ge=1,
        description="most findings of one request: labels by places by acts",
    )
    max_plantings: int = Field(
        default=10_000, ge=1, description="most plantings of one community screening"
    )
    max_features: int = Field(default=5_000, ge=1, description="most features of one GeoJSON body")
    max_coordinates: int = Field(
        default=500_000, ge=1, description="most coordinate pairs of one GeoJSON body"
    )
    max_query_seconds: float = Field(
        default=30.0, ge=0, description="longest work on one request; 0 sets no limit"
    )
    max_pause_seconds: float = Field(
        default=30.0,
        gt=0,
        description="longest pause of a client while it sends a body or takes an answer",
    )
    max_body_seconds: float = Field(
        default=300.0, gt=0, description="longest time in which a client may send a whole body"
    )
    least_bytes_per_second: float = Field(
        default=1_000.0,
        gt=0,
        description="a client that sends or takes less than this, past the pause, is cut off",
    )
    max_head_bytes: int = Field(
        default=65_536, ge=1_024, description="largest head of a request: its line and headers"
    )
    max_headers: int = Field(default=100, ge=8, description="most headers of a request")
    max_load_seconds: float = Field(
        default=3_600.0, gt=0, description="longest work on one load over HTTP"
    )
    max_in_flight: int = Field(
        default=256,
        ge=1,
        description="most requests at work at once in a worker, and as many sending; "
        "more are answered 503",
    )
    max_large_at_once: int = Field(
        default=3,
        ge=1,
        description="most answers of 100,000 findings or 100 plantings and more at once in a "
        "worker, each up to some 250 MB; more wait, and then are answered 503",
    )
    rate_per_minute: int = Field(
        default=0,
        ge=0,
        description=(
            "requests a minute that one client address may make, of all servers together where "
            "they share a database, else of each worker; 0 sets no limit"
        ),
    )
    rate_burst: int = Field(
        default=60, ge=1, description="requests that a client may make at once, where a rate is set"
    )

    documents_folder: Path = Field(
        default_factory=lambda: user_data_path("reedgate") / "documents",
        description="folder of the official texts that were fetched, by their hash",
    )

    tokens_file: Path | None = Field(
        default=None, description="file of the API tokens; beside the store if not given"
    )
    jobs_file: Path | None = Field(
        default=None,
        description="file of the jobs that long screenings run as; beside the store if not given",
    )
    database_url: SecretStr | None = Field(
        default=None,
        description="PostgreSQL in which several servers share jobs, tokens, watches and rates, as "
        "postgresql://host/database; files beside the store if not given",
    )
    require_token: bool = Field(
        default=False, description="every route but the health checks asks for a token"
    )
    tiles: str = Field(
        default="",
        description="address of map tiles under the maps of the page, as "
        "https://host/{z}/{x}/{y}.png; none by default, and then no other host is asked",
    )
    tiles_credit: str = Field(
        default="", description="who made the map tiles, shown on the maps where an address is set"
    )
    cors_origins: tuple[str, ...] = Field(
        default=(),
        description="origins whose pages may read the answers, separated by commas; none "
        "by default",
    )
    trusted_proxies: str = Field(
        default="",
        description="addresses of proxies whose X-Forwarded headers are believed, "
        "separated by commas",
    )

    cache_seconds: int = Field(
        default=0,
        ge=0,
        description="how long a client may reuse an answer without asking; never past midnight UTC",
    )
    response_cache_mb: int = Field(
        default=32, ge=0, description="memory of a worker for answers already given; 0 keeps none"
    )
    gzip_from_bytes: int = Field(
        default=1_024,
        ge=1,
        description="answers from this size on are compressed where the client takes it",
    )

    review_months: int = Field(
        default=24,
        ge=0,
        description="a list read longer ago than this is due for review; 0 asks for none",
    )
    review_strict: bool = Field(
        default=False, description="a list due for review makes the service not ready"
    )

    log_level: Literal["debug", "info", "warning", "error"] = Field(
        default="info", description="least severe line that is logged"
    )
    log_contents: bool = Field(
        default=False,
        description="log queries, bodies and error texts too: these hold plans and stock lists",
    )
    shutdown_seconds: int = Field(
        default=30,
        ge=1,
        description="how long requests under way may take to end when the service is stopped",
    )

    @field_validator("store", mode="before")
    @classmethod
    def _as_text(cls, value: Any) -> Any:
        return str(value) if isinstance(value, Path) else value

    @field_validator("cors_origins", mode="before")
    @classmethod
    def _separated(cls, value: Any) -> Any:
        return (
            tuple(part.strip() for part in value.split(",") if part.strip())
            if isinstance(value, str)
            else value
        )

    @classmethod
    def of(cls, environment: Mapping[str, str]) -> Self:
        """The settings that an environment has."""
        return cls.model_validate(
            {
                name: environment[variable]
                for name in cls.model_fields
                if (variable := f"{PREFIX}{name.upper()}") in environment
            }
        )

    def jobs_path(self, store: Path) -> Path:
        """The file of the jobs of a store: the one that is named, else beside the store, else,
        where nothing may be written there, in a folder of this account among the temporary files.
        """
        if self.jobs_file is not None:
            return self.jobs_file
        if os.access(store.parent, os.W_OK):
            return store.with_name(f"{store.name}.jobs.db")
        return Path(tempfile.gettempdir()) / f"reedgate-{os.getuid()}" / f"{store.name}.jobs.db"

    @property
    def store_address(self) -> str | None:
        """The address that builds are published to; None where the store is a file."""
        return self.store if is_address(self.store) else None

    @property
    def store_path(self) -> Path:
        """The file that is read: the store, or the copy of the published one."""
        return self.copy_of(self.store) if self.store_address else Path(self.store)

    def copy_of(self, address: str) -> Path:
        """Where the store published at an address is copied to."""
        named = hashlib.sha256(address.encode()).hexdigest()[:16]
        return self.store_copies / named / "reedgate.db"

    def tokens_path(self, store: Path) -> Path:
        """The file of the API tokens of a store."""
        return self.tokens_file or store.with_name(f"{store.name}.tokens.json")


@cache
def settings() -> Settings:
    """The settings of this process."""
    return Settings.of(os.environ)


def table() -> str:
    """The settings as a Markdown table, in the order of their declaration."""
    rows = ["| variable | default | what it sets |", "|---|---|---|"]
    for name, field in Settings.model_fields.items():
        rows.append(
            f"| `{PREFIX}{name.upper()}` | {_shown(name, field.default)} | {field.description} |"
        )
    return "\n".join(rows)


def _shown(name: str, default: object) -> str:
    if name == "store":
        return "`reedgate.db` in the user's data folder"
    if name == "store_copies":
        return "`published` in the user's data folder"
    if name == "documents_folder":
        return "`documents` in the user's data folder"
    if default is None or default == () or default == "":
        return "none"
    return f"`{str(default).lower() if isinstance(default, bool) else default}`"


def with_table(text: str) -> str:
    """A text with the table put anew between its markers.

    Raises:
        ValueError: it has no markers.
    """
    before, begin, rest = text.partition(TABLE_BEGIN)
    _, end, after = rest.partition(TABLE_END)
    if not begin or not end:
        raise ValueError(f"The text has no lines {TABLE_BEGIN} and {TABLE_END}.")
    return f"{before}{TABLE_BEGIN}\n{table()}\n{TABLE_END}{after}"


if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.write_text(with_table(target.read_text(encoding="utf-8")), encoding="utf-8")
