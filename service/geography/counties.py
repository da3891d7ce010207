"""The counties of the states: by FIPS code, or by name as people and laws write it.

County here means the county-level unit of the US Census Bureau: county, parish, borough, census
area, independent city.
"""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal, get_args

from service.errors import UnknownValue
from service.values.vocabulary import JURISDICTION_NAMES, CountyFips, Jurisdiction

CountyKind = Literal[
    "County",
    "Parish",
    "Borough",
    "City and Borough",
    "Census Area",
    "Municipality",
    "Planning Region",
    "city",
    "District",
]
COUNTY_KINDS: tuple[CountyKind, ...] = get_args(CountyKind)

_STATE_CODES = """
01 AL 02 AK 04 AZ 05 AR 06 CA 08 CO 09 CT 10 DE 11 DC 12 FL 13 GA 15 HI 16 ID 17 IL 18 IN 19 IA
20 KS 21 KY 22 LA 23 ME 24 MD 25 MA 26 MI 27 MN 28 MS 29 MO 30 MT 31 NE 32 NV 33 NH 34 NJ 35 NM
36 NY 37 NC 38 ND 39 OH 40 OK 41 OR 42 PA 44 RI 45 SC 46 SD 47 TN 48 TX 49 UT 50 VT 51 VA 53 WA
54 WV 55 WI 56 WY
"""
STATE_BY_FIPS: dict[str, Jurisdiction] = {
    number: Jurisdiction(f"US-{letters}")
    for number, letters in re.findall(r"(\d\d) ([A-Z]{2})", _STATE_CODES)
}
"""Two-digit FIPS state code (FIPS 5-2, now INCITS 38) to ISO 3166-2 code."""

_OTHER_NAMES: dict[str, tuple[str, ...]] = {
    "02158": ("Wade Hampton",),
    "11001": ("Washington", "Washington, D.C."),
    "12086": ("Dade",),
    "36005": ("The Bronx",),
    "36047": ("Brooklyn",),
    "36061": ("Manhattan",),
    "36085": ("Staten Island",),
    "46102": ("Shannon",),
}
"""Names in use beside the official one, or before a change of name. From memory."""

_FORMER_FIPS = {"02270": "02158", "12025": "12086", "46113": "46102"}
"""Codes that a change of name retired. From memory."""

_SUFFIX = re.compile(
    r"\s+(county|co|counties|parish|parishes|city and borough|borough|census area|municipality|"
    r"planning region|city|district)$"
)
_PREFIX = re.compile(r"^(city and borough|county|parish|city|borough|municipality)\s+of\s+(.+)$")


@dataclass(frozen=True, slots=True)
class County:
    """A county-level unit.

    Attributes:
        name: without the word for its kind: ``Lucas``, ``St. Louis``.
        kind: that word: ``County``, ``Parish``, ``city``.
    """

    fips: CountyFips
    state: Jurisdiction
    name: str
    kind: CountyKind

    @property
    def full_name(self) -> str:
        """``Lucas County``, ``Baltimore city``; the bare name where that is the whole of it."""
        bare = self.kind == "District" or (self.kind == "city" and self.name.endswith("City"))
        return self.name if bare else f"{self.name} {self.kind}"


class CountyTable:
    """Counties to look up. Holds no geometry and never changes."""

    def __init__(self, counties: Iterable[County]) -> None:
        self._by_fips = {
            county.fips: county for county in sorted(counties, key=lambda county: county.fips)
        }
        self._by_state: defaultdict[Jurisdiction, list[County]] = defaultdict(list)
        self._by_key: defaultdict[tuple[Jurisdiction, str], list[County]] = defaultdict(list)
        for county in self._by_fips.values():
            self._by_state[county.state].append(county)
            names = (county.name, county.full_name, f"{county.name} {county.kind}")
            for key in {_key(name) for name in names + _OTHER_NAMES.get(county.fips, ())}:
                self._by_key[county.state, key].append(county)

    def __iter__(self) -> Iterator[County]:
        return iter(self._by_fips.values())

    def __len__(self) -> int:
        return len(self._by_fips)

    def of_state(self, state: Jurisdiction) -> tuple[County, ...]:
        """Every county of a state, by FIPS code."""
        return tuple(self._by_state.get(state, ()))

    def matching(self, state: Jurisdiction, text: str) -> tuple[County, ...]:
        """The counties of a state that a text may mean: none, one, or the county and the city of
        one name.

        A word for the kind decides between county and city where it fits one of them, and is passed
        over where it fits none (``Orleans County`` is Orleans Parish).
        """
        code = text.strip()
        if re.fullmatch(r"\d{5}", code):
            county = self._by_fips.get(CountyFips(_FORMER_FIPS.get(code, code)))
            return (county,) if county is not None and county.state == state else ()
        words = _words(text)
        turned = _PREFIX.match(words)
        if turned:
            words = f"{turned[2]} {turned[1]}"
        for form in (words, _SUFFIX.sub("", words)):
            found = self._by_key.get((state, form.replace(" ", "")))
            if found:
                return tuple(found)
        return ()

    def find(self, state: Jurisdiction, text: str) -> County:
        """The one county of a state that a FIPS code or a name means.

        Case, accents, points, ``Saint`` for ``St.`` and the word for the kind do not matter.

        Raises:
            UnknownValue: none has the name (with near names), or both a county and a city do
                (with both).
        """
        found = self.matching(state, text)
        if len(found) == 1:
            return found[0]
        if found:
            raise UnknownValue(
                "Which county is meant by", text, [f"{county.full_name}" for county in found]
            )
        state_name = JURISDICTION_NAMES.get(state, state)
        raise UnknownValue(f"County of {state_name}", text, self._near(state, text))

    def _near(self, state: Jurisdiction, text: str) -> list[str]:
        names = {_key(county.name): county.full_name for county in self.of_state(state)}
        stripped = _SUFFIX.sub("", _words(text)).replace(" ", "")
        near = get_close_matches(stripped, names, n=5, cutoff=0.6)
        return [names[key] for key in near] or [
            *sorted(names.values())[:8],
            "a five-digit FIPS code",
        ]


def _words(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    plain = re.sub(r"['’ʻʼ`.]", "", plain)
    plain = re.sub(r"[^a-z0-9]+", " ", plain).strip()
    plain = re.sub(r"\bsaint\b", "st", plain)
    return re.sub(r"\bsainte\b", "ste", plain)


def _key(name: str) -> str:
    return _words(name).replace(" ", "")
