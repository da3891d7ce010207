"""Taxa that a name may mean, on the way to a resolution."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from service.names.values import Candidate, OutsideName
from service.values.vocabulary import Match, PlantId


@dataclass(slots=True)
class Finding:
    """Taxa that a name may mean.

    ``doubts`` says why it does not confirm them; none for a sure one. ``outside`` is a name that
    the catalogue does not hold.
    """

    match: Match
    candidates: dict[PlantId, Candidate]
    doubts: list[str] = field(default_factory=list)
    genus_only: bool = False
    outside: OutsideName | None = None

    @property
    def sure(self) -> bool:
        return (
            len(self.candidates) == 1
            and not self.doubts
            and self.match not in ("spelling", "genus", "none")
        )

    def copy(self) -> "Finding":
        return Finding(
            self.match, dict(self.candidates), list(self.doubts), self.genus_only, self.outside
        )

    def add(self, candidates: Iterable[Candidate]) -> None:
        """Take more candidates in; a better score replaces a worse one."""
        for candidate in candidates:
            present = self.candidates.get(candidate.plant_id)
            if present is None or candidate.score > present.score:
                self.candidates[candidate.plant_id] = candidate


def either(first: Finding | None, second: Finding | None) -> Finding | None:
    """What a name may be by one way or the other: all of it."""
    if first is None or second is None:
        return first or second
    first.add(second.candidates.values())
    first.genus_only = first.genus_only and second.genus_only
    first.outside = first.outside or second.outside
    return first


def agreed(first: Finding | None, second: Finding | None) -> Finding | None:
    """Two names of one plant.

    Where they share taxa, those; where they disagree, all, with doubt.
    """
    if first is None or second is None:
        return first or second
    shared = first.candidates.keys() & second.candidates.keys()
    if not shared:
        first.add(second.candidates.values())
        first.outside = first.outside or second.outside
        first.doubts.append("the names on the label mean different taxa")
        return first
    if first.outside or second.outside:
        first.add(second.candidates.values())
        first.outside = first.outside or second.outside
        return first
    if first.sure:
        return first
    if second.sure:
        return Finding(second.match, {taxon: second.candidates[taxon] for taxon in shared})
    if first.match in ("genus", "spelling"):
        first.candidates = {
            taxon: candidate for taxon, candidate in first.candidates.items() if taxon in shared
        }
    return first
