-- Deferrals of defects, and what a defect says of its cause. Restrictions are a nested list that no query looks into.
CREATE TABLE deferrals (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    defect TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    restrictions TEXT NOT NULL,
    fix_by_on TEXT,
    within_flights BIGINT,
    reason TEXT NOT NULL,
    deferred_by TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, defect) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, deferred_by) REFERENCES names (club_id, id)
);
CREATE INDEX deferrals_by_revision ON deferrals (club_id, revision);
CREATE INDEX deferrals_by_moment ON deferrals (club_id, occurred_at, id);
CREATE INDEX deferrals_by_defect ON deferrals (club_id, defect);
CREATE INDEX deferrals_by_deferred_by ON deferrals (club_id, deferred_by);

ALTER TABLE defects ADD COLUMN cause TEXT;
ALTER TABLE defects ADD COLUMN cause_note TEXT;
ALTER TABLE closures ADD COLUMN measurement TEXT;
