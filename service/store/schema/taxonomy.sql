-- Open taxonomies loaded beside the built-in catalogue, each with its title and version in its source row.
CREATE TABLE taxonomy (
  taxonomy_no INTEGER PRIMARY KEY,
  source_id TEXT NOT NULL UNIQUE REFERENCES source(source_id) DEFERRABLE INITIALLY DEFERRED
);

-- One row a name, found by its normal form (service.names.normal_form). accepted_no is the row of the accepted name:
-- the row itself for an accepted name, null for a name that the taxonomy does not place.
CREATE TABLE taxonomy_name (
  name_no INTEGER PRIMARY KEY,
  taxonomy_no INTEGER NOT NULL REFERENCES taxonomy(taxonomy_no),
  taxon_id TEXT NOT NULL,
  normal_form TEXT NOT NULL,
  name TEXT NOT NULL,
  authorship TEXT NOT NULL,
  rank TEXT NOT NULL,
  status TEXT NOT NULL CHECK (status IN ('accepted', 'synonym', 'unplaced')),
  accepted_no INTEGER REFERENCES taxonomy_name(name_no) DEFERRABLE INITIALLY DEFERRED,
  parent_taxon_id TEXT NOT NULL DEFAULT ''
);
CREATE INDEX taxonomy_name_by_form ON taxonomy_name(normal_form);
CREATE INDEX taxonomy_name_by_accepted ON taxonomy_name(accepted_no);

-- Genera by the keys under which a misspelt genus is looked for (service.names.genus_keys).
CREATE TABLE taxonomy_genus_key (
  key TEXT NOT NULL,
  genus TEXT NOT NULL,
  PRIMARY KEY (key, genus)
) WITHOUT ROWID;

-- Where a taxonomy places a name of the built-in catalogue otherwise. The catalogue goes first; the difference is kept to be shown.
CREATE TABLE taxonomy_difference (
  taxonomy_no INTEGER NOT NULL REFERENCES taxonomy(taxonomy_no),
  normal_form TEXT NOT NULL,
  plant_id TEXT NOT NULL,
  accepted_there TEXT NOT NULL,
  name TEXT NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('other-plant', 'accepted-there', 'other-accepted-name')),
  PRIMARY KEY (taxonomy_no, normal_form, plant_id, accepted_there)
) WITHOUT ROWID;
