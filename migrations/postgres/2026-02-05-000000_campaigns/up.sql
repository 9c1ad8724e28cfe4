-- The maker's serial number of a part, and the range of them that a campaign covers.
ALTER TABLE components ADD COLUMN serial TEXT;
ALTER TABLE campaigns ADD COLUMN serial_from TEXT;
ALTER TABLE campaigns ADD COLUMN serial_to TEXT;

CREATE TABLE campaign_works (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    campaign TEXT NOT NULL,
    action BIGINT NOT NULL,
    component TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    result TEXT NOT NULL,
    done_by TEXT,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, campaign) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, component) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, done_by) REFERENCES names (club_id, id)
);
CREATE INDEX campaign_works_by_revision ON campaign_works (club_id, revision);
CREATE INDEX campaign_works_by_moment ON campaign_works (club_id, occurred_at, id);
CREATE INDEX campaign_works_by_campaign ON campaign_works (club_id, campaign);
CREATE INDEX campaign_works_by_component ON campaign_works (club_id, component);
CREATE INDEX campaign_works_by_done_by ON campaign_works (club_id, done_by);

CREATE TABLE campaign_closures (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    campaign TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    waived TEXT NOT NULL,
    "text" TEXT,
    closed_by TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, campaign) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, closed_by) REFERENCES names (club_id, id)
);
CREATE INDEX campaign_closures_by_revision ON campaign_closures (club_id, revision);
CREATE INDEX campaign_closures_by_moment ON campaign_closures (club_id, occurred_at, id);
CREATE INDEX campaign_closures_by_campaign ON campaign_closures (club_id, campaign);
CREATE INDEX campaign_closures_by_closed_by ON campaign_closures (club_id, closed_by);
