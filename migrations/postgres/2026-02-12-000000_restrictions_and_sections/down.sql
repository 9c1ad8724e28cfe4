ALTER TABLE defects DROP COLUMN restrictions;
ALTER TABLE parts DROP COLUMN section;
