DROP TABLE campaign_closures;
DROP TABLE campaign_works;
ALTER TABLE campaigns DROP COLUMN serial_to;
ALTER TABLE campaigns DROP COLUMN serial_from;
ALTER TABLE components DROP COLUMN serial;
