"""The sentences of a finding."""

from collections.abc import Sequence

from service.regulation.law import ListClass, ListVersion
from service.values.vocabulary import Act, HowKnown, Outcome

_PHRASE: dict[Act, str] = {
    "import": "bringing it in",
    "export": "sending it out",
    "sell": "selling it",
    "buy": "buying it",
    "give": "giving it away",
    "transport": "moving it",
    "possess": "keeping it",
    "propagate": "propagating it",
    "plant": "planting it",
    "release": "releasing it",
}


def sentence(
    version: ListVersion, list_class: ListClass, listed: str, outcome: Outcome, act: Act
) -> str:
    """What one entry says of one act."""
    where = f"{version.title} ({version.citation}) lists {listed} as {list_class.name}"
    doing = _PHRASE[act]
    match outcome:
        case "prohibited" if list_class.permit_for:
            return f"{where}: {doing} is barred; permits are given for {', '.join(list_class.permit_for)} alone."
        case "prohibited":
            return f"{where}: {doing} is barred" + (
                "." if list_class.permit != "unknown" else ", and no permit route is established."
            )
        case "permit-required":
            return f"{where}: {doing} is barred without a permit of {version.authority}."
        case "conditional":
            return f"{where}: {doing} is barred under conditions."
        case "undetermined" if not list_class.acts:
            return f"{where}, but which acts that bars was not established."
        case "undetermined":
            return f"{where}; the label is too wide to tell."
        case _:
            return f"{where}, which bars {', '.join(list_class.acts) or 'no act found'}, not {act}."


def doubt(how_known: HowKnown, doubts: Sequence[str]) -> str:
    """Why a finding is unverified."""
    match how_known:
        case "memory":
            base = "Unverified: this stands from memory, not yet seen in the text"
        case "partly-read":
            base = "Unverified: the text of this class was read only in part"
        case _:
            base = "Unverified"
    return f"{base} ({'; '.join(doubts)})." if doubts else f"{base}."
