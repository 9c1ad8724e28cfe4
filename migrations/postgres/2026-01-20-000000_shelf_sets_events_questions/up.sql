CREATE TABLE limits (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    "limit" TEXT NOT NULL,
    reason TEXT NOT NULL,
    PRIMARY KEY (club_id, id, revision)
);
CREATE INDEX limits_by_revision ON limits (club_id, revision);

CREATE TABLE lots (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    item TEXT NOT NULL,
    opened_on TEXT,
    use_by_on TEXT,
    quantity DOUBLE PRECISION NOT NULL,
    unit TEXT NOT NULL,
    PRIMARY KEY (club_id, id, revision)
);
CREATE INDEX lots_by_revision ON lots (club_id, revision);

CREATE TABLE slugs (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    mass_g DOUBLE PRECISION NOT NULL,
    "count" BIGINT NOT NULL,
    purpose TEXT NOT NULL,
    design TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, design) REFERENCES names (club_id, id)
);
CREATE INDEX slugs_by_revision ON slugs (club_id, revision);
CREATE INDEX slugs_by_design ON slugs (club_id, design);

CREATE TABLE matched_sets (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    component TEXT NOT NULL,
    mates TEXT NOT NULL,
    marks TEXT,
    orientation TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, component) REFERENCES names (club_id, id)
);
CREATE INDEX matched_sets_by_revision ON matched_sets (club_id, revision);
CREATE INDEX matched_sets_by_component ON matched_sets (club_id, component);

CREATE TABLE pairings (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    component TEXT NOT NULL,
    mates TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    clearance_mm DOUBLE PRECISION,
    accepted_by TEXT,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, component) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, accepted_by) REFERENCES names (club_id, id)
);
CREATE INDEX pairings_by_revision ON pairings (club_id, revision);
CREATE INDEX pairings_by_moment ON pairings (club_id, occurred_at, id);
CREATE INDEX pairings_by_component ON pairings (club_id, component);
CREATE INDEX pairings_by_accepted_by ON pairings (club_id, accepted_by);

CREATE TABLE charges (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    component TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    charged_mah DOUBLE PRECISION,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, component) REFERENCES names (club_id, id)
);
CREATE INDEX charges_by_revision ON charges (club_id, revision);
CREATE INDEX charges_by_moment ON charges (club_id, occurred_at, id);
CREATE INDEX charges_by_component ON charges (club_id, component);

CREATE TABLE events (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    model TEXT NOT NULL,
    kind TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, model) REFERENCES names (club_id, id)
);
CREATE INDEX events_by_revision ON events (club_id, revision);
CREATE INDEX events_by_moment ON events (club_id, occurred_at, id);
CREATE INDEX events_by_model ON events (club_id, model);

CREATE TABLE questions (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    noun TEXT NOT NULL,
    fact TEXT NOT NULL,
    reasons TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    PRIMARY KEY (club_id, id, revision)
);
CREATE INDEX questions_by_revision ON questions (club_id, revision);
CREATE INDEX questions_by_moment ON questions (club_id, occurred_at, id);

CREATE TABLE settlements (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    question TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    "text" TEXT NOT NULL,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, question) REFERENCES names (club_id, id)
);
CREATE INDEX settlements_by_revision ON settlements (club_id, revision);
CREATE INDEX settlements_by_moment ON settlements (club_id, occurred_at, id);
CREATE INDEX settlements_by_question ON settlements (club_id, question);
