#!/usr/bin/env bash
# Every operation of the API, asked with curl. Made from service/api/examples/requests.toml by: python -m service.api.contract
# REEDGATE_URL says where the service runs. What is commented out needs the demo data, a job or a token.
set -euo pipefail
REEDGATE_URL="${REEDGATE_URL:-http://127.0.0.1:8000}"

# Which plant a label means, and how sure that is
curl -sSf "$REEDGATE_URL/v1/names?label=Water+hyacinth%2C+4in"
echo

# Many labels at once, helping each other's abbreviated genera
curl -sSf -H 'Content-Type: application/json' --data-binary '{"labels": ["Eichhornia crassipes", "M. aquaticum", "cattail"]}' "$REEDGATE_URL/v1/names"
echo

# What the lists of a jurisdiction say of a plant
curl -sSf "$REEDGATE_URL/v1/findings?label=Water+hyacinth%2C+4in&jurisdiction=US-WI&act=sell&act=possess&on=2026-06-01"
echo

# The lists loaded, in all their versions
curl -sSf "$REEDGATE_URL/v1/lists?jurisdiction=US-WI&limit=1"
echo

# One list: its versions, and the classes of the latest
curl -sSf "$REEDGATE_URL/v1/lists/us-wi-nr40"
echo

# The entries of the version in force on a day
curl -sSf "$REEDGATE_URL/v1/lists/us-wi-nr40/entries?on=2026-06-01&limit=2"
echo

# How the law loaded here changed between two days
curl -sSf "$REEDGATE_URL/v1/changes?since=2024-01-01&until=2026-06-01&jurisdiction=US-MN"
echo

# How the law loaded here changed, for feed readers (Atom, RFC 4287)
curl -sSf "$REEDGATE_URL/v1/changes.atom?jurisdiction=US-MN&since=2024-01-01&until=2026-06-01"
echo

# Every line of a stock list, answered in order
curl -sSf -H 'Content-Type: application/json' --data-binary '{"labels": ["Eichhornia crassipes 4in", "Blue flag iris"], "to": ["US-OH", "US-WI"], "from": "US-KY", "act": ["sell"], "on": "2026-06-01"}' "$REEDGATE_URL/v1/stock-checks"
echo
curl -sSf -H 'Content-Type: text/csv' -H 'Accept: text/csv' --data-binary $'label,size\r\nWater hyacinth,4in\r\nBlue flag iris,1gal\r\n' "$REEDGATE_URL/v1/stock-checks?to=US-OH&to=US-WI&act=sell&on=2026-06-01"
echo

# A planting plan, answered: site, law, fit, escape, containment, what instead
curl -sSf -H 'Content-Type: application/json' --data-binary '{"title": "Pond behind the mill (invented)", "date": "2026-06-01", "site": {"geometry": {"type": "Point", "coordinates": [-84.2921, 41.6832]}}, "places": [{"name": "Mill pond", "kind": "pond", "area_m2": 60, "depth_cm": 80, "lined": true, "outlet": false}], "plantings": [{"label": "Pontederia cordata 1 gal", "count": 6, "crown_depth_cm": 10, "holding": "solid-pot"}, {"label": "Parrot'"'"'s feather", "count": 4, "brought_from": "US-TN"}]}' "$REEDGATE_URL/v1/plan-checks"
echo
curl -sSf -H 'Content-Type: text/csv' -H 'Accept: text/csv' --data-binary $'label,count,place,place_kind\r\nPontederia cordata,6,Mill pond,pond\r\n' "$REEDGATE_URL/v1/plan-checks?state=US-OH&county=Fulton&zip=43594&on=2026-06-01"
echo

# Many sites and the waters they share: what could come from where
curl -sSf -H 'Content-Type: application/json' --data-binary '{"type": "FeatureCollection", "title": "Ponds above the mill (invented)", "date": "2026-06-01", "features": [{"type": "Feature", "geometry": {"type": "Point", "coordinates": [-84.2921, 41.6832]}, "properties": {"layer": "site", "name": "Heron Bend", "place_kind": "pond", "plantings": "Yellow flag iris; Pickerelweed"}}, {"type": "Feature", "geometry": {"type": "LineString", "coordinates": [[-84.291, 41.682], [-84.285, 41.69]]}, "properties": {"layer": "water", "name": "Mill race", "kind": "canal", "flow": "slow"}}]}' "$REEDGATE_URL/v1/community-screenings"
echo

# How far a job has come: 202 while it is under way, 200 when it is finished
# curl -sSf "$REEDGATE_URL/v1/jobs/f3b1c2"

# Give a job up, and forget its answer
# curl -sSf -X DELETE "$REEDGATE_URL/v1/jobs/f3b1c2"

# The answer of a job, once it is done
# curl -sSf "$REEDGATE_URL/v1/jobs/f3b1c2/result"

# Waters near a place, and those downstream of it
curl -sSf "$REEDGATE_URL/v1/waters?near=-84.29%2C41.62&within_m=5000"
echo

# One water, and what lies downstream of it
# curl -sSf "$REEDGATE_URL/v1/waters/gnis:99100002"

# What the loaded records say of a plant around a place
curl -sSf "$REEDGATE_URL/v1/occurrences/evidence?label=Water+hyacinth&near=-84.29%2C41.62"
echo

# Plants whose names hold the words given
curl -sSf "$REEDGATE_URL/v1/plants?q=water+hyacinth&limit=1"
echo

# One plant with its traits, how each is known, and its names
curl -sSf "$REEDGATE_URL/v1/plants/pontederia-crassipes"
echo

# All that went into the store, with licence, citation and counts
curl -sSf "$REEDGATE_URL/v1/sources"
echo

# How much of the law is loaded, jurisdiction by jurisdiction
curl -sSf "$REEDGATE_URL/v1/coverage?on=2026-06-01"
echo

# The same as a tile map
curl -sSf "$REEDGATE_URL/v1/coverage/map?on=2026-06-01"
echo

# Add a file of open data or law to the store, whole or not at all
# curl -sSf -H 'Content-Type: application/octet-stream' -H "Authorization: Bearer $REEDGATE_TOKEN" --data-binary @openapi/us-oh-invented.toml "$REEDGATE_URL/v1/loads/regulations?file=us-oh-invented.toml"

# Every kind of problem
curl -sSf "$REEDGATE_URL/problems"
echo

# What a kind of problem means, and what to do about it
curl -sSf "$REEDGATE_URL/problems/unknown-value"
echo

# The process answers
curl -sSf "$REEDGATE_URL/health/live"
echo

# The store is open and the law is read; 503 with the reason otherwise
curl -sSf "$REEDGATE_URL/health/ready"
echo

# Counts and durations in the Prometheus text format
curl -sSf "$REEDGATE_URL/metrics"
echo
