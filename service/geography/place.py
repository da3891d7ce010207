"""Where a site lies: state, county, neighbours, hardiness zone, watershed, each with how it is
known.
"""

import re
from dataclasses import dataclass

from service.geography.counties import County
from service.geography.hardiness import interval_of
from service.values.plants import Provenance
from service.values.site import Climate, Locality
from service.values.vocabulary import Jurisdiction

BORDER_TOLERANCE_M = 2_000.0
"""A site this near to another state is answered for both: common practice, no source."""


@dataclass(frozen=True, slots=True)
class NearState:
    """A state and its nearest position to a point; ``distance_m`` is 0 inside it."""

    state: Jurisdiction
    distance_m: float
    longitude: float
    latitude: float


@dataclass(frozen=True, slots=True)
class Watershed:
    """A hydrologic unit.

    Attributes:
        watershed_id: its code, two digits a level, leading zeros kept.
        downstream: code of the unit that it drains to, or a word such as ``OCEAN`` or ``CLOSED
            BASIN``; empty unknown.
    """

    watershed_id: str
    name: str
    downstream: str
    area_m2: float


@dataclass(frozen=True, slots=True)
class Location:
    """What the store says of a position or a ZIP code. None is not known, and ``notes`` say why.

    Attributes:
        counties: more than one on a shared border.
        neighbours: other states within the border tolerance, nearest first.
        zones: hardiness half zones, coldest first; more than one where sources or polygons differ.
    """

    state: Jurisdiction | None = None
    state_known: Provenance | None = None
    counties: tuple[County, ...] = ()
    county_known: Provenance | None = None
    neighbours: tuple[NearState, ...] = ()
    zones: tuple[str, ...] = ()
    zone_known: Provenance | None = None
    watershed: Watershed | None = None
    watershed_known: Provenance | None = None
    notes: tuple[str, ...] = ()

    @property
    def county(self) -> County | None:
        """The county, where it is one alone."""
        return self.counties[0] if len(self.counties) == 1 else None

    @property
    def locality(self) -> Locality:
        """As the law looks at it."""
        county = self.county
        return Locality(
            self.state, county.fips if county else None, county.full_name if county else ""
        )

    @property
    def climate(self) -> Climate:
        """As winter survival looks at it: the whole range of the zones that it may be in."""
        if not self.zones:
            return Climate()
        intervals = [interval_of(zone) for zone in self.zones]
        extreme = (
            min(interval.low_c for interval in intervals),
            max(interval.high_c for interval in intervals),
        )
        return Climate(self.zones[0] if len(self.zones) == 1 else None, extreme)


_ZIP_PREFIXES = """
AL 350-352 354-369; AK 995-999; AZ 850-853 855-857 859-860 863-865; AR 716-729; CA 900-908 910-928
930-961; CO 800-816; CT 060-069; DE 197-199; DC 200 202-205 569; FL 320-339 341-342 344 346-347
349; GA 300-319 398-399; HI 967-968; ID 832-838; IL 600-620 622-629; IN 460-479; IA 500-516
520-528; KS 660-662 664-679; KY 400-418 420-427; LA 700-701 703-708 710-714; ME 039-049; MD
206-212 214-219; MA 010-027 055; MI 480-499; MN 550-551 553-567; MS 386-397; MO 630-631 633-641
644-658; MT 590-599; NE 680-681 683-693; NV 889-891 893-895 897-898; NH 030-038; NJ 070-089; NM
870-871 873-875 877-884; NY 005 100-149; NC 270-289; ND 580-588; OH 430-459; OK 730-731 734-741
743-749; OR 970-979; PA 150-191 193-196; RI 028-029; SC 290-299; SD 570-577; TN 370-385; TX 733
750-770 772-799 885; UT 840-847; VT 050-054 056-059; VA 201 220-246; WA 980-986 988-994; WV
247-268; WI 530-532 534-535 537-549; WY 820-831
"""
"""First three digits of the ZIP codes of each state, as the Postal Service sorts them.

From memory, not yet seen.
"""


def _states_by_prefix() -> dict[str, Jurisdiction]:
    found: dict[str, Jurisdiction] = {}
    for entry in _ZIP_PREFIXES.split(";"):
        letters, *ranges = entry.split()
        for span in ranges:
            low, _, high = span.partition("-")
            found |= {
                f"{number:03d}": Jurisdiction(f"US-{letters}")
                for number in range(int(low), int(high or low) + 1)
            }
    return found


_STATE_BY_PREFIX = _states_by_prefix()


def is_zip(text: str) -> bool:
    """Whether a text is a ZIP code, with or without the four digits behind it."""
    return re.fullmatch(r"\d{5}(-\d{4})?", text.strip()) is not None


def state_of_zip(zip_code: str) -> Jurisdiction | None:
    """The state that a ZIP code belongs to by its first three digits; a few codes reach over a
    state line.
    """
    return _STATE_BY_PREFIX.get(zip_code.strip()[:3])
