-- +goose Up

-- Signed links work once: their nonces stay here until they are too old anyway.
CREATE TABLE used_links (
  nonce    TEXT    NOT NULL PRIMARY KEY,
  until_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
