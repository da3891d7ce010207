-- Occurrence records of the store's plants, after the quality rules. Counts of what was set apart: source.report.
CREATE TABLE occurrence_dataset (
  dataset_no INTEGER PRIMARY KEY,
  dataset_key TEXT NOT NULL UNIQUE,
  title TEXT NOT NULL DEFAULT '',
  citation TEXT NOT NULL DEFAULT '',
  url TEXT NOT NULL DEFAULT ''
);

CREATE TABLE occurrence_plant (
  plant_no INTEGER PRIMARY KEY,
  plant_id TEXT NOT NULL UNIQUE REFERENCES plant(plant_id) DEFERRABLE INITIALLY DEFERRED
);

-- Combinations of Darwin Core terms that many records share, as their publisher wrote them.
CREATE TABLE occurrence_terms (
  terms_no INTEGER PRIMARY KEY,
  licence TEXT NOT NULL,
  basis_of_record TEXT NOT NULL,
  establishment_means TEXT NOT NULL,
  degree_of_establishment TEXT NOT NULL,
  UNIQUE (licence, basis_of_record, establishment_means, degree_of_establishment)
);

-- The records of one cell of a grid of 0.1 degrees, packed: millions of records stay small, quick to copy, to check
-- and to count. service.store.blocks packs and unpacks them; service.store.occurrences gives them as typed values.
CREATE TABLE occurrence_block (
  cell INTEGER PRIMARY KEY,    -- row from the south pole * 3600 + column from 180 west
  records INTEGER NOT NULL CHECK (records > 0),
  packed BLOB NOT NULL,        -- the layout service.store.blocks.RECORD, one after the other
  record_keys TEXT NOT NULL    -- in the same order, a line each: occurrenceID, else gbifID, else a hash of the record
);

-- The tight box around the records of each cell, and how many they are.
CREATE VIRTUAL TABLE occurrence_cell USING rtree(cell, west, east, south, north, +records INTEGER);
