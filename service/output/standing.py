"""What an answer rests on, one line each, for a person."""

from service.checks.stock import StockQuestion
from service.regulation.standing import StateStanding, standing_of
from service.store.library import Library
from service.values.words import STANDING_CAUTIONS


def standings(library: Library, question: StockQuestion) -> list[StateStanding]:
    """How far the law of each place asked about can be relied on here."""
    return [standing_of(library.law, place, question.on) for place in question.jurisdictions]


def about_lines(library: Library, question: StockQuestion) -> list[str]:
    """The day, the build, the cautions, and how far the law of each place can be relied on."""
    return [
        f"As of {question.on.isoformat()}, store build {library.build_id}.",
        "No entry found is not a permission: it says that no list loaded here names the plant.",
        *STANDING_CAUTIONS,
        *(standing.phrase for standing in standings(library, question)),
    ]
