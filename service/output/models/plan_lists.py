"""What a plan's answer lists beside its plantings: decisions, shopping list, whom to ask, open
facts, sources, problems.
"""

from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from service.checks.plan.calendar import Every, Season
from service.checks.plan.values import DecisionKind, SourceKind, Verdict
from service.output.models.law import _Model
from service.output.models.plan_escape import Numbers
from service.values.nativity import NativityStatus
from service.values.vocabulary import HowKnown


class NativityModel(_Model):
    """Whether a plant is native to the site's state; native elsewhere is introduced here."""

    status: NativityStatus
    scope: Annotated[
        Literal["state", "region"],
        Field(description="a record of the state itself, or the region it is in"),
    ]
    source: str
    how_known: HowKnown


class ProblemModel(_Model):
    """A part of the document that could not be used; the rest is answered."""

    pointer: Annotated[str, Field(description="JSON pointer (RFC 6901), or the row of a table")]
    detail: str
    next_step: str


class DecisionModel(_Model):
    """Something to decide before money is spent."""

    rank: int
    kind: DecisionKind
    title: str
    why: str
    plantings: tuple[int, ...]
    ask: str
    sources: Numbers


class ShoppingLineModel(_Model):
    """A planting that is not held back, and what has to be met for it."""

    planting: int
    verdict: Verdict
    name: str
    label: str
    count: int | None
    place: str
    conditions: tuple[str, ...]


class HeldBackModel(_Model):
    """A planting that is held back, and why."""

    planting: int
    name: str
    reasons: tuple[str, ...]


class ShoppingListModel(_Model):
    """What is held back and what is not."""

    passes_means: str
    lines: tuple[ShoppingLineModel, ...]
    held_back: tuple[HeldBackModel, ...]


class ConfirmationModel(_Model):
    """Whom to ask about what."""

    whom: str
    about: tuple[str, ...]
    plantings: tuple[int, ...]


class UnsettledModel(_Model):
    """A fact that nobody has given."""

    fact: str
    of: str
    question: str
    why: str
    look_up: str
    plantings: tuple[int, ...]


class TaskModel(_Model):
    """One thing that the plan asks for in the year after planting."""

    key: Annotated[str, Field(description="kind of task")]
    title: str
    season: Season
    start: date
    end: Annotated[date, Field(description="last day, included")]
    every: Annotated[Every | None, Field(description="how often; null is once")]
    why: str
    places: tuple[str, ...]
    plantings: tuple[int, ...]
    how_known: Annotated[HowKnown, Field(description="of its date")]
    dated_by: str


class NumberedSourceModel(_Model):
    """A numbered source."""

    number: int
    kind: SourceKind
    title: str
    citation: str
    how_known: HowKnown
    url: str
    authority: str
    jurisdiction: str | None
    list_id: str
    class_name: Annotated[str, Field(serialization_alias="class")]
    name_as_listed: str
    exceptions: str
    area: str
    condition: str
    effective_from: date | None
    read_copy_date: str
    licence: str
    used_by: Annotated[
        tuple[int, ...], Field(description="numbers of the plantings that refer to it")
    ]
