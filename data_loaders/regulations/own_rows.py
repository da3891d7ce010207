"""What each row of a list kept by hand says: an entry, a doubtful name, a cell that cannot be
read, or no plant at all.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Literal

from data_loaders.regulations.headers import Field, GridRow, Header
from data_loaders.regulations.listfile import EntryModel, TermModel
from data_loaders.regulations.own_names import OwnListRow, with_name
from data_loaders.regulations.phrases import terms_of
from service.errors import BadRequest, UnknownValue
from service.geography.counties import CountyTable
from service.names import Resolver
from service.values.vocabulary import ACTS, FEDERAL, Act, HowKnown, Jurisdiction, Rank

_ACT_WORDS: dict[Act, str] = {
    "import": "import|imports|importing|importation|bring in|bringing in",
    "export": "export|exports|exporting|exportation",
    "sell": "sell|sale|sales|selling|sold|retail|offer for sale|offering for sale|market|marketing",
    "buy": "buy|buying|purchase|purchases|purchasing|acquire|acquisition",
    "give": (
        "give|giving|gift|giving away|transfer|transferring|trade|trading|barter|distribute|"
        "distribution|distributing"
    ),
    "transport": (
        "transport|transports|transporting|transportation|move|moving|movement|ship|shipping|"
        "shipment|carry"
    ),
    "possess": "possess|possession|possessing|keep|keeping|hold|holding|own|owning|have",
    "propagate": (
        "propagate|propagation|propagating|grow|growing|raise|raising|culture|cultivate|"
        "cultivation|cultivating"
    ),
    "plant": "plant|plants|planting|install|installing|installation",
    "release": "release|releasing|introduce|introducing|introduction|dump|dumping|dispose in water",
}
_ACT_OF: dict[str, Act] = {
    word: act for act, words in _ACT_WORDS.items() for word in words.split("|")
}
_EVERY_ACT = frozenset({"all", "all acts", "any", "everything", "every act"})
_EVERYWHERE = frozenset(
    {
        "",
        "all",
        "all counties",
        "statewide",
        "countywide",
        "citywide",
        "entire state",
        "any",
        "everywhere",
    }
)

_MARK = re.compile(
    r"^\s*(?:[*†‡§¹²³#]+|\(?\d{1,2}[.)]\s|notes?\b|sources?\b|updated\b"
    r"|last (?:updated|revised)\b|revised\b|see\b|legend\b|key\b)",
    re.I,
)
_TRAILING_MARK = re.compile(r"\s*(?:[*†‡§¹²³⁴⁵⁶⁷⁸⁹]+|\[\d{1,2}\]|\(\d{1,2}\))\s*$")
_SECTION = re.compile(
    r"^(?:class|category|tier|group|list|part|schedule|level|prohibited|restricted|regulated|noxious|invasive|watch|banned)\b",
    re.I,
)
_CHECKED: dict[str, HowKnown] = {
    "read": "read",
    "yes": "read",
    "y": "read",
    "partly-read": "partly-read",
    "memory": "memory",
    "no": "memory",
    "n": "memory",
}


@dataclass(frozen=True, slots=True)
class Setting:
    """What holds for the whole list.

    Attributes:
        acts, class_name, county: where a row does not say.
        chosen: row number to accepted name, as a person decided; an empty name leaves the row out.
    """

    jurisdiction: Jurisdiction
    acts: tuple[Act, ...]
    class_name: str
    county: str
    how_known: Literal["read", "partly-read", "memory"]
    chosen: Mapping[int, str]


class RowReader:
    """Reads the rows under a header, in order; a section line gives the class of the rows under it.

    Raises:
        UnknownValue: the county of the whole list is none of its state.
    """

    def __init__(
        self, header: Header, setting: Setting, resolver: Resolver, counties: CountyTable
    ) -> None:
        self._header = header
        self._setting = setting
        self._resolver = resolver
        self._counties = counties
        self._section = ""
        self._county_of_list = tuple(self._county(name) for name in _parted(setting.county))

    def read(self, rows: Sequence[GridRow]) -> tuple[OwnListRow, ...]:
        """Every row, in order.

        Raises:
            BadRequest: a row that is not there was named, or a name is not a scientific one.
        """
        understood = tuple(self._row(row) for row in rows)
        check_chosen(self._setting.chosen, understood)
        return understood

    def _row(self, row: GridRow) -> OwnListRow:
        if row.is_blank:
            return OwnListRow(row.number, "blank")
        if self._repeats_header(row):
            return OwnListRow(row.number, "repeated-header", say="The header again.")
        aside = self._aside(row)
        return aside or self._plant(row)

    def _repeats_header(self, row: GridRow) -> bool:
        titles = self._header.titles
        shown = [
            (cell, titles[column]) for column, cell in enumerate(row.cells[: len(titles)]) if cell
        ]
        return len(shown) > 1 and all(cell.casefold() in title.casefold() for cell, title in shown)

    def _aside(self, row: GridRow) -> OwnListRow | None:
        """A section line or a footnote: a row with one text, where the list has more columns,
        that names no plant.
        """
        if row.number in self._setting.chosen or len(row.distinct) != 1:
            return None
        text = row.distinct[0]
        sentence = len(text.split()) > 9 or (text.endswith(".") and len(text.split()) > 4)
        if _MARK.match(text) or sentence:
            return OwnListRow(row.number, "footnote", say=text)
        if (
            len(self._header.columns) > 1
            and _SECTION.match(text)
            and not self._resolver.resolve(text).confirmed
        ):
            self._section = text.rstrip(":")
            return OwnListRow(
                row.number,
                "section",
                class_name=self._section,
                say=f"Class of the rows below: {self._section}.",
            )
        return None

    def _plant(self, row: GridRow) -> OwnListRow:
        scientific = _TRAILING_MARK.sub("", self._text(row, "scientific"))
        common = _TRAILING_MARK.sub("", self._text(row, "common"))
        either = _TRAILING_MARK.sub("", self._text(row, "name"))
        listed = scientific or either or common
        class_name = self._text(row, "class") or self._section or self._setting.class_name
        plain = OwnListRow(
            row.number,
            "unreadable",
            listed,
            common if common != listed else "",
            class_name=class_name,
        )
        if not listed:
            return replace(
                plain, say="The columns of names are empty. Give one, or delete the row."
            )
        try:
            acts = self._acts(row)
            counties = self._counties_of(row)
            begins = _day(self._text(row, "from-date"))
        except UnknownValue as error:
            return replace(plain, say=str(error))
        return self._named(replace(plain, acts=acts, counties=counties), row, begins)

    def _named(self, plain: OwnListRow, row: GridRow, begins: date | None) -> OwnListRow:
        """The row with its name found or chosen, and its entry where that is sure."""
        found, accepted, rank = with_name(
            plain, self._resolver, self._setting.chosen.get(row.number)
        )
        return (
            replace(found, entry=self._entry(found, row, accepted, rank, begins))
            if accepted
            else found
        )

    def _entry(
        self, found: OwnListRow, row: GridRow, accepted: str, rank: Rank, begins: date | None
    ) -> EntryModel:
        notes = [self._text(row, "notes"), self._text(row, "citation")]
        exceptions, condition, area = (
            self._text(row, "exceptions"),
            self._text(row, "condition"),
            self._text(row, "area"),
        )
        area = "" if area.casefold() in _EVERYWHERE else area
        terms = [*terms_of(exceptions, area, condition)]
        if found.counties:
            words = "; ".join(found.counties)
            area = f"{area}; {words}" if area else words
            terms.append(TermModel(kind="only-counties", words=words, counties=found.counties))
        if begins is not None:
            terms.append(
                TermModel(kind="from-date", words=f"in force from {begins.isoformat()}", on=begins)
            )
        terms += [TermModel(kind="note", words=note) for note in notes if note]
        address = self._text(row, "address")
        return EntryModel.model_validate(
            {
                "class": found.class_name,
                "name_as_listed": found.listed if found.listed != found.common else "",
                "common_as_listed": found.common,
                "accepted_name": accepted,
                "rank": rank,
                "exceptions": exceptions,
                "area": area,
                "condition": "; ".join(
                    [*([condition] if condition else []), *(note for note in notes if note)]
                ),
                "how_known": _CHECKED.get(
                    self._text(row, "how-known").casefold(), self._setting.how_known
                ),
                "read_url": address if address.startswith(("http://", "https://")) else "",
                "terms": [term.model_dump() for term in terms],
            }
        )

    def _text(self, row: GridRow, wanted: Field) -> str:
        column = self._header.columns.get(wanted)
        return row.cells[column] if column is not None and column < len(row.cells) else ""

    def _acts(self, row: GridRow) -> tuple[Act, ...]:
        words = self._text(row, "acts")
        return acts_of(words) if words else self._setting.acts

    def _counties_of(self, row: GridRow) -> tuple[str, ...]:
        text = self._text(row, "county")
        return (
            self._county_of_list
            if text.casefold() in _EVERYWHERE
            else tuple(self._county(name) for name in _parted(text))
        )

    def _county(self, text: str) -> str:
        code = text.zfill(5) if text.isdigit() and len(text) in (4, 5) else text
        if self._setting.jurisdiction == FEDERAL:
            raise UnknownValue(
                "County of the whole country",
                text,
                ["a list of its own for the state of that county"],
            )
        return self._counties.find(self._setting.jurisdiction, code).full_name


def check_chosen(chosen: Mapping[int, str], rows: Iterable[OwnListRow]) -> None:
    """Refuse decisions on rows that hold no plant.

    Raises:
        BadRequest: names the rows.
    """
    missing = set(chosen) - {
        row.number
        for row in rows
        if row.kind not in ("blank", "section", "footnote", "repeated-header")
    }
    if missing:
        raise BadRequest(
            f"Rows chosen that have no plant: {', '.join(map(str, sorted(missing)))}.",
            next_step="Take the row numbers from the dry run.",
        )


def entry_row(
    number: int,
    entry: EntryModel,
    acts: tuple[Act, ...],
    resolver: Resolver,
    chosen: Mapping[int, str],
) -> OwnListRow:
    """An entry of a list file as a row, its name put to the resolver like any other."""
    plain = OwnListRow(
        number,
        "doubtful-name",
        entry.accepted_name,
        entry.common_as_listed,
        class_name=entry.class_name,
        acts=acts,
    )
    found, accepted, _ = with_name(plain, resolver, chosen.get(number))
    return (
        replace(found, entry=entry.model_copy(update={"accepted_name": accepted}))
        if accepted
        else found
    )


def acts_of(words: str) -> tuple[Act, ...]:
    """The acts that words such as ``sale, transport`` name, in the order of the vocabulary.

    Raises:
        UnknownValue: a word names no act.
    """
    if words.strip().casefold() in _EVERY_ACT:
        return ACTS
    found: set[Act] = set()
    for part in re.split(r"[;,/&|]|\band\b|\bor\b", words.casefold()):
        plain = " ".join(re.sub(r"^(?:no|not|do not|don't)\s+", "", part.strip(" .")).split())
        if plain:
            act = _ACT_OF.get(plain)
            if act is None:
                raise UnknownValue("Act", plain, ACTS)
            found.add(act)
    return tuple(act for act in ACTS if act in found)


def _parted(text: str) -> Iterable[str]:
    parts = re.split(r"[;,|]|\s+and\s+|\s*&\s*", text)
    return (part.strip() for part in parts if part.strip())


def _day(text: str) -> date | None:
    if not text:
        return None
    for form in ("%Y-%m-%d", "%m/%d/%Y", "%m/%d/%y", "%B %d, %Y", "%b %d, %Y", "%d %B %Y"):
        try:
            return datetime.strptime(text, form).date()
        except ValueError:
            continue
    raise UnknownValue("Date", text, ["2026-01-31", "1/31/2026"])
