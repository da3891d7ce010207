"""The invented county: its streams reach by reach, its ponds, lake and wetlands. Nothing here
exists.
"""

import random
from dataclasses import dataclass, field

from demo_data.geography.shapes import Point, course, round_shore, shore_along

STREAM, INTERMITTENT, PATH, DITCH = 46006, 46003, 55800, 33600
LAKE_POND, RESERVOIR, MARSH, WIDE_STREAM = 39004, 43600, 46600, 46006

GNIS_IDS = {
    "Ferrow River": "99100001",
    "Mill Run": "99100002",
    "Querrin Creek": "99100003",
    "Sallow Brook": "99100004",
    "Tansel Run": "99100005",
    "Hobb Ditch": "99100006",
    "Tollen Mill Lake": "99100011",
    "Wick Pond": "99100012",
    "Brindle Marsh": "99100013",
    "Ostler Bog": "99100014",
}
"""Invented names with invented identifiers."""


@dataclass
class Reach:
    """One flowline.

    ``basin`` is the watershed it lies in; ``divergence`` 1 main, 2 lesser branch, 0 none.
    """

    number: int
    line: list[Point]
    fcode: int
    name: str
    basin: str
    from_node: int
    to_node: int
    divergence: int = 0
    through: int | None = None


@dataclass
class Area:
    """A lake, pond, wetland or wide river. ``layer`` is that of the national data set."""

    number: int
    ring: list[Point]
    fcode: int
    name: str = ""
    layer: str = "NHDWaterbody"


@dataclass
class County:
    """All of it, and the numbering."""

    reaches: list[Reach] = field(default_factory=list)
    areas: list[Area] = field(default_factory=list)
    nodes: int = 0

    def node(self) -> int:
        self.nodes += 1
        return self.nodes

    def add_area(
        self, ring: list[Point], fcode: int, name: str = "", layer: str = "NHDWaterbody"
    ) -> int:
        self.areas.append(Area(len(self.areas) + 1, ring, fcode, name, layer))
        return len(self.areas)

    def add_stream(
        self,
        lines: list[list[Point]],
        fcode: int,
        name: str,
        basin: str,
        *,
        from_node: int | None = None,
        to_node: int | None = None,
    ) -> list[Reach]:
        """Reaches end to end, from a new node or a given one to a new node or a given one."""
        made: list[Reach] = []
        node = from_node if from_node is not None else self.node()
        for place, line in enumerate(lines):
            end = to_node if to_node is not None and place == len(lines) - 1 else self.node()
            made.append(Reach(len(self.reaches) + 1, line, fcode, name, basin, node, end))
            self.reaches.append(made[-1])
            node = end
        return made


def invent(seed: int) -> County:
    """The county of a seed."""
    chance = random.Random(seed)
    county = County()
    river = county.add_stream(
        course((-13_000, -9_000), (11_000, 12_000), 20, 900, chance), STREAM, "Ferrow River", ""
    )
    for place, reach in enumerate(river):
        reach.basin = "Upper Ferrow River" if place < 9 else "Lower Ferrow River"
    mill = _tributary(county, chance, (-2_000, -13_500), river[7], 9, "Mill Run")
    querrin = _tributary(county, chance, (-13_500, 1_500), river[9], 8, "Querrin Creek")
    sallow = _tributary(county, chance, (10_000, -8_000), river[12], 8, "Sallow Brook")
    tansel = _tributary(county, chance, (-5_000, 9_800), river[16], 6, "Tansel Run")
    _pond_stream(county, chance, (-6_500, -13_800), mill[3], 3, "Mill Run", "")
    _pond_stream(county, chance, (3_500, -12_000), mill[2], 3, "Mill Run", "")
    _pond_stream(county, chance, (-12_500, 6_500), querrin[4], 3, "Querrin Creek", "Wick Pond")
    _pond_stream(county, chance, (-9_000, 7_000), querrin[6], 2, "Querrin Creek", "")
    _pond_stream(county, chance, (11_500, -3_500), sallow[3], 2, "Sallow Brook", "")
    _pond_stream(county, chance, (-1_500, 12_500), tansel[3], 2, "Tansel Run", "")
    _ditch(county, chance, river[4], querrin[7])
    _braid(county, river[13])
    _wide_waters(county, river, mill, sallow)
    _waters_apart(county, chance)
    return county


def _tributary(
    county: County, chance: random.Random, head: Point, into: Reach, reaches: int, name: str
) -> list[Reach]:
    return county.add_stream(
        course(head, into.line[0], reaches, 500, chance), STREAM, name, name, to_node=into.from_node
    )


def _pond_stream(
    county: County,
    chance: random.Random,
    head: Point,
    into: Reach,
    reaches: int,
    basin: str,
    pond_name: str,
) -> None:
    """An unnamed stream that rises in a pond: a path through the pond, then the stream."""
    lines = course(head, into.line[0], reaches, 250, chance)
    pond = county.add_area(round_shore(head, chance.uniform(55, 95), chance), LAKE_POND, pond_name)
    first = lines[0]
    path, rest = first[:2], first[1:]
    start = county.node()
    middle = county.node()
    through = county.add_stream([path], PATH, "", basin, from_node=start, to_node=middle)[0]
    through.through = pond
    county.areas[-1].ring = shore_along(
        [_beyond(path[1], path[0], 0.35), *_between(path), _beyond(path[0], path[1], 0.05)], 70
    )
    county.add_stream(
        [rest, *lines[1:]], INTERMITTENT, "", basin, from_node=middle, to_node=into.from_node
    )


def _beyond(start: Point, end: Point, share: float) -> Point:
    """A point past the end of a line, by a share of its length."""
    return end[0] + share * (end[0] - start[0]), end[1] + share * (end[1] - start[1])


def _between(line: list[Point]) -> list[Point]:
    (x1, y1), (x2, y2) = line[0], line[-1]
    return [(x1 + share * (x2 - x1), y1 + share * (y2 - y1)) for share in (0.1, 0.3, 0.5, 0.7, 0.9)]


def _ditch(county: County, chance: random.Random, out_of: Reach, into: Reach) -> None:
    lines = course(out_of.line[0], into.line[0], 2, 30, chance)
    made = county.add_stream(
        lines,
        DITCH,
        "Hobb Ditch",
        "Upper Ferrow River",
        from_node=out_of.from_node,
        to_node=into.from_node,
    )
    made[0].divergence, out_of.divergence = 2, 1


def _braid(county: County, beside: Reach) -> None:
    """A second channel about an island, a little longer than the first."""
    first, last = beside.line[0], beside.line[-1]
    across = (-(last[1] - first[1]) * 0.18, (last[0] - first[0]) * 0.18)
    bulge = (0.0, 0.5, 0.85, 1.0, 1.0, 1.0, 0.85, 0.5, 0.0)
    line = [
        (x + offset * across[0], y + offset * across[1])
        for (x, y), offset in zip(beside.line, bulge, strict=True)
    ]
    made = county.add_stream(
        [line],
        STREAM,
        "Ferrow River",
        beside.basin,
        from_node=beside.from_node,
        to_node=beside.to_node,
    )
    made[0].divergence, beside.divergence = 2, 1


def _wide_waters(
    county: County, river: list[Reach], mill: list[Reach], sallow: list[Reach]
) -> None:
    """The mill lake, a marsh that a brook runs through, and the wide lower river."""
    _through(
        mill[5], county.add_area(shore_along(mill[5].line, 130), RESERVOIR, "Tollen Mill Lake")
    )
    _through(sallow[4], county.add_area(shore_along(sallow[4].line, 190), MARSH, "Brindle Marsh"))
    lower = [
        point for reach in river[17:] for point in reach.line[: None if reach is river[-1] else -1]
    ]
    wide = county.add_area(shore_along(lower, 22, 0.9), WIDE_STREAM, "Ferrow River", "NHDArea")
    for reach in river[17:]:
        _through(reach, wide)


def _through(reach: Reach, area: int) -> None:
    reach.fcode, reach.through = PATH, area


def _waters_apart(county: County, chance: random.Random) -> None:
    """Ponds and wetlands that no line runs through, and one drawn wrongly on purpose."""
    for centre in (
        (-9_500, -3_000),
        (4_500, 1_200),
        (6_800, 4_900),
        (-3_000, 4_600),
        (1_800, -4_200),
    ):
        county.add_area(round_shore(centre, chance.uniform(35, 80), chance), LAKE_POND)
    county.add_area(round_shore((-10_800, -12_600), 260, chance), MARSH, "Ostler Bog")
    county.add_area(round_shore((7_900, 9_600), 180, chance), MARSH)
    x, y = 8_400.0, -11_500.0
    county.add_area([(x, y), (x + 120, y + 90), (x + 120, y), (x, y + 90), (x, y)], LAKE_POND)
