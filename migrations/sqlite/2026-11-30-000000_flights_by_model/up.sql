-- Flights of one model in order of the record, a page at a time: without the revision in it all flights of the club were
-- walked through.
DROP INDEX flights_by_model;
CREATE INDEX flights_by_model ON flights (club_id, model, revision, id);
