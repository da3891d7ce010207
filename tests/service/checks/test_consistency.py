"""The same planting asked through status, stock, plan and community gets the same finding."""

import json
from datetime import date

from fastapi.testclient import TestClient
from hypothesis import given, settings
from hypothesis import strategies as st

from service.api.app import create_app
from service.checks.community.screening import screen_community
from service.checks.plan.check import check_plan
from service.checks.stock import StockChecker, StockQuestion
from service.input.community import read_community
from service.input.plan import read_plan
from service.regulation.finding import Question
from service.regulation.for_name import find_for_name
from service.regulation.shipping import ship
from service.values.vocabulary import ACTS, STATES, Act, CountyFips, Jurisdiction
from tests.service.demo_stores import demo_library, demo_path

LABELS = sorted({record.name for record in demo_library().names})[::17]
COUNTIES = {
    state: [county.fips for county in demo_library().counties.of_state(state)] for state in STATES
}


@st.composite
def asked(
    draw: st.DrawFn,
) -> tuple[str, Jurisdiction, CountyFips | None, Act, date, Jurisdiction | None]:
    state = draw(st.sampled_from(STATES))
    label = draw(st.sampled_from(LABELS))
    if draw(st.booleans()) and len(label) > 6:
        place = draw(st.integers(1, len(label) - 2))
        label = label[:place] + draw(st.sampled_from("aeinrst")) + label[place + 1 :]
    return (
        label,
        state,
        draw(st.none() | st.sampled_from(COUNTIES[state])),
        draw(st.sampled_from(ACTS)),
        draw(st.dates(date(2010, 1, 1), date(2027, 1, 1))),
        draw(st.none() | st.sampled_from(STATES)),
    )


@given(asked())
@settings(max_examples=60, deadline=None)
def test_every_way_of_asking_gives_the_same_finding_and_the_same_lane(
    case: tuple[str, Jurisdiction, CountyFips | None, Act, date, Jurisdiction | None],
) -> None:
    label, state, county, act, on, origin = case
    library = demo_library()
    naming = library.naming(library.resolver.resolve(label))
    status = find_for_name(library.law, naming, Question(state, act, on, county))
    lane = ship(library.law, naming, origin, state, on, county) if origin else None

    line = next(
        StockChecker(library, StockQuestion((state,), (act,), on, origin, county)).check([label])
    )
    assert line.verdicts.findings == (status,)
    assert line.verdicts.lanes == ((lane,) if lane else ())

    planting = {"label": label, "acts": [act], **({"brought_from": origin} if origin else {})}
    plan = check_plan(
        library,
        read_plan({"site": {"state": state, "county": county}, "plantings": [planting]}),
        on=on,
    ).planting(1)
    assert [planned.finding for planned in plan.findings if planned.role == "site"] == [status]
    assert (plan.lane.lane if plan.lane else None) == lane

    feature = {
        "type": "Feature",
        "geometry": None,
        "properties": {"name": "x", "state": state, "county": county, "plantings": [planting]},
    }
    community = read_community({"type": "FeatureCollection", "features": [feature]})
    screened = screen_community(library, community, on=on).sites[0].plantings[0]
    assert [finding for role, finding in screened.findings if role == "site"] == [status]
    assert screened.lane == lane
    assert (screened.outcome, screened.verified) == (plan.outcome, plan.verified)
    assert (screened.resolution.match, screened.resolution.candidates) == (
        plan.resolution.match,
        plan.resolution.candidates,
    )


def test_the_routes_agree_too() -> None:
    client = TestClient(create_app(demo_path()))
    query = {
        "label": "Yellow flag iris",
        "jurisdiction": "US-WI",
        "act": "plant",
        "on": "2026-06-01",
    }
    status = client.get("/v1/findings", params=query).json()["findings"][0]
    stock = client.post(
        "/v1/stock-checks",
        json={
            "labels": ["Yellow flag iris"],
            "to": ["US-WI"],
            "act": ["plant"],
            "on": "2026-06-01",
        },
    )
    assert stock.json()["lines"][0]["findings"][0] == status
    document = {
        "date": "2026-06-01",
        "acts": ["plant"],
        "site": {"state": "US-WI"},
        "plantings": [{"label": "Yellow flag iris"}],
    }
    plan = client.post(
        "/v1/plan-checks",
        content=json.dumps(document),
        headers={"content-type": "application/json"},
    ).json()
    finding = plan["plantings"][0]["findings"][0]
    for name in (
        "outcome",
        "act",
        "jurisdiction",
        "coverage",
        "verified",
        "reasons",
        "confirm_with",
        "lists_searched",
    ):
        assert finding[name] == status[name]
    cited = [plan["sources"][number - 1] for number in finding["sources"]]
    assert [
        (citation["list_id"], citation["class"], citation["name_as_listed"]) for citation in cited
    ] == [
        (citation["list_id"], citation["class"], citation["name_as_listed"])
        for citation in status["citations"]
    ]


def test_a_site_of_a_screening_has_the_escape_of_the_same_plan() -> None:
    place = {"area_m2": 40, "depth_cm": 60, "outlet": True, "overflow": False}
    geometry = {"type": "Point", "coordinates": [-84.2921, 41.6832]}
    plan = check_plan(
        demo_library(),
        read_plan(
            {
                "site": {"geometry": geometry},
                "places": [{"name": "x", "kind": "pond", **place}],
                "plantings": ["Iris pseudacorus"],
            }
        ),
        on=date(2026, 6, 1),
    ).planting(1)
    properties = {"name": "x", "place_kind": "pond", **place, "plantings": ["Iris pseudacorus"]}
    community = read_community(
        {
            "type": "FeatureCollection",
            "features": [{"type": "Feature", "geometry": geometry, "properties": properties}],
        }
    )
    screened = (
        screen_community(demo_library(), community, on=date(2026, 6, 1)).sites[0].plantings[0]
    )
    assert plan.escape is not None
    assert screened.escape == plan.escape.estimate
    assert [chance.estimate for chance in screened.waters] == [
        water.estimate for water in plan.escape.waters
    ]
    assert screened.fit == (plan.worst_fit.verdict if plan.worst_fit else None)
