-- +goose Up

-- What a product is called through its life where its office renumbers it, how
-- many answers of the feed in a row lacked it, the last that counted made at
-- missed_at, and how it ended: cancelled, replaced, expired, unlisted.
-- Until now nobody looked whether a product had said so.
ALTER TABLE warnings ADD COLUMN life TEXT NOT NULL DEFAULT '';
ALTER TABLE warnings ADD COLUMN missed INTEGER NOT NULL DEFAULT 0;
ALTER TABLE warnings ADD COLUMN missed_at INTEGER;
ALTER TABLE warnings ADD COLUMN how TEXT NOT NULL DEFAULT '';
UPDATE warnings SET how = CASE WHEN ends_at IS NOT NULL AND ended_at >= ends_at THEN 'expired' ELSE 'unlisted' END WHERE ended_at IS NOT NULL;

-- When the last good answer about some zones was made, by its own word: an
-- older one is no answer, after a restart neither.
CREATE TABLE warning_answers (
  zones   TEXT    NOT NULL PRIMARY KEY,
  made_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
