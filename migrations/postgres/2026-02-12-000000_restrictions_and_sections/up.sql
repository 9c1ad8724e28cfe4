-- Further restrictions of a defect: a list that no query looks into.
ALTER TABLE defects ADD COLUMN restrictions TEXT NOT NULL DEFAULT '[]';
-- The cross-section of a joiner, from which it is worked out what sanding takes.
ALTER TABLE parts ADD COLUMN section TEXT;
