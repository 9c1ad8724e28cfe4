-- Flights of one model in order of time, a page at a time: without the moment in it, either all flights of the club were
-- walked through in order, or all of the model were sorted.
DROP INDEX flights_by_model;
CREATE INDEX flights_by_model ON flights (club_id, model, occurred_at, id);
