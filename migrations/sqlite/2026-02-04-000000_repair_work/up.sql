-- Work done on repairs: ticks, material, parts, readings and what a sheet keeps are nested lists and groups that no
-- query looks into.
CREATE TABLE repair_steps (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    repair TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    steps TEXT NOT NULL,
    materials TEXT NOT NULL,
    resin TEXT,
    temperature_c DOUBLE PRECISION,
    cure_started_at BIGINT,
    cure_until_at BIGINT,
    mass_added_g DOUBLE PRECISION NOT NULL,
    x_mm DOUBLE PRECISION NOT NULL,
    y_mm DOUBLE PRECISION NOT NULL,
    z_mm DOUBLE PRECISION NOT NULL,
    parts_off TEXT NOT NULL,
    parts_on TEXT NOT NULL,
    readings_before TEXT NOT NULL,
    readings_after TEXT NOT NULL,
    joiner TEXT,
    connector TEXT,
    cover TEXT,
    servo TEXT,
    is_second_look BOOLEAN NOT NULL,
    done_by TEXT,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, repair) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, done_by) REFERENCES names (club_id, id)
);
CREATE INDEX repair_steps_by_revision ON repair_steps (club_id, revision);
CREATE INDEX repair_steps_by_moment ON repair_steps (club_id, occurred_at, id);
CREATE INDEX repair_steps_by_repair ON repair_steps (club_id, repair);
CREATE INDEX repair_steps_by_done_by ON repair_steps (club_id, done_by);
