"""The plan as a whole: what to decide, the shopping list, whom to ask, open facts, sources."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from service.checks.plan.values.planting import GroundKind, PlantingAnswer, Verdict
from service.checks.plan.values.site import PlaceAnswer, Problem, SiteAnswer
from service.values.vocabulary import Act, BuildId, HowKnown, Jurisdiction

SourceKind = Literal["law", "own-rule", "data", "records", "method"]


DecisionKind = GroundKind | Literal["fact-missing", "unverified"]


@dataclass(frozen=True, slots=True)
class Unsettled:
    """A fact that nobody has given, and what giving it would do.

    Attributes:
        fact: dotted, ``place.outlet``; places are named in ``of``.
        of: the place, plant or site that it is a fact of.
        why: what it would narrow or what waits for it.
        look_up: where a person finds it; empty where that is plain.
        plantings: numbers of those that wait for it.
    """

    fact: str
    of: str
    question: str
    why: str
    look_up: str
    plantings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Decision:
    """Something to decide before money is spent.

    Attributes:
        rank: from 1.
        why: how it came to this rank.
        plantings: numbers of those it concerns, in the order of the document.
        ask: whom to ask, or where to look.
        sources: numbers of the sources, see ``sources``.
    """

    rank: int
    kind: DecisionKind
    title: str
    why: str
    plantings: tuple[int, ...]
    ask: str
    sources: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class ShoppingLine:
    """A planting that is not held back, with the conditions of its verdict."""

    planting: int
    verdict: Verdict
    name: str
    label: str
    count: int | None
    place: str
    conditions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HeldBack:
    """A planting that is held back, with every reason."""

    planting: int
    name: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ShoppingList:
    """What passes and what does not.

    Attributes:
        passes_means: what passing says and what it does not say, for printing above the list.
    """

    passes_means: str
    lines: tuple[ShoppingLine, ...]
    held_back: tuple[HeldBack, ...]


@dataclass(frozen=True, slots=True)
class Confirmation:
    """Whom to ask about what, before buying."""

    whom: str
    about: tuple[str, ...]
    plantings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class NumberedSource:
    """A source of the answer.

    Attributes:
        number: from 1, in the order in which the answer first needs it.
        title: of the list, data set or reference.
        citation: as it is cited; for a list entry with its class and the name as listed in fields
            of their own.
        used_by: plantings that refer to it, by number; empty for a source of the site alone.
    """

    number: int
    kind: SourceKind
    title: str
    citation: str
    how_known: HowKnown
    url: str = ""
    authority: str = ""
    jurisdiction: Jurisdiction | None = None
    list_id: str = ""
    class_name: str = ""
    name_as_listed: str = ""
    exceptions: str = ""
    area: str = ""
    condition: str = ""
    effective_from: date | None = None
    read_copy_date: str = ""
    licence: str = ""
    used_by: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PlanAnswer:
    """A plan, answered.

    Attributes:
        store_build: content hash of all that the store was built from.
        as_of: the day that the answer is for.
        decisions: what to decide first, in order.
        unsettled: facts that would narrow the answer, the most first.
        title, prepared_for, prepared_by, note: as the document has them.
        ranking: how the decisions are put in order, in words.
        assumptions: what was taken where the document is silent, always the wider reading.
        problems: parts of the document that could not be used.
        cautions: the standing cautions, then those that every report carries.
        methods: numbers by the text that a factor or figure cites.
    """

    store_build: BuildId
    as_of: date
    title: str
    prepared_for: str
    prepared_by: str
    note: str
    acts: tuple[Act, ...]
    site: SiteAnswer
    places: tuple[PlaceAnswer, ...]
    plantings: tuple[PlantingAnswer, ...]
    decisions: tuple[Decision, ...]
    ranking: str
    shopping: ShoppingList
    confirm: tuple[Confirmation, ...]
    unsettled: tuple[Unsettled, ...]
    sources: tuple[NumberedSource, ...]
    problems: tuple[Problem, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    methods: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def planting(self, number: int) -> PlantingAnswer:
        """The planting of a number."""
        return next(planting for planting in self.plantings if planting.number == number)

    def place(self, name: str) -> PlaceAnswer:
        """The place of a name."""
        return next(place for place in self.places if place.place.name == name)

    def source(self, number: int) -> NumberedSource:
        """The source of a number."""
        return self.sources[number - 1]

    def numbers_of(self, citation: str) -> tuple[int, ...]:
        """Numbers of the references in a text, as ``Factor.citation`` and ``Figure.sources``
        spell it; none where it is not a reference.
        """
        return self.methods.get(citation, ())
