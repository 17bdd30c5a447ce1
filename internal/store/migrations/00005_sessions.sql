-- +goose Up

-- Logins at the pages, so that they can be ended here. The token itself is
-- with the browser alone; under_hash tells which passphrase it was given for.
CREATE TABLE sessions (
  token_hash TEXT    NOT NULL PRIMARY KEY,
  role       TEXT    NOT NULL,
  under_hash TEXT    NOT NULL,
  began_at   INTEGER NOT NULL,
  used_at    INTEGER NOT NULL,
  expires_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX sessions_by_end ON sessions (expires_at);
