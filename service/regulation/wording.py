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
    bars = ", ".join(list_class.acts)
    match outcome:
        case "prohibited" if list_class.permit_for:
            purposes = ", ".join(list_class.permit_for)
            return f"{where}: {doing} is barred; permits are given for {purposes} alone."
        case "prohibited" if list_class.permit == "unknown":
            return f"{where}: {doing} is barred, and no permit route is established."
        case "prohibited":
            return f"{where}: {doing} is barred."
        case "permit-required":
            return f"{where}: {doing} is barred without a permit of {version.authority}."
        case "conditional":
            return f"{where}: {doing} is barred under conditions."
        case "undetermined" if act in list_class.acts or list_class.acts_known:
            return f"{where}; the label is too wide to tell."
        case "undetermined" if bars:
            return f"{where}, which bars {bars}; whether it bars other acts was not established."
        case "undetermined":
            return f"{where}, but which acts that bars was not established."
        case _ if not bars:
            said = f" {list_class.summary}" if list_class.summary else ""
            return f"{where}, a class that was read and bars none of the acts asked about.{said}"
        case _:
            return f"{where}, which bars {bars}, not {act}."


def doubt(how_known: HowKnown, doubts: Sequence[str], assumed: bool = False) -> str:
    """Why a finding is unverified.

    Args:
        assumed: it rests on what the list does not say.
    """
    match how_known:
        case "memory":
            base = "Unverified: this is from memory, not yet seen in the text"
        case "partly-read":
            base = "Unverified: the text of this was read only in part, or in a transcript"
        case _ if assumed:
            base = "Unverified: it rests on what the list does not say"
        case _:
            base = "Unverified"
    return f"{base} ({'; '.join(doubts)})." if doubts else f"{base}."
