ALTER TABLE designs DROP COLUMN ballast_cells;
