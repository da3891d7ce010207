"""Where the national open services are, and how they are asked."""

from collections.abc import Callable
from dataclasses import dataclass, field
from time import sleep

import httpx

from data_loaders.polite import Patience, PoliteClient


@dataclass(frozen=True, slots=True)
class Services:
    """Addresses of the services, and who asks.

    Layers of the feature services are found by their names, so that a renumbered service is still
    read.

    Attributes:
        contact: an e-mail or web address that is sent with every request; may be empty.
        pause_s: between two requests to one service.
    """

    contact: str = ""
    hydrography: str = "https://hydro.nationalmap.gov/arcgis/rest/services/NHDPlus_HR/MapServer"
    watersheds: str = "https://hydro.nationalmap.gov/arcgis/rest/services/wbd/MapServer"
    linked_data: str = "https://api.water.usgs.gov/nldi/linked-data"
    pause_s: float = 0.2
    patience: Patience = field(default_factory=Patience)

    def client(
        self, name: str, session: httpx.Client, wait: Callable[[float], None] = sleep
    ) -> PoliteClient:
        """A client of one of them."""
        who = f" (contact: {self.contact})" if self.contact else ""
        return PoliteClient(name, f"Reedgate data loader{who}", session, self.patience, wait)
