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

-- occurrence_no = cell << 24 | serial within the cell, so that the records of a cell lie together and the index by
-- plant is also one by place. A cell is 0.05 degrees a side: row from the south pole * 7200 + column from 180 west.
CREATE TABLE occurrence (
  occurrence_no INTEGER PRIMARY KEY,
  record_key TEXT NOT NULL,              -- occurrenceID, else gbifID, else a hash of the record; unique in its data set
  plant_no INTEGER NOT NULL REFERENCES occurrence_plant(plant_no),
  dataset_no INTEGER NOT NULL REFERENCES occurrence_dataset(dataset_no),
  terms_no INTEGER NOT NULL REFERENCES occurrence_terms(terms_no),
  longitude_e7 INTEGER NOT NULL,         -- WGS84 degrees times ten million (about 1 cm)
  latitude_e7 INTEGER NOT NULL,
  uncertainty_m REAL,                    -- NULL: not stated
  year INTEGER                           -- NULL: not stated, or the record spans years
);
CREATE INDEX occurrence_of_plant ON occurrence(plant_no);

-- The tight box around the records of each cell, and how many they are.
CREATE VIRTUAL TABLE occurrence_cell USING rtree(cell, west, east, south, north, +records INTEGER);

CREATE VIEW occurrence_record AS
SELECT record_key, dataset_key, plant_id, longitude_e7 / 1e7 AS longitude, latitude_e7 / 1e7 AS latitude,
       uncertainty_m, year, licence, basis_of_record, establishment_means, degree_of_establishment
FROM occurrence
JOIN occurrence_plant USING (plant_no)
JOIN occurrence_dataset USING (dataset_no)
JOIN occurrence_terms USING (terms_no);
