"""A reading compared with what was planted."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from data_loaders.regulations.reading import ListReading
from service.names import normal_form
from tests.data_loaders.regulations.reading.plan import Plan


@dataclass
class Score:
    """Counts over one or more documents."""

    documents: int = 0
    listed: int = 0
    found: int = 0
    reported: int = 0
    right: int = 0
    classes: int = 0
    classes_right: int = 0
    planted: int = 0
    planted_found: int = 0
    lost: int = 0
    misses: list[str] = field(default_factory=list)

    def add(self, other: "Score") -> None:
        for name in self.__dataclass_fields__:
            setattr(self, name, getattr(self, name) + getattr(other, name))

    @property
    def recall(self) -> float:
        return self.found / self.listed if self.listed else 1.0

    @property
    def precision(self) -> float:
        return self.right / self.reported if self.reported else 1.0

    @property
    def class_right(self) -> float:
        return self.classes_right / self.classes if self.classes else 1.0

    @property
    def planted_share(self) -> float:
        return self.planted_found / self.planted if self.planted else 1.0


def score(plan: Plan, reading: ListReading, name: str = "") -> Score:
    """Hold one reading against its plan."""
    confirmed = {entry.entry: entry for entry in reading.confirmed}
    missing = {normal_form(gap.accepted_name) for gap in reading.missing_here}
    unknown = {
        normal_form(unknown_name.name): unknown_name for unknown_name in reading.unknown_names
    }
    gone = {entry.entry for entry in reading.not_in_text}
    moved = {entry.entry: entry.class_in_text for entry in reading.class_differs}
    misses: list[str] = []

    def check(what: str, holds: bool) -> int:
        if not holds:
            misses.append(f"{name}: {what}")
        return int(holds)

    entries = plan.model.entries
    found = sum(
        check(
            f"{entries[place].name_as_listed or entries[place].common_as_listed} not seen",
            place in confirmed,
        )
        for place in plan.seen
    )
    planted = [
        *(check(f"removed {_name(plan, place)} not noticed", place in gone) for place in plan.gone),
        *(
            check(f"added {added} not noticed", normal_form(added) in missing)
            for added in plan.added
        ),
        *(
            check(f"stranger {stranger} not noticed", normal_form(stranger) in unknown)
            for stranger in plan.strangers
        ),
        *(
            check(
                f"misspelt {spelt} not noticed",
                normal_form(spelt) in unknown
                and unknown[normal_form(spelt)].near_entry == place
                and place in gone,
            )
            for spelt, place in plan.misspelt.items()
        ),
        *(
            check(f"moved {_name(plan, place)}: {moved.get(place)!r}", moved.get(place) == to)
            for place, to in plan.moved.items()
        ),
    ]
    others = sum(
        [
            *(normal_form(added) in missing for added in plan.added),
            *(normal_form(other) in unknown for other in (*plan.strangers, *plan.misspelt)),
        ]
    )
    wrong = _wrong(plan, confirmed, missing, unknown)
    misses += [f"{name}: not a listing: {miss}" for miss in wrong]
    classes = [
        check(
            f"{_name(plan, place)} in {confirmed[place].class_in_text!r}, not {to!r}",
            confirmed[place].class_in_text == to,
        )
        for place, to in plan.seen.items()
        if place in confirmed
    ]
    reported = len(confirmed) + len(missing) + len(unknown)
    return Score(
        documents=1,
        listed=len(plan.seen) + len(plan.added) + len(plan.strangers) + len(plan.misspelt),
        found=found + others,
        reported=reported,
        right=reported - len(wrong),
        classes=len(classes),
        classes_right=sum(classes),
        planted=len(planted),
        planted_found=sum(planted),
        lost=len(set(range(len(entries))) - confirmed.keys() - gone),
        misses=misses,
    )


def _wrong(
    plan: Plan, confirmed: Iterable[int], missing: Iterable[str], unknown: Iterable[str]
) -> list[str]:
    added = {normal_form(name) for name in plan.added}
    strangers = {normal_form(other) for other in (*plan.strangers, *plan.misspelt)}
    return [
        *(_name(plan, place) for place in confirmed if place not in plan.seen),
        *(entry for entry in missing if entry not in added),
        *(name for name in unknown if name not in strangers),
    ]


def _name(plan: Plan, place: int) -> str:
    entry = plan.model.entries[place]
    return entry.name_as_listed or entry.common_as_listed
