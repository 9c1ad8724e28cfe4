ALTER TABLE closures DROP COLUMN measurement;
ALTER TABLE defects DROP COLUMN cause_note;
ALTER TABLE defects DROP COLUMN cause;
DROP TABLE deferrals;
