-- +goose Up
-- How the times of a product were before they last changed, and when that was.
ALTER TABLE warnings ADD COLUMN changed_at INTEGER;
ALTER TABLE warnings ADD COLUMN was_onset_at INTEGER;
ALTER TABLE warnings ADD COLUMN was_ends_at INTEGER;
