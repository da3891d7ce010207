-- What servers share: jobs with their answers, API tokens, watches.

CREATE TABLE reedgate_job (
  job_id text PRIMARY KEY,
  state text NOT NULL CHECK (state IN ('waiting', 'running', 'done', 'failed')),
  done integer NOT NULL DEFAULT 0,
  total integer NOT NULL DEFAULT 0,
  task bytea,                                  -- until it is finished
  error jsonb,
  added timestamptz NOT NULL DEFAULT now(),
  changed timestamptz NOT NULL DEFAULT now(),
  begun integer NOT NULL DEFAULT 0
);
CREATE INDEX reedgate_job_by_state ON reedgate_job (state, changed);

CREATE TABLE reedgate_job_answer (
  job_id text NOT NULL REFERENCES reedgate_job ON DELETE CASCADE,
  media_type text NOT NULL,
  content bytea NOT NULL,
  PRIMARY KEY (job_id, media_type)
);

CREATE TABLE reedgate_token (
  token_id text PRIMARY KEY,
  token jsonb NOT NULL
);

CREATE TABLE reedgate_watch (
  name text PRIMARY KEY,
  watch jsonb NOT NULL
);
