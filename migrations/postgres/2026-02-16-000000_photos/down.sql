DROP TABLE pictures;
DROP TABLE photos;
DELETE FROM names WHERE noun = 'inspections' AND tag IS NULL;
