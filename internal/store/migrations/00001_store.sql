-- Instants are whole Unix seconds in columns named *_at; civil days are
-- "2027-01-19" and times of day "07:30", both on the port's clock. Quantities
-- are SI, with the unit in the name of the column; NULL is unknown.

-- +goose Up

-- "fcsd": tells our files from other people's.
PRAGMA application_id = 0x66637364;

CREATE TABLE observations (
  station        TEXT    NOT NULL,
  observed_at    INTEGER NOT NULL,
  source         TEXT    NOT NULL,
  wind_mps       REAL,
  wind_from_deg  REAL,
  gust_mps       REAL,
  averaging_s    INTEGER,
  sea_m          REAL,
  period_s       REAL,
  mean_period_s  REAL,
  sea_from_deg   REAL,
  swell_m        REAL,
  swell_period_s REAL,
  swell_from_deg REAL,
  wind_sea_m     REAL,
  steepness      TEXT    NOT NULL,
  pressure_pa    REAL,
  air_k          REAL,
  water_k        REAL,
  visibility_m   REAL,
  detail         TEXT    NOT NULL,
  issued_at      INTEGER,
  fetched_at     INTEGER NOT NULL,
  PRIMARY KEY (station, observed_at, source)
) STRICT, WITHOUT ROWID;
CREATE INDEX observations_by_time ON observations (observed_at);

-- A forecast as one source gave it for one ground in one run.
CREATE TABLE series (
  id         INTEGER PRIMARY KEY,
  source     TEXT    NOT NULL,
  port       TEXT    NOT NULL,
  ground     TEXT    NOT NULL,
  run_at     INTEGER NOT NULL,
  fetched_at INTEGER NOT NULL,
  official   INTEGER NOT NULL,
  notes      TEXT    NOT NULL CHECK (json_valid(notes)),
  digest     TEXT    NOT NULL,
  UNIQUE (source, port, ground, run_at)
) STRICT;
CREATE INDEX series_by_time ON series (run_at);

CREATE TABLE series_hours (
  series_id            INTEGER NOT NULL REFERENCES series (id) ON DELETE CASCADE,
  valid_at             INTEGER NOT NULL,
  wind_mps             REAL,
  wind_from_deg        REAL,
  gust_mps             REAL,
  direction_spread_deg REAL,
  sea_m                REAL,
  period_s             REAL,
  sea_from_deg         REAL,
  sea_includes_current INTEGER,
  swell_m              REAL,
  swell_period_s       REAL,
  swell_from_deg       REAL,
  inlet_current_mps    REAL,
  current_mps          REAL,
  current_toward_deg   REAL,
  cloud_pct            REAL,
  rain_pct             REAL,
  thunder_pct          REAL,
  visibility_m         REAL,
  air_k                REAL,
  water_k              REAL,
  PRIMARY KEY (series_id, valid_at)
) STRICT, WITHOUT ROWID;

-- Documents are gzipped: explained, a call takes 80 kB and then 10.
CREATE TABLE calls (
  id         INTEGER PRIMARY KEY,
  port       TEXT    NOT NULL,
  ground     TEXT    NOT NULL,
  date       TEXT    NOT NULL,
  made_at    INTEGER NOT NULL,
  tactic     TEXT    NOT NULL,
  going      INTEGER NOT NULL,
  confidence TEXT    NOT NULL,
  agreement  REAL    NOT NULL,
  standing   TEXT    NOT NULL CHECK (json_valid(standing)),
  document   BLOB    NOT NULL,
  erased_at  INTEGER,
  UNIQUE (port, ground, date, made_at)
) STRICT;
CREATE INDEX calls_by_day ON calls (port, date, made_at);

-- What a call was made from: far larger than the call, and worth keeping for
-- less long.
CREATE TABLE outlooks (
  call_id  INTEGER PRIMARY KEY REFERENCES calls (id) ON DELETE CASCADE,
  made_at  INTEGER NOT NULL,
  document BLOB    NOT NULL
) STRICT;

-- One row for each life of a product in a zone: from when it was first seen
-- until the feed no longer held it.
CREATE TABLE warnings (
  id            INTEGER PRIMARY KEY,
  key           TEXT    NOT NULL,
  event         TEXT    NOT NULL,
  vtec          TEXT    NOT NULL,
  phenomenon    TEXT    NOT NULL,
  significance  TEXT    NOT NULL,
  zone          TEXT    NOT NULL,
  zone_name     TEXT    NOT NULL,
  office        TEXT    NOT NULL,
  issued_at     INTEGER NOT NULL,
  onset_at      INTEGER NOT NULL,
  ends_at       INTEGER,
  headline      TEXT    NOT NULL,
  text          TEXT    NOT NULL,
  instruction   TEXT    NOT NULL,
  url           TEXT    NOT NULL,
  area          TEXT    NOT NULL CHECK (json_valid(area)),
  source        TEXT    NOT NULL,
  detail        TEXT    NOT NULL,
  first_seen_at INTEGER NOT NULL,
  last_seen_at  INTEGER NOT NULL,
  ended_at      INTEGER
) STRICT;
CREATE UNIQUE INDEX warnings_alive ON warnings (key) WHERE ended_at IS NULL;
CREATE INDEX warnings_by_zone ON warnings (zone, last_seen_at);

CREATE TABLE bookings (
  source        TEXT    NOT NULL,
  id            TEXT    NOT NULL,
  port          TEXT    NOT NULL,
  date          TEXT    NOT NULL,
  ground        TEXT    NOT NULL,
  name          TEXT    NOT NULL,
  contact       TEXT    NOT NULL,
  tell_by_at    INTEGER,
  trip          TEXT    NOT NULL CHECK (json_valid(trip)),
  state         TEXT    NOT NULL CHECK (state IN ('booked', 'moved', 'cancelled', 'gone')),
  why           TEXT    NOT NULL,
  first_date    TEXT    NOT NULL,
  digest        TEXT    NOT NULL,
  first_seen_at INTEGER NOT NULL,
  last_seen_at  INTEGER NOT NULL,
  changed_at    INTEGER NOT NULL,
  erased_at     INTEGER,
  PRIMARY KEY (source, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX bookings_by_day ON bookings (port, date);

-- What people on the water have said.
CREATE TABLE reports (
  id                INTEGER PRIMARY KEY,
  port              TEXT    NOT NULL,
  seen_at           INTEGER NOT NULL,
  until_at          INTEGER NOT NULL,
  said_by           TEXT    NOT NULL,
  note              TEXT    NOT NULL,
  edge_in_reach     INTEGER,
  edge_depth_m      REAL,
  water             TEXT,
  fish_on_top_on    TEXT,
  bait_showering    INTEGER,
  season            TEXT,
  inlet_hazard_from TEXT
) STRICT;
CREATE INDEX reports_by_port ON reports (port, until_at);

CREATE TABLE overrides (
  id           INTEGER PRIMARY KEY,
  port         TEXT    NOT NULL,
  what         TEXT    NOT NULL CHECK (what <> ''),
  why          TEXT    NOT NULL CHECK (why <> ''),
  said_by      TEXT    NOT NULL,
  from_at      INTEGER NOT NULL,
  until_at     INTEGER NOT NULL CHECK (until_at > from_at),
  withdrawn_at INTEGER
) STRICT;
CREATE INDEX overrides_by_port ON overrides (port, until_at);

-- A count is of the whole pen: a later one takes its place.
CREATE TABLE bait_counts (
  id         INTEGER PRIMARY KEY,
  port       TEXT    NOT NULL,
  counted_at INTEGER NOT NULL,
  stock      TEXT    NOT NULL CHECK (json_valid(stock)),
  UNIQUE (port, counted_at)
) STRICT;

-- The captain's log: what was done and seen.
CREATE TABLE log_entries (
  id             INTEGER PRIMARY KEY,
  port           TEXT    NOT NULL,
  date           TEXT    NOT NULL,
  written_at     INTEGER NOT NULL,
  said_by        TEXT    NOT NULL,
  ground         TEXT    NOT NULL,
  tactic         TEXT    NOT NULL,
  ride           TEXT    NOT NULL,
  left_at        INTEGER,
  back_at        INTEGER,
  wind_mps       REAL,
  sea_m          REAL,
  fish_on_top    INTEGER,
  bait_showering INTEGER,
  fish_raised    INTEGER,
  fish_caught    INTEGER,
  note           TEXT    NOT NULL
) STRICT;
CREATE INDEX log_by_day ON log_entries (port, date);

-- Messages on their way. The document holds all of a message; the columns
-- repeat what is searched for.
CREATE TABLE messages (
  seq         INTEGER PRIMARY KEY,
  id          TEXT    NOT NULL UNIQUE,
  key         TEXT    NOT NULL,
  notice      TEXT    NOT NULL,
  digest      TEXT    NOT NULL,
  reason      TEXT    NOT NULL,
  person      TEXT    NOT NULL,
  urgent      INTEGER NOT NULL,
  state       TEXT    NOT NULL CHECK (state IN ('waiting', 'sent', 'dead', 'superseded')),
  made_at     INTEGER NOT NULL,
  next_try_at INTEGER,
  done_at     INTEGER,
  document    TEXT    NOT NULL CHECK (json_valid(document))
) STRICT;
CREATE INDEX messages_by_key ON messages (key, seq);
CREATE INDEX messages_waiting ON messages (urgent, seq) WHERE state = 'waiting';

-- Messages to guests that wait for the captain's word.
CREATE TABLE drafts (
  id          TEXT    NOT NULL PRIMARY KEY,
  key         TEXT    NOT NULL,
  port        TEXT    NOT NULL,
  date        TEXT    NOT NULL,
  booking     TEXT    NOT NULL,
  made_at     INTEGER NOT NULL,
  expires_at  INTEGER NOT NULL,
  answer      TEXT    NOT NULL CHECK (answer IN ('', 'approved', 'refused', 'superseded')),
  answered_at INTEGER,
  answered_by TEXT    NOT NULL,
  message     TEXT    NOT NULL CHECK (json_valid(message))
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX drafts_open ON drafts (key) WHERE answer = '';

CREATE TABLE runs (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  job          TEXT    NOT NULL,
  trigger_word TEXT    NOT NULL,
  due_at       INTEGER NOT NULL,
  started_at   INTEGER NOT NULL,
  ended_at     INTEGER,
  outcome      TEXT    NOT NULL,
  error        TEXT    NOT NULL,
  account      TEXT    CHECK (account IS NULL OR json_valid(account))
) STRICT;
CREATE INDEX runs_by_job ON runs (job, outcome, due_at);
CREATE INDEX runs_by_time ON runs (started_at);

CREATE TABLE float_plans (
  port            TEXT    NOT NULL,
  date            TEXT    NOT NULL,
  boat            TEXT    NOT NULL,
  ground          TEXT    NOT NULL,
  people          INTEGER,
  leave_at        INTEGER NOT NULL,
  back_at         INTEGER NOT NULL,
  overdue_at      INTEGER NOT NULL,
  left_at         INTEGER,
  checked_in_at   INTEGER,
  told_overdue_at INTEGER,
  called_off_at   INTEGER,
  PRIMARY KEY (port, date)
) STRICT, WITHOUT ROWID;
