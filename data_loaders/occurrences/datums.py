"""Coordinates of old datums brought to WGS84, by pyproj."""

import re
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError

from data_loaders.occurrences.terms import NEAR_WGS84_WORDS, collapse

_WORDS = {
    "nad27": "EPSG:4267",
    "nad1927": "EPSG:4267",
    "northamericandatum1927": "EPSG:4267",
    "gcsnorthamerican1927": "EPSG:4267",
    "northamerican1927": "EPSG:4267",
    "wgs72": "EPSG:4322",
    "wgs1972": "EPSG:4322",
    "worldgeodeticsystem1972": "EPSG:4322",
    "oldhawaiian": "EPSG:4135",
    "puertorico": "EPSG:4139",
    "ed50": "EPSG:4230",
    "europeandatum1950": "EPSG:4230",
    "sad69": "EPSG:4618",
    "tokyo": "EPSG:4301",
}
"""Names of geographic datums as records have them, to codes of the EPSG register."""
_CODE = re.compile(r"(?:epsg|EPSG)\D{0,6}(\d{4,5})\b")

WGS84 = "EPSG:4326"


@lru_cache(maxsize=10_000)
def datum_of(written: str) -> str | None:
    """The datum of a record: empty for WGS84 and what lies within a metre or two of it, else the
    code of a datum that can be brought there; None for one that is not known.
    """
    word = collapse(written)
    if word in NEAR_WGS84_WORDS:
        return ""
    code = _WORDS.get(word)
    found = _CODE.search(written)
    if code is None and found:
        code = f"EPSG:{found[1]}"
    elif code is None and re.fullmatch(r"\d{4,5}", word) and "/" in written:
        code = f"EPSG:{word}"
    if code is None:
        return None
    return code if _is_geographic(code) else None


@lru_cache(maxsize=1_000)
def _is_geographic(code: str) -> bool:
    try:
        return bool(CRS.from_user_input(code).is_geographic)
    except CRSError:
        return False


def to_wgs84(
    code: str, longitudes: Sequence[float], latitudes: Sequence[float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Longitudes and latitudes in degrees of a datum, in WGS84; as they were where the datum does
    not reach there.
    """
    transformer = _transformer(code)
    before = np.asarray(longitudes, dtype=np.float64), np.asarray(latitudes, dtype=np.float64)
    after = transformer.transform(*before)
    good = np.isfinite(after[0]) & np.isfinite(after[1])
    return np.where(good, after[0], before[0]), np.where(good, after[1], before[1])


@lru_cache(maxsize=50)
def _transformer(code: str) -> Transformer:
    return Transformer.from_crs(code, WGS84, always_xy=True)
