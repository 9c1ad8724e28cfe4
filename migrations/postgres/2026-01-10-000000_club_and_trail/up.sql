-- A club: its lock, its sequence number, the head of its trail.
CREATE TABLE clubs (
    id TEXT NOT NULL PRIMARY KEY,
    uuid TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    time_zone TEXT NOT NULL,
    revision BIGINT NOT NULL,
    created_at BIGINT NOT NULL,
    setup_hash TEXT
);

-- The chained trail. One entry per recorded thing; an entry hashes a salted digest, never the payload itself.
CREATE TABLE trail (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    revision BIGINT NOT NULL,
    ordinal INTEGER NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    act TEXT NOT NULL,
    noun TEXT NOT NULL,
    fact_id TEXT NOT NULL,
    digest TEXT NOT NULL,
    previous_hash TEXT NOT NULL,
    hash TEXT NOT NULL,
    PRIMARY KEY (club_id, revision, ordinal)
);
CREATE INDEX trail_by_fact ON trail (club_id, fact_id);

-- What an entry's digest was made of. A row may be erased with a member's personal data; the chain still holds.
CREATE TABLE trail_payloads (
    club_id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    ordinal INTEGER NOT NULL,
    salt TEXT NOT NULL,
    payload TEXT NOT NULL,
    PRIMARY KEY (club_id, revision, ordinal),
    FOREIGN KEY (club_id, revision, ordinal) REFERENCES trail (club_id, revision, ordinal)
);

-- Bearer tokens. Only the hash of the secret is kept. Last use is no fact and changes no revision.
CREATE TABLE tokens (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    member TEXT NOT NULL,
    label TEXT NOT NULL,
    scopes TEXT NOT NULL,
    secret_hash TEXT NOT NULL,
    created_at BIGINT NOT NULL,
    created_by TEXT NOT NULL,
    expires_at BIGINT,
    revoked_at BIGINT,
    PRIMARY KEY (club_id, id)
);
CREATE UNIQUE INDEX tokens_by_secret ON tokens (club_id, secret_hash);
CREATE INDEX tokens_by_member ON tokens (club_id, member);

-- Ids and tags of the items that others point at or that people call by a tag.
CREATE TABLE names (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    noun TEXT NOT NULL,
    tag TEXT,
    PRIMARY KEY (club_id, id),
    UNIQUE (club_id, noun, tag)
);
