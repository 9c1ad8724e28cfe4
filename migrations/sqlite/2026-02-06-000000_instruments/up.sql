-- Resistances of the cells of a new pack, which its readings are compared with: a list that no query looks into.
ALTER TABLE parts ADD COLUMN new_cell_mohm TEXT NOT NULL DEFAULT '[]';
