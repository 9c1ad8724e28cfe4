ALTER TABLE parts DROP COLUMN new_cell_mohm;
