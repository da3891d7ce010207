"""One planting, answered: its findings, the grounds of its verdict, and all that is worked out."""

from dataclasses import dataclass
from typing import Literal

from service.cautions import Caution
from service.checks.plan.values.site import LonLat, Problem
from service.containment import ContainmentPlan, ContainmentRequest
from service.escape import Assessment, HeldAssessment, PlannedMeasure, Sensitivity
from service.escape.harms import Harm
from service.fit import Fit
from service.names import Resolution
from service.regulation.finding import Finding
from service.regulation.shipping import Lane
from service.substitutes import Substitutes
from service.values.evidence import Evidence
from service.values.nativity import Nativity
from service.values.plants import Plant
from service.values.site import Position
from service.values.vocabulary import Act, Jurisdiction, Outcome

Role = Literal["site", "supply", "neighbour", "water"]
"""Why a state is answered: the site lies in it; what is bought there somebody must sell; it lies
within the border tolerance; its waters can be reached.
"""


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


@dataclass(frozen=True, slots=True)
class PlanFinding:
    """One finding; what it cites is in the numbered sources.

    Attributes:
        role: the site's state, a neighbour within the border tolerance, or a state that its water
            reaches.
        sources: numbers of the sources, in the order of what the finding cites.
    """

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
        held_back = self.verdict == "hold-back"
        return tuple(
            dict.fromkeys(
                ground.text for ground in self.grounds if ground.holds_back or not held_back
            )
        )


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
        position_on_map: longitude and latitude of where it stands, else of its place, else of the
            site.
        design: facts that the measures are sized from, those of the place with it.
        outcome: the strictest of the findings and of the lane, None where no state is known; of a
            water's state only what bars or limits release counts, and only where the chance of
            escape is not low.
        verified: every finding of that outcome stands on text that was read.
        escape: as planned.
        escape_held: with every designed measure that holds kept up; None where there is none.
        sensitivity: of the escape, where explaining was asked for.
        containment: plan for each plant; disposal where the law prohibits it.
        nativity: to the site's state, over all plants that the label may mean; None without a state
            or plant.
        restricted_in: jurisdictions that bar or limit selling or planting any of them.
        harms: what they are known to do where they have escaped; beside the chance, never in it.
        grounds: all that the verdict rests on, the weightiest first.
        problems: parts of it that could not be used; each is among those of the answer too.
        sources: numbers of the sources, see ``sources``.
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
    harms: tuple[Harm, ...] = ()
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
        """``nothing-against``: nothing found against it, which is not leave to buy or plant it;
        ``with-care``: conditions to meet; ``hold-back``: barred, not clear, or not fit.
        """
        return Judgement(self.grounds).verdict

    @property
    def conditions(self) -> tuple[str, ...]:
        """Why it is held back, or what has to be met; sentences."""
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
