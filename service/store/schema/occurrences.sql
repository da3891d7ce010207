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

-- The records of one load in one cell of a grid of 0.1 degrees, packed: millions of records stay small, quick to copy
-- and to count. A load adds blocks and changes none. service.store.blocks packs and unpacks them.
CREATE TABLE occurrence_block (
  block_no INTEGER PRIMARY KEY,
  cell INTEGER NOT NULL,       -- row from the south pole * 3600 + column from 180 west
  records INTEGER NOT NULL CHECK (records > 0),
  packed BLOB NOT NULL,        -- the layout service.store.blocks.RECORD, one after the other
  record_keys TEXT NOT NULL    -- in the same order, a line each: occurrenceID, else gbifID, else a hash of the record
);

-- The tight box around the records of each block, and how many they are. By cell, which finds a window as an R-tree
-- would, and takes the blocks of a load in a tenth of the time.
CREATE TABLE occurrence_box (
  cell INTEGER NOT NULL,
  block_no INTEGER NOT NULL,
  records INTEGER NOT NULL CHECK (records > 0),
  west REAL NOT NULL,
  east REAL NOT NULL,
  south REAL NOT NULL,
  north REAL NOT NULL,
  PRIMARY KEY (cell, block_no)
) WITHOUT ROWID;

-- MD5 of data set and record key of every record, in order of the first half, so that a record that comes again is
-- found without reading the blocks. At most a million a row; the halves are little-endian numbers of 64 bits.
CREATE TABLE occurrence_digest (
  digest_no INTEGER PRIMARY KEY,
  records INTEGER NOT NULL CHECK (records > 0),
  low BLOB NOT NULL,
  high BLOB NOT NULL
);
