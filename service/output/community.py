"""A community screening as GeoJSON for any GIS, and as a table of plantings."""

import csv
import io
import json
from collections.abc import Iterator, Mapping
from typing import Any

from service.checks.community.values import (
    CommunityAnswer,
    Priority,
    ScreenedPlanting,
    ScreenedSite,
    ScreenedWater,
    UnansweredSite,
)
from service.escape import Estimate
from service.output.csv import escape_formula
from service.output.geojson import geojson
from service.output.plan import CSV, GEOJSON, GEOPACKAGE, HTML, JSON
from service.output.plan_geojson import feature, point

COLUMNS = (
    "site",
    "site_name",
    "longitude",
    "latitude",
    "state",
    "county",
    "rank",
    "planting",
    "label",
    "count",
    "match",
    "accepted_name",
    "confirmed",
    "native",
    "outcome",
    "verified",
    "verdict",
    "conditions",
    "restricted_in",
    "findings",
    "fit",
    "escape_class",
    "escape_likely",
    "escape_low",
    "escape_high",
    "escape_to",
    "citations",
)


def all_forms(answer: CommunityAnswer) -> dict[str, bytes]:
    """The answer in every form that it comes in, by media type."""
    return {form: write_form(answer, form) for form in (JSON, HTML, GEOJSON, CSV, GEOPACKAGE)}


def write_form(answer: CommunityAnswer, media_type: str) -> bytes:
    """The answer in one of the forms that it comes in."""
    if media_type == GEOPACKAGE:
        # Late: GDAL is asked for seldom, and slow to import.
        from service.output.geopackage import geopackage

        return geopackage(community_layers(answer), answer.as_of)
    if media_type != JSON:
        return write_community(answer, media_type).encode()
    from service.output.models.community import community_json

    return community_json(answer)


def write_community(answer: CommunityAnswer, media_type: str) -> str:
    """The answer in one of the forms that are text and not JSON."""
    if media_type == CSV:
        return write_community_table(answer)
    if media_type == GEOJSON:
        return write_community_map(answer)
    # Late: templates are read for the summary alone, and it reads the answer values of this
    # package.
    from service.output.html.report import community_report

    return community_report(answer)


def write_community_map(answer: CommunityAnswer) -> str:
    """Sites, their plantings and the waters, each a feature with the attribute ``layer`` (RFC
    7946).
    """
    features = [
        layer_feature for layer in community_layers(answer).values() for layer_feature in layer
    ]
    collection = {"type": "FeatureCollection", "name": "community", "features": features}
    return json.dumps(collection, ensure_ascii=False, separators=(",", ":"))


def community_layers(answer: CommunityAnswer) -> dict[str, list[dict[str, Any]]]:
    """The features by layer: ``sites``, ``plantings`` and ``waters``."""
    order = {entry.site: entry for entry in answer.priority}
    return {
        "sites": [
            *(_site(answer, site, order[site.number]) for site in answer.sites),
            *(_unanswered(answer, site) for site in answer.unanswered),
        ],
        "plantings": [
            _planting(site, planting) for site in answer.sites for planting in site.plantings
        ],
        "waters": [_water(water) for water in answer.waters],
    }


def write_community_table(answer: CommunityAnswer) -> str:
    """One row a planting, then what its site came with; last the sites without one; RFC 4180."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    own = _own_columns(answer)
    writer.writerow([*COLUMNS, *map(escape_formula, own)])
    rank = {entry.site: entry.rank for entry in answer.priority}
    names = _water_names(answer)
    for site in answer.sites:
        for planting in site.plantings:
            writer.writerow(
                [
                    escape_formula(cell)
                    for cell in (
                        *_row(answer, site, planting, rank[site.number], names),
                        *(_cell(site.given.get(name)) for name in own),
                    )
                ]
            )
    for bare in answer.unanswered:
        blank = ["" for _ in COLUMNS]
        blank[:2] = [str(bare.number), bare.name]
        blank[COLUMNS.index("conditions")] = bare.why
        row = (*blank, *(_cell(bare.given.get(name)) for name in own))
        writer.writerow([escape_formula(cell) for cell in row])
    return buffer.getvalue()


def _own_columns(answer: CommunityAnswer) -> list[str]:
    """Properties that the sites came with, behind the columns of the answer."""
    every: tuple[ScreenedSite | UnansweredSite, ...] = (*answer.sites, *answer.unanswered)
    names = dict.fromkeys(name for site in every for name in site.given)
    return [name for name in names if name not in (*COLUMNS, "name", "plantings", "layer")]


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _row(
    answer: CommunityAnswer,
    site: ScreenedSite,
    planting: ScreenedPlanting,
    rank: int,
    names: dict[str, str],
) -> Iterator[str]:
    longitude, latitude = site.position or (None, None)
    yield from (
        str(site.number),
        site.name,
        _number(longitude, 7),
        _number(latitude, 7),
        site.state or "",
        site.county_name,
        str(rank),
    )
    yield from (
        str(planting.number),
        planting.label,
        "" if planting.count is None else str(planting.count),
        planting.resolution.match,
    )
    yield "; ".join(candidate.accepted_name for candidate in planting.resolution.candidates)
    yield from (
        "yes" if planting.resolution.confirmed else "no",
        {True: "yes", False: "no", None: ""}[planting.native],
    )
    yield from (planting.outcome or "", "yes" if planting.verified else "no")
    yield from (
        planting.verdict,
        " ".join(planting.conditions),
        " ".join(planting.restricted_in),
    )
    lane = (
        [f"{planting.lane.origin}>{planting.lane.destination}:ship {planting.lane.outcome}"]
        if planting.lane
        else []
    )
    yield "; ".join(
        [
            *(
                f"{finding.jurisdiction}:{finding.act} {finding.outcome}"
                for _, finding in planting.findings
            ),
            *lane,
        ]
    )
    yield from (planting.fit or "", planting.escape_class or ("native" if planting.escape else ""))
    yield from (
        (
            _number(planting.escape.likely, 4),
            _number(planting.escape.low, 4),
            _number(planting.escape.high, 4),
        )
        if planting.escape
        else ("", "", "")
    )
    farthest = max(
        planting.waters,
        key=lambda chance: (chance.estimate.likely, chance.estimate.high),
        default=None,
    )
    yield names[farthest.water_id] if farthest else ""
    sources = [answer.sources[number - 1] for number in planting.sources]
    yield "; ".join(
        f"{source.jurisdiction} {source.citation} ({source.class_name}: {source.name_as_listed})"
        for source in sources
    )


def _site(answer: CommunityAnswer, site: ScreenedSite, order: Priority) -> dict[str, Any]:
    outcomes = [planting.outcome for planting in site.plantings]
    found = feature(
        geojson(site.shape),
        layer="site",
        site=site.number,
        name=site.name,
        state=site.state,
        county=site.county_name,
        zone=" or ".join(site.zones),
        neighbours=" ".join(site.neighbours),
        downstream=" ".join(site.downstream_states),
        plantings=len(site.plantings),
        barred=outcomes.count("prohibited"),
        permit=outcomes.count("permit-required"),
        outcome=site.outcome or "",
        escape=site.escape_class,
        **_ends(site.escape),
        rank=order.rank,
        group=order.group,
        likely=None if site.likely is None else round(site.likely, 4),
        why=order.why,
        as_of=answer.as_of.isoformat(),
        store_build=answer.store_build,
    )
    return _with_given(found, site.given, site.feature_id)


def _unanswered(answer: CommunityAnswer, site: UnansweredSite) -> dict[str, Any]:
    found = feature(
        geojson(site.shape),
        layer="site",
        site=site.number,
        name=site.name,
        plantings=0,
        why=site.why,
        as_of=answer.as_of.isoformat(),
        store_build=answer.store_build,
    )
    return _with_given(found, site.given, site.feature_id)


def _with_given(
    found: dict[str, Any], given: Mapping[str, Any], feature_id: str | int | None
) -> dict[str, Any]:
    """A feature with the properties that it came with: under their own names, or as ``given_...``
    where the answer has another value of that name.
    """
    properties = found["properties"]
    for name, value in given.items():
        if name not in properties:
            properties[name] = value
        elif properties[name] != value:
            properties[f"given_{name}"] = value
    return found if feature_id is None else {"id": feature_id, **found}


def _planting(site: ScreenedSite, planting: ScreenedPlanting) -> dict[str, Any]:
    return feature(
        point(site.position),
        layer="planting",
        site=site.number,
        planting=planting.number,
        label=planting.label,
        name=planting.name if planting.resolution.candidates else "",
        confirmed=planting.resolution.confirmed,
        native=planting.native,
        count=planting.count,
        outcome=planting.outcome or "",
        verified=planting.verified,
        verdict=planting.verdict,
        conditions=" ".join(planting.conditions),
        restricted=" ".join(planting.restricted_in),
        fit=planting.fit or "",
        escape=planting.escape_class or "",
        **_ends(planting.escape),
    )


def _water(water: ScreenedWater) -> dict[str, Any]:
    first = water.senders[0] if water.senders else None
    found = feature(
        geojson(water.shape),
        layer="water",
        water_id=water.water.water_id,
        name=water.water.name,
        kind=water.water.kind,
        flow=water.water.flow,
        states=" ".join(water.water.states),
        shared=water.shared,
        sites=len({sender.site for sender in water.senders}),
        senders=len(water.senders),
        escape=water.escape_class,
        **_ends(water.estimate),
        nonnat_low=round(water.not_native.low, 4),
        nonnat_hi=round(water.not_native.high, 4),
        top_site=first.site_name if first else "",
        top_plant=first.plant if first else "",
    )
    given = {name: value for name, value in water.given.items() if name != "id"}
    return _with_given(found, given, water.given.get("id"))


def _ends(estimate: Estimate | None) -> dict[str, float | None]:
    if estimate is None:
        return {"escape_lik": None, "escape_low": None, "escape_hi": None}
    return {
        "escape_lik": round(estimate.likely, 4),
        "escape_low": round(estimate.low, 4),
        "escape_hi": round(estimate.high, 4),
    }


def _water_names(answer: CommunityAnswer) -> dict[str, str]:
    return {
        water.water.water_id: water.water.name or water.water.water_id for water in answer.waters
    }


def _number(value: float | None, places: int) -> str:
    return "" if value is None else f"{value:.{places}f}"
