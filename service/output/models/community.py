"""A community screening's answer as it is sent, and a job."""

from dataclasses import dataclass
from typing import Any, Literal

from service.checks.community.values import (
    CommunityAnswer,
    ScreenedPlanting,
    ScreenedSite,
    ScreenedWater,
    Sender,
    UnansweredSite,
    WaterChance,
)
from service.checks.plan.values import Role
from service.output.models import plan  # noqa: F401  the shapes of what both answers share
from service.output.models.shape import Shape, may_be_left_out, usual, written
from service.regulation.finding import Finding
from service.values.vocabulary import Outcome
from service.values.words import STANDING_CAUTIONS

MOST_SENDERS = 50
"""Senders named of each water; the chance covers all of them."""


@dataclass(frozen=True, slots=True)
class ShortFinding:
    """A finding in short; ask for the planting alone to have its reasons."""

    role: Role
    finding: Finding


@dataclass(frozen=True, slots=True)
class JobAnswer:
    """Work in the background.

    Attributes:
        done: sites answered.
        address: of this job.
        result: where the answer is, once the job is done.
        detail: why it failed.
    """

    job_id: str
    state: Literal["waiting", "running", "done", "failed", "cancelled"]
    done: int
    total: int
    address: str
    result: str | None
    detail: str = may_be_left_out("")


def community_json(answer: CommunityAnswer, indent: int | None = None) -> bytes:
    """The answer as it is sent."""
    return written(answer, indent=indent)


def _plants(planting: ScreenedPlanting) -> tuple[str, ...]:
    return tuple(candidate.accepted_name for candidate in planting.resolution.candidates)


def _findings(planting: ScreenedPlanting) -> tuple[ShortFinding, ...]:
    return tuple(ShortFinding(role, finding) for role, finding in planting.findings)


def _lane(planting: ScreenedPlanting) -> Outcome | None:
    """On the way from the state it is brought from."""
    return planting.lane.outcome if planting.lane else None


def _sites(water: ScreenedWater) -> int:
    """Sites that could send something."""
    return len({sender.site for sender in water.senders})


def _sender_count(water: ScreenedWater) -> int:
    return len(water.senders)


def _senders(water: ScreenedWater) -> tuple[Sender, ...]:
    return water.senders[:MOST_SENDERS]


_ESCAPE = {"estimate": "escape"}

usual(
    Shape(
        ShortFinding,
        without="finding",
        also={
            "jurisdiction": "finding.jurisdiction",
            "act": "finding.act",
            "outcome": "finding.outcome",
            "verified": "finding.verified",
        },
    ),
    Shape(JobAnswer, name="Job"),
    Shape(WaterChance, rename=_ESCAPE, places={"distance_m": 1}),
    Shape(Sender, rename=_ESCAPE, places={"distance_m": 1}),
    Shape(
        ScreenedPlanting,
        order="number pointer label count match confirmed plants native outcome verified verdict "
        "conditions nativity restricted_in findings lane fit escape escape_class waters sources",
        without="resolution",
        also={
            "match": "resolution.match",
            "confirmed": "resolution.confirmed",
            "plants": _plants,
            "findings": _findings,
            "lane": _lane,
        },
    ),
    Shape(
        ScreenedSite,
        order="number pointer name geometry position state county county_name hardiness_zones "
        "neighbours downstream_states outcome escape escape_class likely feature_id given "
        "plantings notes",
        rename={"shape": "geometry", "zones": "hardiness_zones"},
        places={"likely": 4},
        kinds={"given": dict[str, Any]},
    ),
    Shape(
        UnansweredSite,
        order="number pointer name geometry why feature_id given",
        rename={"shape": "geometry"},
        kinds={"given": dict[str, Any]},
    ),
    Shape(
        ScreenedWater,
        order="water_id name kind flow states shared escape not_native escape_class sites "
        "sender_count senders given",
        without="shape longitude latitude area_m2 source_id",
        spread="water",
        rename=_ESCAPE,
        kinds={"given": dict[str, Any]},
        also={"sites": _sites, "sender_count": _sender_count, "senders": _senders},
        notes={"senders": f"the likeliest, {MOST_SENDERS} at most"},
    ),
    Shape(
        CommunityAnswer,
        name="CommunityScreeningAnswer",
        order="store_build as_of cautions title acts priority ranking waters sites unanswered "
        "sources problems assumptions",
        optional={"cautions": STANDING_CAUTIONS},
    ),
)
