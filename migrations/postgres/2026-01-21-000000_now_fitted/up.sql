-- Where each component sits just now: a projection of installations, removals and their corrections, kept by the
-- write door. Its keys let the database itself refuse a component in two places and a position with two components.
CREATE TABLE now_fitted (
    club_id TEXT NOT NULL,
    component TEXT NOT NULL,
    inside TEXT NOT NULL,
    position TEXT NOT NULL,
    installation TEXT NOT NULL,
    PRIMARY KEY (club_id, component),
    UNIQUE (club_id, inside, position),
    FOREIGN KEY (club_id, component) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, installation) REFERENCES names (club_id, id)
);
CREATE INDEX now_fitted_by_installation ON now_fitted (club_id, installation);
