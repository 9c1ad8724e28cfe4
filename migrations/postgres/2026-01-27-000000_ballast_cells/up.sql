-- Cells of a design that take ballast slugs: a nested list that no query looks into, like positions and stations.
ALTER TABLE designs ADD COLUMN ballast_cells TEXT NOT NULL DEFAULT '[]';
