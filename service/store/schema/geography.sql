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

-- Hardiness zones by ZIP code and by polygon.
CREATE TABLE zone_of_zip (
  zip TEXT PRIMARY KEY,
  zone TEXT NOT NULL,
  source_id TEXT NOT NULL REFERENCES source(source_id)
) WITHOUT ROWID;

CREATE TABLE zone_area (
  area_id INTEGER PRIMARY KEY,
  zone TEXT NOT NULL,
  geometry BLOB NOT NULL,
  source_id TEXT NOT NULL REFERENCES source(source_id)
);
CREATE VIRTUAL TABLE zone_box USING rtree(area_id, west, east, south, north);

-- A water body, or all reaches of one stream.
CREATE TABLE water (
  water_id TEXT PRIMARY KEY,
  name TEXT NOT NULL DEFAULT '',
  kind TEXT NOT NULL CHECK (kind IN ('lake', 'pond', 'wetland', 'stream', 'river', 'canal')),
  flow TEXT NOT NULL CHECK (flow IN ('still', 'slow', 'moving')),
  feature_code TEXT NOT NULL DEFAULT '',  -- as the data set has it
  longitude REAL NOT NULL,
  latitude REAL NOT NULL,
  area_m2 REAL,
  length_m REAL,
  source_id TEXT NOT NULL REFERENCES source(source_id)
) WITHOUT ROWID;
CREATE INDEX water_of_source ON water(source_id);

CREATE TABLE water_state (
  water_id TEXT NOT NULL REFERENCES water(water_id),
  state TEXT NOT NULL,
  PRIMARY KEY (water_id, state)
) WITHOUT ROWID;

-- Polygons and lines; one of a water of many. water_id is NULL for a pipe or connector, which is not a water itself.
CREATE TABLE water_part (
  part_id INTEGER PRIMARY KEY,
  water_id TEXT REFERENCES water(water_id),
  is_area INTEGER NOT NULL,
  geometry BLOB NOT NULL,
  source_id TEXT NOT NULL REFERENCES source(source_id)
);
CREATE INDEX part_of_water ON water_part(water_id);
CREATE INDEX part_of_source ON water_part(source_id);
CREATE VIRTUAL TABLE water_box USING rtree(part_id, west, east, south, north);

-- Lines that water runs along, in the direction of flow.
CREATE TABLE flowline (
  flowline_id TEXT PRIMARY KEY,
  part_id INTEGER NOT NULL UNIQUE REFERENCES water_part(part_id),
  length_m REAL NOT NULL,
  through_id TEXT REFERENCES water(water_id)  -- the lake, wetland or wide river that it runs through
) WITHOUT ROWID;

CREATE INDEX flowline_through ON flowline(through_id);

-- Either end may be a line that is not loaded: the trace then stops there and says so.
CREATE TABLE flow_link (
  from_id TEXT NOT NULL,
  to_id TEXT NOT NULL,
  main INTEGER NOT NULL,          -- 0: the lesser branch where the water divides
  gap_m REAL NOT NULL DEFAULT 0,  -- across a still water that no line runs through
  through_id TEXT REFERENCES water(water_id),
  how TEXT NOT NULL CHECK (how IN ('flow-table', 'nodes', 'sequence', 'downstream-id', 'end-points', 'across')),
  source_id TEXT NOT NULL REFERENCES source(source_id),
  PRIMARY KEY (from_id, to_id)
) WITHOUT ROWID;
CREATE INDEX flow_link_upstream ON flow_link(to_id);
CREATE INDEX flow_link_through ON flow_link(through_id) WHERE through_id IS NOT NULL;

-- Where along a flowline which state is: in it, or beside it within the accuracy of the boundary.
CREATE TABLE flowline_state (
  flowline_id TEXT NOT NULL REFERENCES flowline(flowline_id),
  from_m REAL NOT NULL,
  state TEXT NOT NULL,
  to_m REAL NOT NULL,
  beside INTEGER NOT NULL,
  PRIMARY KEY (flowline_id, from_m, state)
) WITHOUT ROWID;

CREATE TABLE watershed (
  watershed_id TEXT PRIMARY KEY,  -- hydrologic unit code, leading zeros kept
  name TEXT NOT NULL DEFAULT '',
  digits INTEGER NOT NULL,
  downstream TEXT NOT NULL DEFAULT '',  -- another code, or a word such as OCEAN
  area_m2 REAL NOT NULL,
  source_id TEXT NOT NULL REFERENCES source(source_id)
) WITHOUT ROWID;

CREATE TABLE watershed_area (
  area_id INTEGER PRIMARY KEY,
  watershed_id TEXT NOT NULL REFERENCES watershed(watershed_id),
  geometry BLOB NOT NULL
);
CREATE INDEX area_of_watershed ON watershed_area(watershed_id);
CREATE VIRTUAL TABLE watershed_box USING rtree(area_id, west, east, south, north);
