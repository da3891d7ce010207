"""The plants that a label may mean: each looked at by itself, and what an open name does to a
planting.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from service.checks.plan.values import Ground
from service.escape import EscapeClass
from service.fit import Fit
from service.names import Resolution
from service.regulation.finding import Finding
from service.values.nativity import Nativity
from service.values.plants import Plant
from service.values.vocabulary import Jurisdiction, Outcome, PlantId, strictest
from service.values.words import joined

STRICT: tuple[Outcome, ...] = ("prohibited", "permit-required", "conditional")


@dataclass(frozen=True, slots=True)
class OnePlant:
    """One plant that an unconfirmed label may mean, looked at as if it were the one.

    Attributes:
        outcome: the law's strictest in the site's state; None without a state.
        fits: False where it cannot live in the place.
        escapes: likely to escape, and not native.
        native: to the site's state.
    """

    name: str
    outcome: Outcome | None
    fits: bool
    escapes: bool
    native: bool

    @property
    def barred(self) -> bool:
        return self.outcome in STRICT[:2]

    @property
    def held_back(self) -> bool:
        return self.barred or not self.fits or self.escapes

    @property
    def clear(self) -> bool:
        """Whether nothing at all is against it, so that it does not matter if it is the one."""
        return self.native and self.fits and self.outcome == "no-entry-found"


def meanings_of(
    plants: Sequence[Plant],
    law: Mapping[PlantId, Sequence[Finding]],
    fits: Sequence[Fit],
    classes: Sequence[EscapeClass | None],
    state: Jurisdiction | None,
) -> tuple[OnePlant, ...]:
    """Each plant of an open label by itself.

    Args:
        law: by plant, what the site's state says of it.
        fits, classes: fit and class of escape of each plant; empty where no place is known.
    """
    found = []
    for index, plant in enumerate(plants):
        findings = law.get(plant.plant_id, ())
        native = state is not None and plant.nativity(state).status == "native"
        found.append(
            OnePlant(
                plant.accepted_name,
                strictest([finding.outcome for finding in findings]) if findings else None,
                fits=not fits or fits[index].verdict != "does-not-fit",
                escapes=bool(classes) and classes[index] == "high" and not native,
                native=native,
            )
        )
    return tuple(found)


def nativity_of(plants: Sequence[Plant], state: Jurisdiction | None) -> Nativity | None:
    """To the state, over all plants that a label may mean: the least native answer counts."""
    if state is None or not plants:
        return None
    order = ("introduced", "unknown", "native")
    return min((plant.nativity(state) for plant in plants), key=lambda one: order.index(one.status))


OUTCOME_WORDS: dict[Outcome, str] = {
    "prohibited": "barred",
    "permit-required": "only with a permit",
    "conditional": "depends on a condition of the law",
    "undetermined": "not decided by the law loaded here",
    "listed-other-acts": "listed for other acts",
    "no-entry-found": "no entry found",
}


def name_grounds(resolution: Resolution, meanings: Sequence[OnePlant]) -> Iterable[Ground]:
    """The name, where it is open and that matters to what may be done with the plant."""
    seller = "the grower or seller"
    if not resolution.candidates:
        text = "No plant is known by this label: get the botanical name."
        yield Ground("name-open", True, text, ask=seller)
        return
    if resolution.confirmed:
        return
    names = joined([meaning.name for meaning in meanings], "or")
    # A tag with a botanical name means that plant first; what else the name is used for holds it
    # back only where the law bars it.
    named = resolution.match in ("accepted", "synonym")
    against_them = [
        meaning for meaning in meanings if meaning.barred or (meaning.held_back and not named)
    ]
    matters = any(meaning.held_back if named else not meaning.clear for meaning in meanings)
    if not against_them and not matters:
        return
    if against_them:
        against = joined([f"{meaning.name} {_against(meaning)}" for meaning in against_them[:3]])
        text = f"Get the botanical name: the label may mean {names}, and {against}."
        yield Ground("name-open", True, text, ask=seller)
    else:
        said = resolution.to_confirm or f"the label may mean {names}."
        text = f"Confirm the botanical name: {said[0].lower()}{said[1:]}"
        yield Ground("name-open", False, text, ask=seller)


def _against(meaning: OnePlant) -> str:
    if meaning.barred and meaning.outcome is not None:
        return f"is {OUTCOME_WORDS[meaning.outcome]} here"
    return "does not fit here" if not meaning.fits else "is likely to escape"
