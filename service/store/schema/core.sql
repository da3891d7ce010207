-- What the store is and what went into it.
CREATE TABLE meta (
  key TEXT PRIMARY KEY,
  value TEXT NOT NULL
) WITHOUT ROWID;

-- Every file or download that went in, with its content hash. The build id is computed from these rows.
CREATE TABLE source (
  source_id TEXT PRIMARY KEY,
  kind TEXT NOT NULL CHECK (kind <> ''),  -- law, own-rule, plants, names, taxonomy, waters, occurrences and so on
  title TEXT NOT NULL,
  version TEXT NOT NULL DEFAULT '',
  licence TEXT NOT NULL DEFAULT '',
  citation TEXT NOT NULL DEFAULT '',
  url TEXT NOT NULL DEFAULT '',
  origin TEXT NOT NULL DEFAULT 'added' CHECK (origin IN ('reference', 'added')),  -- of the package, or of the operator
  sha256 TEXT NOT NULL,
  rows_read INTEGER NOT NULL DEFAULT 0,
  rows_kept INTEGER NOT NULL DEFAULT 0,
  report TEXT NOT NULL DEFAULT '{}'  -- JSON: counts of rows set apart, by reason
);
