#!/usr/bin/env bash
# Every operation of the API, asked with curl. Made from service/api/examples/requests.toml by: python -m service.api.contract
# REEDGATE_URL says where the service runs. What is commented out needs the demo data or a token.
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

# The lists held, in all their versions
curl -sSf "$REEDGATE_URL/v1/lists?jurisdiction=US-WI&limit=1"
echo

# One list: its versions, and the classes of the latest
curl -sSf "$REEDGATE_URL/v1/lists/us-wi-nr40"
echo

# The entries of the version in force on a day
curl -sSf "$REEDGATE_URL/v1/lists/us-wi-nr40/entries?on=2026-06-01&limit=2"
echo

# How the law held here moved between two days
curl -sSf "$REEDGATE_URL/v1/changes?since=2024-01-01&until=2026-06-01&jurisdiction=US-MN"
echo

# Every line of a stock list, answered in order
curl -sSf -H 'Content-Type: application/json' --data-binary '{"labels": ["Eichhornia crassipes 4in", "Blue flag iris"], "to": ["US-OH", "US-WI"], "from": "US-KY", "act": ["sell"], "on": "2026-06-01"}' "$REEDGATE_URL/v1/stock-checks"
echo
curl -sSf -H 'Content-Type: text/csv' -H 'Accept: text/csv' --data-binary $'label,size\r\nWater hyacinth,4in\r\nBlue flag iris,1gal\r\n' "$REEDGATE_URL/v1/stock-checks?to=US-OH&to=US-WI&act=sell&on=2026-06-01"
echo

# A planting plan, answered: site, law, fit, escape, containment, what instead

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

# How much of the law is held, jurisdiction by jurisdiction
curl -sSf "$REEDGATE_URL/v1/coverage?on=2026-06-01"
echo

# The same as a tile map
curl -sSf "$REEDGATE_URL/v1/coverage/map?on=2026-06-01"
echo

# Add a file of open data or law to the store, whole or not at all
# curl -sSf -H 'Content-Type: application/octet-stream' -H "Authorization: Bearer $REEDGATE_TOKEN" --data-binary @openapi/us-oh-invented.toml "$REEDGATE_URL/v1/loads/regulations?file=us-oh-invented.toml"

# The process answers
curl -sSf "$REEDGATE_URL/health/live"
echo

# The store is open and the law is read; 503 with the reason otherwise
curl -sSf "$REEDGATE_URL/health/ready"
echo

# Counts and durations in the Prometheus text format
curl -sSf "$REEDGATE_URL/metrics"
echo
