-- Photos of models and parts, and the pictures that are kept for them. A picture is no fact: it is kept before a photo
-- names it, under the digest of its content.
-- A photo may name a check by its id.
INSERT INTO names (club_id, id, noun, tag)
SELECT DISTINCT club_id, id, 'inspections', CAST(NULL AS TEXT)
FROM inspections
WHERE NOT EXISTS (
    SELECT 1 FROM names WHERE names.club_id = inspections.club_id AND names.id = inspections.id
);

CREATE TABLE photos (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    subject TEXT NOT NULL,
    defect TEXT,
    repair TEXT,
    inspection TEXT,
    occurred_at BIGINT NOT NULL,
    sha256 TEXT NOT NULL,
    width_px BIGINT NOT NULL,
    height_px BIGINT NOT NULL,
    size_bytes BIGINT NOT NULL,
    media_type TEXT NOT NULL,
    text TEXT,
    taken_by TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, defect) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, repair) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, inspection) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, taken_by) REFERENCES names (club_id, id)
);
CREATE INDEX photos_by_revision ON photos (club_id, revision);
CREATE INDEX photos_by_moment ON photos (club_id, occurred_at, id);
CREATE INDEX photos_by_subject ON photos (club_id, subject);
CREATE INDEX photos_by_defect ON photos (club_id, defect);
CREATE INDEX photos_by_repair ON photos (club_id, repair);
CREATE INDEX photos_by_inspection ON photos (club_id, inspection);
CREATE INDEX photos_by_sha256 ON photos (club_id, sha256);
CREATE INDEX photos_by_taken_by ON photos (club_id, taken_by);

CREATE TABLE pictures (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    sha256 TEXT NOT NULL,
    width_px BIGINT NOT NULL,
    height_px BIGINT NOT NULL,
    size_bytes BIGINT NOT NULL,
    media_type TEXT NOT NULL,
    kept_at BIGINT NOT NULL,
    PRIMARY KEY (club_id, sha256)
);
