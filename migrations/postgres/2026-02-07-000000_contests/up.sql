-- Contest classes, contests and entries; permissions of members that end on a day; what a class check asks of part types.
ALTER TABLE members ADD COLUMN permissions TEXT NOT NULL DEFAULT '[]';
ALTER TABLE parts ADD COLUMN cells BIGINT;
ALTER TABLE parts ADD COLUMN accepted_in TEXT NOT NULL DEFAULT '[]';

CREATE TABLE classes (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    title TEXT NOT NULL,
    edition TEXT NOT NULL,
    source TEXT NOT NULL,
    in_force_on TEXT,
    area TEXT NOT NULL,
    limits TEXT NOT NULL,
    measuring_tolerance_pct DOUBLE PRECISION NOT NULL,
    confirmed_by TEXT,
    confirmed_on TEXT,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, confirmed_by) REFERENCES names (club_id, id)
);
CREATE INDEX classes_by_revision ON classes (club_id, revision);
CREATE INDEX classes_by_confirmed_by ON classes (club_id, confirmed_by);

CREATE TABLE contests (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    title TEXT NOT NULL,
    place TEXT,
    class TEXT NOT NULL,
    check_in_at BIGINT NOT NULL,
    first_on TEXT NOT NULL,
    last_on TEXT NOT NULL,
    rounds_min BIGINT,
    prelim_rounds_max BIGINT NOT NULL,
    flyoff_rounds_max BIGINT NOT NULL,
    flights_per_round BIGINT NOT NULL,
    training_flights BIGINT NOT NULL,
    permissions TEXT NOT NULL,
    note TEXT,
    PRIMARY KEY (club_id, id, revision)
);
CREATE INDEX contests_by_revision ON contests (club_id, revision);

CREATE TABLE entries (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    contest TEXT NOT NULL,
    pilot TEXT NOT NULL,
    model TEXT NOT NULL,
    reserves TEXT NOT NULL,
    parts TEXT NOT NULL,
    state TEXT NOT NULL,
    marks TEXT,
    mark_height_mm DOUBLE PRECISION,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, contest) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, pilot) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, model) REFERENCES names (club_id, id)
);
CREATE INDEX entries_by_revision ON entries (club_id, revision);
CREATE INDEX entries_by_contest ON entries (club_id, contest);
CREATE INDEX entries_by_pilot ON entries (club_id, pilot);
CREATE INDEX entries_by_model ON entries (club_id, model);
