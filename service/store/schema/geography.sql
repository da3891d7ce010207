-- Counties and states. Geometry is WKB in WGS84 longitude and latitude, split at the antimeridian.
CREATE TABLE county (
  fips TEXT PRIMARY KEY,
  state TEXT NOT NULL,
  name TEXT NOT NULL,
  kind TEXT NOT NULL,
  source_id TEXT NOT NULL REFERENCES source(source_id)
) WITHOUT ROWID;
CREATE INDEX county_of_state ON county(state);

CREATE TABLE boundary (
  boundary_id INTEGER PRIMARY KEY,
  state TEXT NOT NULL,
  fips TEXT REFERENCES county(fips),  -- NULL for the outline of the whole state
  geometry BLOB NOT NULL
);
CREATE INDEX boundary_of_county ON boundary(fips);
CREATE VIRTUAL TABLE boundary_box USING rtree(boundary_id, west, east, south, north);
