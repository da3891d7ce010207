"""Law as values: lists in their versions, classes with the acts they restrict, entries with their
terms.

A list is one instrument of one jurisdiction. Its words are kept beside the structure read out of
them, so that a person can hold the one against the other. Everything here is data that the engine
reads; nothing decides.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import wraps
from itertools import zip_longest
from typing import Any, Literal, TypeVar, TypeVarTuple, get_args

from service.values.kept import Kept
from service.values.vocabulary import Act, CountyFips, HowKnown, Jurisdiction, ListId, PlantId, Rank

InstrumentKind = Literal["statute", "regulation", "order", "agency-list", "ordinance", "own-rule"]
"""``own-rule`` is not law: a buyer's, an owners' association's or one's own list, kept apart."""

Completeness = Literal["complete", "partial", "truncated", "none"]
"""Of the entries for plants of water and wet ground: all are loaded; what is missing is known not
to be such a plant; the copy read breaks off, or a later version is known and not loaded; none is
loaded.
"""

Duty = Literal["none", "control", "eradicate", "report", "unknown"]
Permit = Literal["yes", "no", "unknown"]
Scope = Literal["subordinate-taxa", "hybrids", "cultivars", "seeds-and-parts"]
SCOPES: tuple[Scope, ...] = get_args(Scope)

TermKind = Literal[
    "except-taxa",  # these taxa are out
    "except-native",  # members native to the jurisdiction are out
    "except-cultivars",  # these named cultivars are out
    "except-approved-cultivars",  # cultivars that the authority has approved are out
    "except-variegated",  # variegated cultivars are out
    "except-forms",  # cultivars of a look that the words describe are out
    "except-all-cultivars",  # every cultivar and hybrid is out
    "only-cultivars",  # cultivars alone are in
    "hybrids-of-listed-parents",  # a hybrid is in only where both parents are listed
    "strain",  # one strain or form alone is in
    "seeds-only",  # seed lots alone are in
    "only-counties",  # in these counties alone
    "except-counties",  # in these counties not
    "only-regions",  # areas that the rule names and that are not reduced to counties here
    "except-waters",  # in these waters not
    "only-where",  # for these acts, only at the places in the words
    "from-date",  # barred from this day on
    "sold-off-until",  # stock in hand may be disposed of until this day
    "spares-existing",  # what was there already when it was listed
    "spares-dead",  # dead or lifeless material
    "spares-use",  # a use, such as food
    "spares-circumstance",  # research, disposal, land sales and the like
    "purpose",  # for these acts, only for the purpose in the words
    "permit",  # says that a permit is a way
    "doubt",  # leaves the entry unverified
    "note",  # how it was read; no effect
    "unstructured",  # words that could not be given a structure
]
TERM_KINDS: tuple[TermKind, ...] = get_args(TermKind)


@dataclass(frozen=True, slots=True)
class Term:
    """One phrase of an entry's exceptions, area or condition.

    Attributes:
        words: as kept in the list file.
        acts: the acts it limits; empty is all.
        taxa: plants it names, with those below them.
        cultivars: epithets it names, in lower case.
        counties: those it names; of ``only-regions``, those that the words place inside; of
            ``except-waters``, where the waters lie.
        on: the day it names.
    """

    kind: TermKind
    words: str
    acts: tuple[Act, ...] = ()
    taxa: tuple[PlantId, ...] = ()
    cultivars: tuple[str, ...] = ()
    counties: tuple[CountyFips, ...] = ()
    on: date | None = None

    def reaches_act(self, act: Act) -> bool:
        return not self.acts or act in self.acts


@dataclass(frozen=True, slots=True)
class Entry:
    """A taxon as a list has it.

    Attributes:
        plant_id: the store's plant for the accepted name.
        rank: the rank that the list itself names.
    """

    class_name: str
    plant_id: PlantId
    accepted_name: str
    rank: Rank
    how_known: HowKnown
    name_as_listed: str = ""
    common_as_listed: str = ""
    scope: tuple[Scope, ...] = ()
    exceptions: str = ""
    area: str = ""
    condition: str = ""
    terms: tuple[Term, ...] = ()
    read_url: str = ""

    @property
    def key(self) -> tuple[str, str, str]:
        """What makes it the same entry in another version of its list, save for its class."""
        return (self.accepted_name, self.name_as_listed or self.common_as_listed, self.area)


@dataclass(frozen=True, slots=True)
class ListClass:
    """A class of a list.

    Attributes:
        acts: those it restricts.
        acts_known: whether these are all; False where some, or all, were not established.
        permit_for: purposes for which alone a permit is given, where the text names them; empty is
            not stated.
        every_aquatic_plant: the class reaches every aquatic plant, without entries.
        open_definition: the class is defined by the harm a plant does, so it may reach plants that
            no list names.
    """

    name: str
    acts: tuple[Act, ...]
    how_known: HowKnown
    acts_known: bool = True
    duty: Duty = "unknown"
    permit: Permit = "unknown"
    permit_for: tuple[str, ...] = ()
    summary: str = ""
    every_aquatic_plant: bool = False
    open_definition: bool = False
    terms: tuple[Term, ...] = ()


@dataclass(frozen=True, slots=True)
class ListVersion:
    """One version of a list.

    Attributes:
        effective_from: first day in force; None where not established (then it is taken to reach
            back).
        superseded_on: first day no longer in force.
        amended: day of the latest amendment that the copy shows.
        missing: what of the list is not loaded, in words; empty where nothing is or it is not said.
    """

    list_id: ListId
    jurisdiction: Jurisdiction
    title: str
    authority: str
    citation: str
    kind: InstrumentKind
    how_known: HowKnown
    completeness: Completeness
    url: str = ""
    effective_from: date | None = None
    amended: date | None = None
    superseded_on: date | None = None
    read_url: str = ""
    read_copy_date: str = ""
    missing: str = ""
    note: str = ""
    classes: tuple[ListClass, ...] = ()
    entries: tuple[Entry, ...] = ()

    def in_force(self, on: date) -> bool:
        begun = self.effective_from is None or self.effective_from <= on
        return begun and (self.superseded_on is None or on < self.superseded_on)

    @property
    def is_law(self) -> bool:
        return self.kind != "own-rule"

    def may_name_unseen(self, act: Act) -> bool:
        """Whether a part of the list that is not loaded may restrict an act with a plant that the
        part loaded does not name.

        A copy that breaks off may have further classes, unless it is a list that restricts no act
        at all. A list of which only the rule was read restricts the acts of its rule.
        """
        acts_open = not self.classes or any(not rule.acts_known for rule in self.classes)
        match self.completeness:
            case "truncated":
                return acts_open or any(rule.acts for rule in self.classes)
            case "none":
                return acts_open or any(act in rule.acts for rule in self.classes)
            case _:
                return False

    @property
    def has_open_definition(self) -> bool:
        return any(rule.open_definition for rule in self.classes)


Topic = Literal["trade", "waters"]
"""What an office answers for: sale, movement and growing for sale; keeping and release in
waters.
"""


@dataclass(frozen=True, slots=True)
class Office:
    """The office of a jurisdiction to ask on a topic.

    Attributes:
        url_known: ``memory`` where the address was not opened.
    """

    jurisdiction: Jurisdiction
    topic: Topic
    name: str
    url: str
    url_known: Literal["read", "memory"]


@dataclass(frozen=True, slots=True)
class FiledEntry:
    """An entry with its list and class."""

    version: ListVersion
    list_class: ListClass
    entry: Entry


@dataclass(frozen=True, eq=False)
class LawBook:
    """All list versions that the store holds, filed for look-up by jurisdiction and plant. Compared
    by identity.

    Of one list at most one version is in force on a day: a version ends at the latest where the
        next of its list begins.
    """

    versions: tuple[ListVersion, ...]
    offices: tuple[Office, ...] = ()
    _by_jurisdiction: Mapping[Jurisdiction, tuple[ListVersion, ...]] = field(init=False, repr=False)
    _listing: Mapping[PlantId, frozenset[Jurisdiction]] = field(init=False, repr=False)
    _filed: Mapping[tuple[Jurisdiction, PlantId], tuple[FiledEntry, ...]] = field(
        init=False, repr=False
    )
    answers: dict[Callable[..., Any], Kept[Any, Any]] = field(
        init=False, repr=False, default_factory=dict
    )
    """What functions of the book answered (``cached_by_book``)."""

    def __post_init__(self) -> None:
        ordered = tuple(sorted(_each_until_the_next(self.versions), key=_version_order))
        by_jurisdiction: dict[Jurisdiction, list[ListVersion]] = defaultdict(list)
        filed: dict[tuple[Jurisdiction, PlantId], list[FiledEntry]] = defaultdict(list)
        for version in ordered:
            by_jurisdiction[version.jurisdiction].append(version)
            classes = {rule.name: rule for rule in version.classes}
            for entry in sorted(
                version.entries, key=lambda entry: (entry.key, entry.class_name, repr(entry))
            ):
                place = (version.jurisdiction, entry.plant_id)
                filed[place].append(FiledEntry(version, classes[entry.class_name], entry))
        listing: dict[PlantId, set[Jurisdiction]] = defaultdict(set)
        for jurisdiction, plant in filed:
            listing[plant].add(jurisdiction)
        object.__setattr__(
            self, "_listing", {plant: frozenset(places) for plant, places in listing.items()}
        )
        object.__setattr__(self, "versions", ordered)
        object.__setattr__(
            self, "_by_jurisdiction", {key: tuple(found) for key, found in by_jurisdiction.items()}
        )
        object.__setattr__(self, "_filed", {key: tuple(found) for key, found in filed.items()})

    def lists_of(self, jurisdiction: Jurisdiction) -> tuple[ListVersion, ...]:
        """Every version of every list of a jurisdiction."""
        return self._by_jurisdiction.get(jurisdiction, ())

    def places_listing(self, plants: Iterable[PlantId]) -> frozenset[Jurisdiction]:
        """Jurisdictions that list any of these plants."""
        listing = self._listing
        return frozenset(place for plant in plants if plant in listing for place in listing[plant])

    def filed(self, jurisdiction: Jurisdiction, plants: Iterable[PlantId]) -> Sequence[FiledEntry]:
        """Entries of a jurisdiction for any of these plants."""
        filed = self._filed
        return [
            entry
            for plant in plants
            if (jurisdiction, plant) in filed
            for entry in filed[jurisdiction, plant]
        ]

    def listed(
        self, jurisdiction: Jurisdiction, plants: Iterable[PlantId], on: date
    ) -> frozenset[PlantId]:
        """Those of the plants that a law of the jurisdiction in force on a day names."""
        filed = self.filed(jurisdiction, plants)
        return frozenset(
            found.entry.plant_id
            for found in filed
            if found.version.is_law and found.version.in_force(on)
        )


def _each_until_the_next(versions: Iterable[ListVersion]) -> Iterable[ListVersion]:
    by_list: dict[ListId, list[ListVersion]] = defaultdict(list)
    for version in versions:
        by_list[version.list_id].append(version)
    for several in by_list.values():
        first, *later = sorted(several, key=_begin)
        begun = [first, *(_reaching_back_no_further(version) for version in later)]
        for version, following in zip_longest(begun, begun[1:]):
            yield _ended(version, _begin(following)) if following else version


def _ended(version: ListVersion, on: date) -> ListVersion:
    return (
        replace(version, superseded_on=on)
        if version.superseded_on is None or version.superseded_on > on
        else version
    )


def _begin(version: ListVersion) -> date:
    """The first day of the text loaded: of its latest amendment, where that came after the list
    did.
    """
    return max(version.effective_from or date.min, version.amended or date.min)


def _reaching_back_no_further(version: ListVersion) -> ListVersion:
    """A version that follows another of its list, begun where its own text does."""
    begun = _begin(version)
    return replace(version, effective_from=begun) if begun > date.min else version


def _version_order(version: ListVersion) -> tuple[str, str, date]:
    return (version.jurisdiction, version.list_id, version.effective_from or date.min)


_Asked = TypeVarTuple("_Asked")
_Answer = TypeVar("_Answer")


def cached_by_book(
    most: int,
) -> Callable[[Callable[[LawBook, *_Asked], _Answer]], Callable[[LawBook, *_Asked], _Answer]]:
    """Keep what a pure function of a law book and hashable values answers, up to so many answers.

    What is kept of a book goes with the book.
    """

    def caching(
        function: Callable[[LawBook, *_Asked], _Answer],
    ) -> Callable[[LawBook, *_Asked], _Answer]:
        return _cached(function, most)

    return caching


def _cached(
    function: Callable[[LawBook, *_Asked], _Answer], most: int
) -> Callable[[LawBook, *_Asked], _Answer]:

    @wraps(function)
    def answered(law: LawBook, *asked: *_Asked) -> _Answer:
        kept = law.answers.get(function)
        if kept is None:
            kept = law.answers.setdefault(function, Kept(most))
        answer: _Answer | None = kept.get(asked)
        if answer is None:
            answer = function(law, *asked)
            kept.put(asked, answer)
        return answer

    return answered
