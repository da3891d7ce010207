"""Settings, read from the environment (``REEDGATE_...``)."""

from functools import cache
from pathlib import Path

from platformdirs import user_data_path
from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """Every setting, with its default."""

    model_config = SettingsConfigDict(env_prefix="REEDGATE_", extra="ignore")

    store: Path = Field(default_factory=lambda: user_data_path("reedgate") / "reedgate.db", description="path of the store")
    max_body_bytes: int = Field(default=20_000_000, description="largest request body")
    max_labels: int = Field(default=200_000, description="most rows of one stock check, or labels of one resolution")
    max_label_characters: int = Field(default=2_000, description="longest label")
    border_tolerance_m: float = Field(default=2_000.0, description="a state line nearer than this has both states answered")


@cache
def settings() -> Settings:
    """The settings of this process."""
    return Settings()
