CREATE TABLE plant (
  plant_id TEXT PRIMARY KEY,
  accepted_name TEXT NOT NULL UNIQUE,
  authorship TEXT NOT NULL DEFAULT '',
  rank TEXT NOT NULL,
  genus TEXT NOT NULL DEFAULT '',
  family TEXT NOT NULL DEFAULT '',
  parent_id TEXT REFERENCES plant(plant_id) DEFERRABLE INITIALLY DEFERRED,
  catalogued INTEGER NOT NULL,
  traits TEXT NOT NULL DEFAULT '{}',      -- JSON, the columns of service.values.plants.Traits that are known
  provenance TEXT NOT NULL DEFAULT '{}'   -- JSON, column -> [how_known, source]
);

CREATE TABLE hybrid_parent (
  plant_id TEXT NOT NULL REFERENCES plant(plant_id) DEFERRABLE INITIALLY DEFERRED,
  parent_id TEXT NOT NULL REFERENCES plant(plant_id) DEFERRABLE INITIALLY DEFERRED,
  PRIMARY KEY (plant_id, parent_id)
) WITHOUT ROWID;

CREATE TABLE name (
  name_id INTEGER PRIMARY KEY,
  name TEXT NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('accepted', 'synonym', 'common', 'trade', 'cultivar', 'misspelling')),
  plant_id TEXT NOT NULL REFERENCES plant(plant_id) DEFERRABLE INITIALLY DEFERRED,
  sense TEXT NOT NULL DEFAULT 'strict' CHECK (sense IN ('strict', 'open', 'genus', 'misapplied')),
  also TEXT NOT NULL DEFAULT '',  -- separated by semicolons: genera and names that it may mean as well
  note TEXT NOT NULL DEFAULT '',
  source_id TEXT NOT NULL REFERENCES source(source_id)
);
CREATE INDEX name_of_plant ON name(plant_id);

-- Whether a taxon is native to a state, from surveys; taxa beyond the catalogue too.
CREATE TABLE native_status (
  name TEXT NOT NULL,
  state TEXT NOT NULL,
  status TEXT NOT NULL CHECK (status IN ('native', 'both', 'introduced')),
  source TEXT NOT NULL,
  how_known TEXT NOT NULL,
  PRIMARY KEY (name, state)
) WITHOUT ROWID;

-- Names of wetland plants beyond the catalogue, from survey tables.
CREATE TABLE wetland_name (
  name TEXT PRIMARY KEY,
  rank TEXT NOT NULL,
  wetland_indicator TEXT NOT NULL DEFAULT '',  -- separated by semicolons, wettest first
  native_states INTEGER
) WITHOUT ROWID;

-- Wetland indicator status by Army Corps region (National Wetland Plant List).
CREATE TABLE wetland_indicator (
  plant_id TEXT NOT NULL REFERENCES plant(plant_id),
  region TEXT NOT NULL,
  source_table TEXT NOT NULL,
  indicator TEXT NOT NULL,
  name_in_source TEXT NOT NULL,
  PRIMARY KEY (plant_id, region, source_table)
) WITHOUT ROWID;
