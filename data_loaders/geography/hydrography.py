"""What the feature codes and column names of the national hydrography data sets mean, old and new
generation.

Definitions of the feature types: USGS National Hydrography Dataset data dictionary, and USGS 3D
    Hydrography Program data
dictionary. The meanings of single codes below the type (intermittent, aqueduct) and the labels of
the newer data set are from memory. The line between pond and lake, 8 hectares, is that between
palustrine and lacustrine waters in the classification of Cowardin and others 1979
(FGDC-STD-004-2013), from memory.
"""

from dataclasses import dataclass
from typing import Literal

from service.values.vocabulary import Flow, WaterKind

POND_BELOW_M2 = 80_000.0
RIVER_FROM_ORDER = 7
"""Strahler order from which a stream is a river (Vannote and others 1980: large rivers above
order 6; from memory).
"""

Role = Literal["water", "by-size", "line", "path", "connector", "none"]
"""``by-size``: lake or pond by its area. ``line``: stream or river by name and order. ``path``: a
line through a wide water. ``connector``: carries water but is none to look at. ``none``: not a
water.
"""


@dataclass(frozen=True, slots=True)
class FeatureClass:
    """What a feature code says. ``kind`` is None where size, name or place decide."""

    role: Role
    kind: WaterKind | None
    flow: Flow


_OPEN = FeatureClass("by-size", None, "still")
_STREAM = FeatureClass("line", None, "moving")
_WETLAND = FeatureClass("water", "wetland", "still")
_RIVER = FeatureClass("water", "river", "moving")
_CANAL = FeatureClass("water", "canal", "slow")
_PATH = FeatureClass("path", None, "moving")
_CONNECTOR = FeatureClass("connector", None, "moving")
NOT_WATER = FeatureClass("none", None, "still")

_AREA_TYPES: dict[int, FeatureClass] = {
    390: _OPEN,  # LakePond
    436: _OPEN,  # Reservoir
    466: _WETLAND,  # SwampMarsh
    361: _WETLAND,  # Playa
    493: FeatureClass("water", "river", "slow"),  # Estuary
    460: _RIVER,  # StreamRiver
    537: _RIVER,  # AreaOfComplexChannels
    336: _CANAL,  # CanalDitch
    312: FeatureClass("water", "lake", "still"),  # BayInlet
}
_LINE_TYPES: dict[int, FeatureClass] = {
    460: _STREAM,
    336: _CANAL,
    558: _PATH,  # ArtificialPath
    334: _CONNECTOR,  # Connector
    428: _CONNECTOR,  # Pipeline
    420: _CONNECTOR,  # UndergroundConduit
}

_LABELS: tuple[tuple[str, FeatureClass, FeatureClass], ...] = (
    # word in the label, as an area, as a line
    ("coastline", NOT_WATER, NOT_WATER),
    ("ice mass", NOT_WATER, NOT_WATER),
    ("icemass", NOT_WATER, NOT_WATER),
    ("inundation", NOT_WATER, NOT_WATER),
    ("artificial path", _RIVER, _PATH),
    ("artificialpath", _RIVER, _PATH),
    ("connector", NOT_WATER, _CONNECTOR),
    ("pipeline", NOT_WATER, _CONNECTOR),
    ("conduit", NOT_WATER, _CONNECTOR),
    ("reservoir", _OPEN, _PATH),
    ("impoundment", _OPEN, _PATH),
    ("lake", _OPEN, _PATH),
    ("pond", _OPEN, _PATH),
    ("swamp", _WETLAND, _STREAM),
    ("marsh", _WETLAND, _STREAM),
    ("wetland", _WETLAND, _STREAM),
    ("bog", _WETLAND, _STREAM),
    ("fen", _WETLAND, _STREAM),
    ("playa", _WETLAND, _STREAM),
    ("bay", FeatureClass("water", "lake", "still"), _PATH),
    ("estuary", FeatureClass("water", "river", "slow"), _STREAM),
    ("canal", _CANAL, _CANAL),
    ("ditch", _CANAL, _CANAL),
    ("drainageway", _RIVER, _STREAM),
    ("wash", _RIVER, _STREAM),
    ("river", _RIVER, _STREAM),
    ("stream", _RIVER, _STREAM),
    ("creek", _RIVER, _STREAM),
    ("brook", _RIVER, _STREAM),
)

_BY_KIND: dict[WaterKind, Flow] = {
    "lake": "still",
    "pond": "still",
    "wetland": "still",
    "stream": "moving",
    "river": "moving",
    "canal": "slow",
}


def of_kind(kind: WaterKind) -> FeatureClass:
    """The class of a kind that a user's mapping names, with the usual flow of such a water
    (common practice).
    """
    return FeatureClass("water", kind, _BY_KIND[kind])


def drawn(*, is_area: bool) -> FeatureClass:
    """The class of a drawn shape of which nothing else is known: still water by its size, or a
    stream.
    """
    return _OPEN if is_area else _STREAM


def of_code(code: str, *, is_area: bool) -> FeatureClass | None:
    """The class of a three-digit feature type, a five-digit feature code, or a label; None when
    it is not known.
    """
    text = code.strip().casefold()
    if text.isdigit() and len(text) in (3, 5):
        if text == "33601" and not is_area:
            return FeatureClass("water", "canal", "moving")  # aqueduct
        table = _AREA_TYPES if is_area else _LINE_TYPES
        return table.get(int(text[:3]), NOT_WATER)
    for word, as_area, as_line in _LABELS:
        if word in text:
            return as_area if is_area else as_line
    return None


def kind_by_size(area_m2: float) -> WaterKind:
    """Pond below 8 hectares, else lake."""
    return "pond" if area_m2 < POND_BELOW_M2 else "lake"


def kind_of_line(name: str, order: int | None) -> WaterKind:
    """River by the word in its name or from stream order 7 up, else stream."""
    named_river = "river" in name.casefold().split()
    return "river" if named_river or (order is not None and order >= RIVER_FROM_ORDER) else "stream"


WORKING_LAYERS = ("nhdplusburn", "nhdpluswall", "nhdplussink")
"""Beginnings of the names of layers that the data set was made with: they hold its waters a
second time.
"""

# Column names, in order of preference. Case does not matter, nor a shapefile's cut to ten letters.

ID_COLUMNS: dict[str, tuple[str, ...]] = {
    "nhd": ("permanent_identifier",),
    "nhdplus": ("nhdplusid",),
    "3dhp": ("id3dhp",),
    "comid": ("comid",),
}
"""Data set to the column that names its features. A feature may have two."""

NAME_COLUMNS = ("gnis_name", "gnisidlabel")
GNIS_ID_COLUMNS = ("gnis_id", "gnisid")
CODE_COLUMNS = ("fcode", "ftype", "featuretypelabel", "featurety_1")
"""``featurety_1`` is ``featuretypelabel`` in a shapefile, where ``featuretype`` has taken the
cut name.
"""
ORDER_COLUMNS = ("streamorde", "streamorder")
FLOW_DIRECTION_COLUMNS = ("flowdir",)
THROUGH_COLUMNS = ("wbarea_permanent_identifier", "waterbodyid3dhp", "wbareacomi")
MAINSTEM_COLUMNS = ("mainstemid", "levelpathi", "levelpathid", "levelpath")

FROM_COLUMNS = ("from_permanent_identifier", "fromnhdpid", "fromcomid")
TO_COLUMNS = ("to_permanent_identifier", "tonhdpid", "tocomid")
"""Beyond ten letters ``from_permanent_identifier`` is cut to ``from_perma``."""

FROM_NODE_COLUMNS = ("fromnode",)
TO_NODE_COLUMNS = ("tonode",)
SEQUENCE_COLUMNS = ("hydroseq", "hydrosequence")
DOWN_SEQUENCE_COLUMNS = ("dnhydroseq", "dnhydrosequence")
DIVERGENCE_COLUMNS = ("divergence", "divergenceflag")

WATERSHED_LEVELS = (16, 14, 12, 10, 8, 6, 4, 2)
WATERSHED_COLUMNS = tuple(
    form.format(digits) for digits in WATERSHED_LEVELS for form in ("huc{}", "huc_{}", "huc{}_code")
)
"""Of the finest level first; ``HUC_12`` is the form of older editions."""
DOWNSTREAM_WATERSHED_COLUMNS = (
    "tohuc",
    *(f"hu_{digits}_ds" for digits in WATERSHED_LEVELS),
    *(f"to_huc_{digits}" for digits in WATERSHED_LEVELS),
)
WATERSHED_NAME_COLUMNS = (
    "name",
    *(form.format(digits) for digits in WATERSHED_LEVELS for form in ("hu_{}_name", "hu{}_name")),
    *NAME_COLUMNS,
)

DRAWN_NAME_COLUMNS = ("name", "title", "label")
DRAWN_KIND_COLUMNS = ("kind", "water_kind", "type", "natural", "waterway", "water")
"""Of a drawing that has none of the columns of a data set."""
