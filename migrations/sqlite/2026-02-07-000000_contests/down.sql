DROP TABLE entries;
DROP TABLE contests;
DROP TABLE classes;
ALTER TABLE parts DROP COLUMN accepted_in;
ALTER TABLE parts DROP COLUMN cells;
ALTER TABLE members DROP COLUMN permissions;
