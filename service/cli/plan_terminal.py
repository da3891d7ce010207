"""A plan's answer on the terminal."""

from textwrap import shorten

from rich.markup import escape as plain
from rich.table import Table

from service.checks.plan.values import PlanAnswer, PlantingAnswer
from service.cli.common import console
from service.fit import Verdict as FitVerdict
from service.output.words import NATIVITIES, SHORT_OUTCOMES, VERDICTS, likely
from service.values.words import STANDING_CAUTIONS

_FITS: dict[FitVerdict, str] = {
    "fits": "yes",
    "fits-with-change": "with a change",
    "does-not-fit": "no",
    "unknown": "not known",
}
_MOST_SHOWN = 8
_MOST_ASKED = 6


def print_plan(answer: PlanAnswer) -> None:
    """The answer on the terminal: site, what to decide first, the plantings, what passes, whom
    to ask.
    """
    console.print(f"\n{plain(answer.title or 'Planting plan')}", style="bold", highlight=False)
    _print_site(answer)
    _print_decisions(answer)
    console.print(_plantings(answer))
    _print_shopping(answer)
    _print_confirm(answer)
    for planting in answer.plantings:
        if planting.sensitivity is not None:
            _print_effects(planting)
    for line in answer.assumptions:
        console.print(f"Assumed: {line}", markup=False, highlight=False)
    console.print(
        f"\n{len(answer.sources)} sources, numbered in the report (--out plan.html). "
        f"As of {answer.as_of.isoformat()}, store build {answer.store_build}. "
        f"{STANDING_CAUTIONS[0]}",
        style="dim",
        highlight=False,
    )


def _print_site(answer: PlanAnswer) -> None:
    shown = Table(box=None, show_header=False, padding=(0, 1))
    for fact in answer.site.facts:
        how = f"[{fact.known.how_known}]" if fact.known else ""
        shown.add_row(
            fact.title,
            plain(fact.text),
            plain(how),
            plain(fact.would_narrow and f"would narrow it: {fact.would_narrow}"),
        )
    console.print(shown)
    for note in answer.site.notes:
        console.print(f"  {note}", markup=False, highlight=False)


def _print_decisions(answer: PlanAnswer) -> None:
    console.print("\nDecide first", style="bold")
    for decision in answer.decisions[:_MOST_SHOWN]:
        lead = "Where" if decision.kind == "fact-missing" else "Ask"
        ask = f" {lead}: {shorten(decision.ask, 110)}." if decision.ask else ""
        console.print(
            f"  {decision.rank}. {decision.title}{'' if decision.title[-1] in '.?' else '.'}{ask}",
            markup=False,
            highlight=False,
        )
    if len(answer.decisions) > _MOST_SHOWN:
        console.print(f"  and {len(answer.decisions) - _MOST_SHOWN} more; --out keeps them all.")


def _plantings(answer: PlanAnswer) -> Table:
    shown = Table(title="\nPlantings; * unverified, ? name not confirmed", padding=(0, 1))
    shown.add_column("No.", justify="right", no_wrap=True)
    shown.add_column("Label", max_width=24, overflow="fold")
    shown.add_column("Plant", max_width=24, overflow="fold")
    for heading in ("Verdict", "Native here", "Law, strictest", "Lives there", "Gets out"):
        shown.add_column(heading, overflow="fold")
    for planting in answer.plantings:
        label = plain(shorten(planting.label, 40, placeholder="..."))
        shown.add_row(
            str(planting.number),
            label,
            plain(_name(planting)),
            VERDICTS[planting.verdict],
            NATIVITIES[planting.nativity.status] if planting.nativity else "-",
            _law(planting),
            _fit(planting),
            _escape(planting),
        )
    return shown


def _name(planting: PlantingAnswer) -> str:
    candidates = planting.resolution.candidates
    if not candidates:
        return "no plant known ?"
    more = f" or {len(candidates) - 1} more" if len(candidates) > 1 else ""
    return f"{candidates[0].accepted_name}{more}{'' if planting.resolution.confirmed else ' ?'}"


def _law(planting: PlantingAnswer) -> str:
    """The strictest outcome in words, with the state and act that has it."""
    outcome = planting.outcome
    if outcome is None:
        return "no state known"
    if outcome in ("no-entry-found", "listed-other-acts"):
        return SHORT_OUTCOMES[outcome]
    where = next(
        (finding.finding for finding in planting.findings if finding.finding.outcome == outcome),
        None,
    )
    place = f"{where.jurisdiction.removeprefix('US-')} {where.act}" if where else "on the way in"
    return f"{SHORT_OUTCOMES[outcome]}{'' if planting.verified else '*'}, {place}"


def _fit(planting: PlantingAnswer) -> str:
    fit = planting.worst_fit
    return _FITS[fit.verdict] if fit else "-"


def _escape(planting: PlantingAnswer) -> str:
    escape = planting.escape
    return f"{escape.escape_class or 'native'}, {likely(escape.estimate)}" if escape else "-"


def _print_shopping(answer: PlanAnswer) -> None:
    shopping = answer.shopping
    console.print("\nShopping list", style="bold")
    console.print(f"  {shopping.passes_means}", style="dim", markup=False, highlight=False)
    for line in shopping.lines:
        count = f"{line.count} x " if line.count else ""
        said = f"  {count}{line.name}, {line.place or 'no place'}: {VERDICTS[line.verdict].lower()}"
        console.print(said, markup=False, highlight=False)
        for condition in line.conditions:
            console.print(f"     - {condition}", markup=False, highlight=False)
    console.print("Held back" if shopping.held_back else "Nothing is held back.", style="bold")
    for held_back in shopping.held_back:
        planting = answer.planting(held_back.planting)
        console.print(f"  {held_back.planting}. {held_back.name}", markup=False, highlight=False)
        for reason in held_back.reasons:
            console.print(f"     - {reason}", markup=False, highlight=False)
        if planting.substitutes:
            instead = planting.substitutes.reason or "; ".join(
                f"{plant.common_name or plant.accepted_name} ({plant.accepted_name})"
                for plant in planting.substitutes.plants[:3]
            )
            console.print(f"     Instead: {instead}", markup=False, highlight=False)


def _print_confirm(answer: PlanAnswer) -> None:
    console.print("\nConfirm with", style="bold")
    for asked in answer.confirm[:_MOST_ASKED]:
        more = len(asked.about) - 1
        rest = f" And {more} more." if more else ""
        console.print(
            f"  {asked.whom}: {shorten(asked.about[0], 120)}{rest}", markup=False, highlight=False
        )


def _print_effects(planting: PlantingAnswer) -> None:
    found = planting.sensitivity
    if found is None or not found.effects:
        return
    title = (
        f"\nWhat the escape of {plain(planting.name)} (planting {planting.number}) hangs on; "
        f"{found.samples:,} runs"
    )
    shown = Table(
        "Input", "Low end gives", "High end gives", "Alone", "With all others", title=title
    )
    for effect in found.effects[:6]:
        shown.add_row(
            plain(effect.name),
            f"{effect.low:.1%}",
            f"{effect.high:.1%}",
            f"{effect.first_order:.0%}",
            f"{effect.total:.0%}",
        )
    console.print(shown)
