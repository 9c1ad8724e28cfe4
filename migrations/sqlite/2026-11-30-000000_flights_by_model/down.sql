DROP INDEX flights_by_model;
CREATE INDEX flights_by_model ON flights (club_id, model);
