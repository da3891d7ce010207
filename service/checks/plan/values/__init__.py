"""The answer to a planting plan: what was found of the site, of each planting, and of the plan as a
whole.

Every list is in a fixed order. Sources are numbered once for the whole answer; findings, facts and
plantings refer to them by number.
"""

from service.checks.plan.values.plan import (
    Confirmation,
    Decision,
    DecisionKind,
    HeldBack,
    NumberedSource,
    PlanAnswer,
    ShoppingLine,
    ShoppingList,
    SourceKind,
    Unsettled,
)
from service.checks.plan.values.planting import (
    VERDICTS,
    Ground,
    GroundKind,
    Judgement,
    PlanFinding,
    PlanLane,
    PlantingAnswer,
    Role,
    Verdict,
)
from service.checks.plan.values.site import (
    LonLat,
    PlaceAnswer,
    PlanSite,
    PlanWater,
    Problem,
    SiteAnswer,
    SiteFact,
)

__all__ = [
    "VERDICTS",
    "Confirmation",
    "Decision",
    "DecisionKind",
    "Ground",
    "GroundKind",
    "HeldBack",
    "Judgement",
    "LonLat",
    "NumberedSource",
    "PlaceAnswer",
    "PlanAnswer",
    "PlanFinding",
    "PlanLane",
    "PlanSite",
    "PlanWater",
    "PlantingAnswer",
    "Problem",
    "Role",
    "ShoppingLine",
    "ShoppingList",
    "SiteAnswer",
    "SiteFact",
    "SourceKind",
    "Unsettled",
    "Verdict",
]
