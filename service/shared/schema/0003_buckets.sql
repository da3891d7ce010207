-- How many requests each client has left, for all servers together. Not logged: after a crash of the database every
-- client begins with a whole bucket, which harms nobody.
CREATE UNLOGGED TABLE reedgate_bucket (
  client text PRIMARY KEY,
  tokens double precision NOT NULL,
  seen timestamptz NOT NULL,
  taken boolean NOT NULL                       -- whether the latest request got a token
);
CREATE INDEX reedgate_bucket_by_seen ON reedgate_bucket (seen);
