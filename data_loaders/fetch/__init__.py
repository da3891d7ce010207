"""Open data of a site's surroundings from the national services, kept in the store like any load.

Waters and flow come from the national hydrography's feature service, watersheds from that of the
watershed boundaries, records from the open occurrence search. What came is kept as a file beside
the store first, page by page, so that a fetch that was stopped goes on; the file is then loaded by
the ordinary loader, so that fetching the same again changes nothing.
"""

from data_loaders.fetch.around import MOST_KM, Around
from data_loaders.fetch.records import fetch_records
from data_loaders.fetch.services import Services
from data_loaders.fetch.waters import fetch_waters
from data_loaders.fetch.watersheds import fetch_watersheds

__all__ = [
    "MOST_KM",
    "Around",
    "Services",
    "fetch_records",
    "fetch_waters",
    "fetch_watersheds",
]
