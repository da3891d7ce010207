CREATE TABLE law_list (
  list_id TEXT NOT NULL,
  version TEXT NOT NULL,              -- effective_from of the version, empty where not established
  jurisdiction TEXT NOT NULL,
  title TEXT NOT NULL,
  authority TEXT NOT NULL,
  citation TEXT NOT NULL,
  kind TEXT NOT NULL,
  url TEXT NOT NULL,
  effective_from TEXT,
  amended TEXT,
  superseded_on TEXT,
  how_known TEXT NOT NULL,
  read_url TEXT NOT NULL,
  read_copy_date TEXT NOT NULL,
  completeness TEXT NOT NULL,
  missing TEXT NOT NULL,              -- what of the list is not here, in words
  note TEXT NOT NULL,
  source_id TEXT NOT NULL REFERENCES source(source_id),
  PRIMARY KEY (list_id, version)
) WITHOUT ROWID;

CREATE TABLE law_class (
  list_id TEXT NOT NULL,
  version TEXT NOT NULL,
  name TEXT NOT NULL,
  position INTEGER NOT NULL,
  acts TEXT NOT NULL,                 -- JSON list
  acts_known INTEGER NOT NULL,        -- 0 where it may restrict others too
  duty TEXT NOT NULL,
  permit TEXT NOT NULL,
  permit_for TEXT NOT NULL,           -- JSON list
  every_aquatic_plant INTEGER NOT NULL,
  open_definition INTEGER NOT NULL,   -- 1 where it reaches plants by what they do, not by a list
  summary TEXT NOT NULL,
  how_known TEXT NOT NULL,
  terms TEXT NOT NULL,                -- JSON list of terms
  PRIMARY KEY (list_id, version, name),
  FOREIGN KEY (list_id, version) REFERENCES law_list(list_id, version)
) WITHOUT ROWID;

CREATE TABLE law_entry (
  entry_id INTEGER PRIMARY KEY,
  list_id TEXT NOT NULL,
  version TEXT NOT NULL,
  position INTEGER NOT NULL,
  class_name TEXT NOT NULL,
  plant_id TEXT NOT NULL REFERENCES plant(plant_id),
  name_as_listed TEXT NOT NULL,
  common_as_listed TEXT NOT NULL,
  accepted_name TEXT NOT NULL,
  rank TEXT NOT NULL,
  scope TEXT NOT NULL,                -- JSON list
  exceptions TEXT NOT NULL,
  area TEXT NOT NULL,
  condition TEXT NOT NULL,
  how_known TEXT NOT NULL,
  read_url TEXT NOT NULL,
  terms TEXT NOT NULL,                -- JSON list of terms, taxa as plant ids, counties as FIPS codes
  FOREIGN KEY (list_id, version, class_name) REFERENCES law_class(list_id, version, name)
);
CREATE INDEX law_entry_of_list ON law_entry(list_id, version, position);
CREATE INDEX law_entry_of_plant ON law_entry(plant_id);

CREATE TABLE law_office (
  jurisdiction TEXT NOT NULL,
  topic TEXT NOT NULL,                -- trade or waters
  name TEXT NOT NULL,
  url TEXT NOT NULL,
  url_known TEXT NOT NULL,            -- read, or memory for an address that was not opened
  PRIMARY KEY (jurisdiction, topic)
) WITHOUT ROWID;
