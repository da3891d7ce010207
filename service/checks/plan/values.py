"""The answer to a planting plan: what was found of the site, of each planting, and of the plan as a
whole.

Every list is in a fixed order. Sources are numbered once for the whole answer; findings, facts and
plantings refer to them by number.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from shapely.geometry.base import BaseGeometry

from service.cautions import Caution
from service.containment import ContainmentPlan, ContainmentRequest
from service.escape import Assessment, HeldAssessment, PlannedMeasure, Sensitivity
from service.fit import Fit
from service.geography import Location, Trace
from service.names import Resolution
from service.regulation.finding import Finding
from service.regulation.shipping import Lane
from service.substitutes import Substitutes
from service.values.evidence import Evidence
from service.values.nativity import Nativity
from service.values.plants import Plant, Provenance
from service.values.site import Climate, Locality, Place, Position
from service.values.vocabulary import Act, BuildId, HowKnown, Jurisdiction, Outcome
from service.values.waters import Reached

LonLat = tuple[float, float]
"""WGS84 degrees, longitude first."""

Role = Literal["site", "neighbour", "water"]
"""Why a state is answered: the site lies in it; it lies within the border tolerance; its waters
can be reached.
"""

SourceKind = Literal["law", "own-rule", "data", "records", "method"]

Verdict = Literal["nothing-against", "with-care", "hold-back"]
VERDICTS: tuple[Verdict, ...] = ("hold-back", "with-care", "nothing-against")
"""Strictest first."""

GroundKind = Literal[
    "prohibited",
    "state-unknown",
    "permit-required",
    "name-open",
    "conditional",
    "undetermined",
    "does-not-fit",
    "nothing-holds",
    "escape-likely",
    "place-unknown",
    "unread",
    "listed-other-acts",
    "release",
    "neighbour",
    "change",
    "spacing",
    "hold",
    "aggressive",
    "restricted-elsewhere",
]
"""What can stand against a planting, or has to be met for it, the weightiest first."""

DecisionKind = GroundKind | Literal["fact-missing", "unverified"]


@dataclass(frozen=True, slots=True)
class Problem:
    """A part of the document that could not be used. The rest is answered.

    Attributes:
        pointer: RFC 6901 JSON pointer, or ``row 4, column "depth_cm"`` of a table.
    """

    pointer: str
    detail: str
    next_step: str = ""


@dataclass(frozen=True, slots=True)
class PlanSite:
    """The site as stated.

    Attributes:
        shape: WGS84; None where only an address is given.
        county: name or FIPS code, not yet looked up.
    """

    shape: BaseGeometry | None = None
    state: Jurisdiction | None = None
    county: str | None = None
    zip_code: str | None = None
    hardiness_zone: str | None = None
    first_frost: str | None = None


@dataclass(frozen=True, slots=True)
class SiteFact:
    """One fact of the site.

    Attributes:
        key: ``state``, ``county``, ``zone``, ``watershed``, ``neighbours``, ``waters``,
            ``downstream``, ``downstream-states``, ``records``.
        title: of the fact, in words.
        text: what was found, or that it is not known.
        known: None where it is not known.
        would_narrow: the fact to give so that the answer gets narrower; empty where nothing is
            missing.
        sources: numbers.
    """

    key: str
    title: str
    text: str
    known: Provenance | None
    would_narrow: str = ""
    sources: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PlanWater:
    """A water near the site or down the water from it.

    Attributes:
        reached: from the site; from a place of the plan the distances may differ.
        shape: WGS84, the whole water; None for one given by its distance alone.
    """

    reached: Reached
    shape: BaseGeometry | None
    sources: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class SiteAnswer:
    """What is known of the site.

    Attributes:
        stated: as the document has it.
        position: a point on it; None where only an address was given.
        shape: as given, else that of its places or plantings together.
        location: all that the store says of the position or ZIP code.
        locality, climate: as law and winter look at it, the facts given by the user before those
            found.
        waters: near and downstream, the nearest along the water first.
        trace: down the flow network; None without a position.
        neighbours: states within the border tolerance, nearest first.
        downstream_states: in the order in which the water comes to them.
        region: of native ranges.
    """

    stated: PlanSite
    position: LonLat | None
    shape: BaseGeometry | None
    location: Location
    locality: Locality
    climate: Climate
    waters: tuple[PlanWater, ...]
    trace: Trace | None
    neighbours: tuple[Jurisdiction, ...]
    downstream_states: tuple[Jurisdiction, ...]
    region: str | None
    facts: tuple[SiteFact, ...]
    notes: tuple[str, ...] = ()

    def fact(self, key: str) -> SiteFact:
        """The fact of this key."""
        return next(fact for fact in self.facts if fact.key == key)


@dataclass(frozen=True, slots=True)
class PlaceAnswer:
    """A pond, stream or bog of the plan.

    Attributes:
        pointer: to it in the document.
        shape: as given, or None.
        position: a point on it, else that of the site.
        waters: as reached from it.
        outlet_at, overflow_at: points where water leaves, as given.
    """

    place: Place
    pointer: str
    shape: BaseGeometry | None
    position: LonLat | None
    waters: tuple[Reached, ...]
    cautions: tuple[Caution, ...]
    outlet_at: BaseGeometry | None = None
    overflow_at: BaseGeometry | None = None


@dataclass(frozen=True, slots=True)
class PlanFinding:
    """One finding and the numbers of the sources that it cites, in its order."""

    role: Role
    finding: Finding
    sources: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PlanLane:
    """The way from the state that the plant is brought from.

    Attributes:
        sources: of each step.
    """

    lane: Lane
    sources: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class Ground:
    """One thing against a planting, or one condition to meet.

    Attributes:
        holds_back: the planting waits for it; otherwise it is a condition.
        text: one sentence.
        where: places of law that it rests on, ``Ohio (buy, plant)``.
        ask: whom to ask.
        sources: numbers.
    """

    kind: GroundKind
    holds_back: bool
    text: str
    where: tuple[str, ...] = ()
    ask: str = ""
    sources: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Judgement:
    """The verdict that grounds make."""

    grounds: tuple[Ground, ...]

    @property
    def verdict(self) -> Verdict:
        """Held back by one ground that does so, with care where there is any other."""
        if any(ground.holds_back for ground in self.grounds):
            return "hold-back"
        return "with-care" if self.grounds else "nothing-against"

    @property
    def conditions(self) -> tuple[str, ...]:
        """Why it is held back, or what has to be met; sentences."""
        held = self.verdict == "hold-back"
        return tuple(
            dict.fromkeys(ground.text for ground in self.grounds if ground.holds_back or not held)
        )


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
class PlantingAnswer:
    """One planting, answered.

    Where the label may mean several plants, ``plants`` has all of them, and fit, containment,
    evidence and substitutes have one value for each in the same order, so that the widest can be
    read off; ``escape`` covers all.

    Attributes:
        number: from 1, in the order of the document; later numbers keep theirs where an earlier
            planting could not be used.
        pointer: to it in the document, ``/plantings/0``, or its row.
        position_on_map: where it stands; that of its place, else of the site.
        design: facts that the measures are sized from, those of the place with it.
        outcome: the strictest of the findings and of the lane; of a water's state only what bars or
            limits release counts, and only where the chance of escape is not low. None where no
            state is known.
        verified: every finding of that outcome stands on text that was read.
        escape: as planned.
        escape_held: with every designed measure that holds kept up; None where there is none.
        sensitivity: of the escape, where explaining was asked for.
        containment: plan for each plant; disposal where the law prohibits it.
        nativity: to the site's state, over all plants that the label may mean; None without a state
            or plant.
        restricted_in: jurisdictions that bar or limit selling or planting any of them.
        grounds: all that the verdict rests on, the weightiest first.
        problems: parts of it that could not be used; each is among those of the answer too.
        notes: what the answer could not take into account, and advice that decides nothing.
    """

    number: int
    pointer: str
    label: str
    count: int | None
    place: str
    position: Position
    position_on_map: LonLat | None
    acts: tuple[Act, ...]
    brought_from: Jurisdiction | None
    planned: tuple[PlannedMeasure, ...]
    design: ContainmentRequest
    resolution: Resolution
    plants: tuple[Plant, ...]
    findings: tuple[PlanFinding, ...]
    lane: PlanLane | None
    outcome: Outcome | None
    verified: bool
    fits: tuple[Fit, ...]
    escape: Assessment | None
    escape_held: HeldAssessment | None
    sensitivity: Sensitivity | None
    containment: tuple[ContainmentPlan, ...]
    substitutes: Substitutes | None
    cautions: tuple[Caution, ...]
    evidence: tuple[Evidence, ...]
    nativity: Nativity | None = None
    restricted_in: tuple[Jurisdiction, ...] = ()
    grounds: tuple[Ground, ...] = ()
    problems: tuple[Problem, ...] = ()
    sources: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The accepted name, all of them where the label may mean several, or the label."""
        return (
            " or ".join(candidate.accepted_name for candidate in self.resolution.candidates[:3])
            or self.label
        )

    @property
    def verdict(self) -> Verdict:
        """See ``Judgement``."""
        return Judgement(self.grounds).verdict

    @property
    def conditions(self) -> tuple[str, ...]:
        """See ``Judgement``."""
        return Judgement(self.grounds).conditions

    @property
    def passes(self) -> bool:
        """Whether it is on the shopping list. See ``ShoppingList.passes_means``."""
        return self.verdict != "hold-back"

    @property
    def held_back(self) -> tuple[str, ...]:
        """Why it is not on the shopping list; empty where it is on it."""
        return () if self.passes else self.conditions

    @property
    def native(self) -> bool:
        """Whether every plant that the label may mean is native to the site's state."""
        return self.nativity is not None and self.nativity.status == "native"

    @property
    def worst_fit(self) -> Fit | None:
        """The fit with the worst verdict over the plants that the label may mean."""
        order = ("does-not-fit", "unknown", "fits-with-change", "fits")
        return min(self.fits, key=lambda fit: order.index(fit.verdict), default=None)

    @property
    def worst_containment(self) -> ContainmentPlan | None:
        """The containment plan that holds least over the plants that the label may mean."""
        order = ("prohibited", "nothing-holds", "partly-held", "each-way-met", "no-way-out-stated")
        return min(self.containment, key=lambda plan: order.index(plan.verdict), default=None)


@dataclass(frozen=True, slots=True)
class Decision:
    """Something to decide before money is spent.

    Attributes:
        rank: from 1.
        why: how it came to this rank.
        plantings: numbers of those it concerns, in the order of the document.
        ask: whom to ask, or where to look.
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
    """The whole answer.

    Attributes:
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
