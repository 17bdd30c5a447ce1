-- A day may hold several trips: calls and float plans are kept for each of
-- them, by a mark of the booking that names nobody; empty is the day as it is
-- called where nothing is booked, and what was kept before.

-- +goose Up

CREATE TABLE calls_by_trip (
  id         INTEGER PRIMARY KEY,
  port       TEXT    NOT NULL,
  ground     TEXT    NOT NULL,
  date       TEXT    NOT NULL,
  booking    TEXT    NOT NULL,
  made_at    INTEGER NOT NULL,
  tactic     TEXT    NOT NULL,
  going      INTEGER NOT NULL,
  confidence TEXT    NOT NULL,
  agreement  REAL    NOT NULL,
  standing   TEXT    NOT NULL CHECK (json_valid(standing)),
  document   BLOB    NOT NULL,
  erased_at  INTEGER,
  UNIQUE (port, ground, date, booking, made_at)
) STRICT;
INSERT INTO calls_by_trip SELECT id, port, ground, date, '', made_at, tactic, going, confidence, agreement, standing, document, erased_at FROM calls;

-- Dropping the calls would drop what they were made from with them, so that
-- is set aside first. Renaming carries the reference along.
CREATE TABLE outlooks_by_trip (
  call_id  INTEGER PRIMARY KEY REFERENCES calls_by_trip (id) ON DELETE CASCADE,
  made_at  INTEGER NOT NULL,
  document BLOB    NOT NULL
) STRICT;
INSERT INTO outlooks_by_trip SELECT call_id, made_at, document FROM outlooks;
DROP TABLE outlooks;
DROP TABLE calls;
ALTER TABLE calls_by_trip RENAME TO calls;
ALTER TABLE outlooks_by_trip RENAME TO outlooks;
CREATE INDEX calls_by_day ON calls (port, date, made_at);

CREATE TABLE float_plans_by_trip (
  port            TEXT    NOT NULL,
  date            TEXT    NOT NULL,
  booking         TEXT    NOT NULL,
  boat            TEXT    NOT NULL,
  ground          TEXT    NOT NULL,
  people          INTEGER,
  leave_at        INTEGER NOT NULL,
  back_at         INTEGER NOT NULL,
  overdue_at      INTEGER NOT NULL,
  left_at         INTEGER,
  checked_in_at   INTEGER,
  checked_in_by   TEXT    NOT NULL,
  told_overdue_at INTEGER,
  called_off_at   INTEGER,
  PRIMARY KEY (port, date, booking)
) STRICT, WITHOUT ROWID;
INSERT INTO float_plans_by_trip SELECT port, date, '', boat, ground, people, leave_at, back_at, overdue_at, left_at, checked_in_at, '', told_overdue_at, called_off_at FROM float_plans;
DROP TABLE float_plans;
ALTER TABLE float_plans_by_trip RENAME TO float_plans;
