-- Passwords: hashes only. No part of the record: setting one changes no revision and leaves no entry in the trail.
CREATE TABLE passwords (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    member TEXT NOT NULL,
    hash TEXT NOT NULL,
    is_one_time BOOLEAN NOT NULL,
    changed_at BIGINT NOT NULL,
    changed_by TEXT NOT NULL,
    PRIMARY KEY (club_id, member)
);

-- Sessions of signed-in members. Only the hash of the secret in the cookie is kept.
CREATE TABLE sessions (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    secret_hash TEXT NOT NULL,
    member TEXT NOT NULL,
    began_at BIGINT NOT NULL,
    seen_at BIGINT NOT NULL,
    must_change_password BOOLEAN NOT NULL,
    PRIMARY KEY (club_id, secret_hash)
);
CREATE INDEX sessions_by_member ON sessions (club_id, member);

-- Failed attempts to sign in, by member and by address. What was typed is kept as a hash only: people type
-- passwords into the wrong field. An attempt may name a club that does not exist, so nothing is referenced;
-- those of an address belong to no club and carry an empty one.
CREATE TABLE sign_in_attempts (
    club_id TEXT NOT NULL,
    subject TEXT NOT NULL,
    failures INTEGER NOT NULL,
    last_at BIGINT NOT NULL,
    locked_until BIGINT NOT NULL,
    PRIMARY KEY (club_id, subject)
);
CREATE INDEX sign_in_attempts_by_moment ON sign_in_attempts (last_at);
