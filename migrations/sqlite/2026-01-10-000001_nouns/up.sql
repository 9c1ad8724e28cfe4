-- One table per noun. A row is a fact, a version of master data, or the corrected content of a fact; only
-- `superseded` is ever written into an existing row. Moments are microseconds UTC, days and ids are text,
-- nested lists are JSON that no query looks into. A subject is written `model:<id>` or `component:<id>`.

CREATE TABLE members (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    name TEXT,
    roles TEXT NOT NULL,
    subscription TEXT,
    PRIMARY KEY (club_id, id, revision)
);
CREATE INDEX members_by_revision ON members (club_id, revision);

CREATE TABLE designs (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    datum TEXT NOT NULL,
    class_use TEXT,
    span_m DOUBLE PRECISION NOT NULL,
    wing_area_dm2 DOUBLE PRECISION NOT NULL,
    tail_area_dm2 DOUBLE PRECISION NOT NULL,
    mac_mm DOUBLE PRECISION NOT NULL,
    mac_leading_edge_x_mm DOUBLE PRECISION NOT NULL,
    cg_min_mm DOUBLE PRECISION NOT NULL,
    cg_max_mm DOUBLE PRECISION NOT NULL,
    nose_weight_x_mm DOUBLE PRECISION,
    positions TEXT NOT NULL,
    stations TEXT NOT NULL,
    PRIMARY KEY (club_id, id, revision)
);
CREATE INDEX designs_by_revision ON designs (club_id, revision);

CREATE TABLE parts (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    kind TEXT NOT NULL,
    maker TEXT,
    tracking TEXT NOT NULL,
    nominal_mass_g DOUBLE PRECISION NOT NULL,
    rated_capacity_mah DOUBLE PRECISION,
    note TEXT,
    PRIMARY KEY (club_id, id, revision)
);
CREATE INDEX parts_by_revision ON parts (club_id, revision);

CREATE TABLE models (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    design TEXT NOT NULL,
    owner TEXT,
    ownership TEXT NOT NULL,
    first_flight_on TEXT NOT NULL,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, design) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, owner) REFERENCES names (club_id, id)
);
CREATE INDEX models_by_revision ON models (club_id, revision);
CREATE INDEX models_by_design ON models (club_id, design);
CREATE INDEX models_by_owner ON models (club_id, owner);

CREATE TABLE programmes (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    title TEXT NOT NULL,
    design TEXT,
    model TEXT,
    "groups" TEXT NOT NULL,
    items TEXT NOT NULL,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, design) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, model) REFERENCES names (club_id, id)
);
CREATE INDEX programmes_by_revision ON programmes (club_id, revision);
CREATE INDEX programmes_by_design ON programmes (club_id, design);
CREATE INDEX programmes_by_model ON programmes (club_id, model);

CREATE TABLE components (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    part TEXT NOT NULL,
    batch TEXT,
    seat TEXT,
    design TEXT,
    mass_g DOUBLE PRECISION NOT NULL,
    acquired_on TEXT,
    state TEXT NOT NULL,
    location TEXT,
    opening TEXT,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, part) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, design) REFERENCES names (club_id, id)
);
CREATE INDEX components_by_revision ON components (club_id, revision);
CREATE INDEX components_by_part ON components (club_id, part);
CREATE INDEX components_by_design ON components (club_id, design);

CREATE TABLE conditions (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    component TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    state TEXT NOT NULL,
    location TEXT,
    reason TEXT NOT NULL,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, component) REFERENCES names (club_id, id)
);
CREATE INDEX conditions_by_revision ON conditions (club_id, revision);
CREATE INDEX conditions_by_moment ON conditions (club_id, occurred_at, id);
CREATE INDEX conditions_by_component ON conditions (club_id, component);

CREATE TABLE installations (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    component TEXT NOT NULL,
    inside TEXT NOT NULL,
    position TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    is_start_of_record BOOLEAN NOT NULL,
    fitted_by TEXT,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, component) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, fitted_by) REFERENCES names (club_id, id)
);
CREATE INDEX installations_by_revision ON installations (club_id, revision);
CREATE INDEX installations_by_moment ON installations (club_id, occurred_at, id);
CREATE INDEX installations_by_component ON installations (club_id, component);
CREATE INDEX installations_by_inside ON installations (club_id, inside);
CREATE INDEX installations_by_fitted_by ON installations (club_id, fitted_by);

CREATE TABLE removals (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    installation TEXT NOT NULL,
    component TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    reason TEXT NOT NULL,
    removed_by TEXT,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, installation) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, component) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, removed_by) REFERENCES names (club_id, id)
);
CREATE INDEX removals_by_revision ON removals (club_id, revision);
CREATE INDEX removals_by_moment ON removals (club_id, occurred_at, id);
CREATE INDEX removals_by_installation ON removals (club_id, installation);
CREATE INDEX removals_by_component ON removals (club_id, component);
CREATE INDEX removals_by_removed_by ON removals (club_id, removed_by);

CREATE TABLE flights (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    model TEXT NOT NULL,
    pilot TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    launches BIGINT NOT NULL,
    airtime_min DOUBLE PRECISION NOT NULL,
    motor_s BIGINT NOT NULL,
    is_landing_flap_used BOOLEAN NOT NULL,
    landing TEXT NOT NULL,
    is_post_flight_logged BOOLEAN NOT NULL,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, model) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, pilot) REFERENCES names (club_id, id)
);
CREATE INDEX flights_by_revision ON flights (club_id, revision);
CREATE INDEX flights_by_moment ON flights (club_id, occurred_at, id);
CREATE INDEX flights_by_model ON flights (club_id, model);
CREATE INDEX flights_by_pilot ON flights (club_id, pilot);

CREATE TABLE riggings (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    model TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    cycles BIGINT NOT NULL,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, model) REFERENCES names (club_id, id)
);
CREATE INDEX riggings_by_revision ON riggings (club_id, revision);
CREATE INDEX riggings_by_moment ON riggings (club_id, occurred_at, id);
CREATE INDEX riggings_by_model ON riggings (club_id, model);

CREATE TABLE inspections (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    model TEXT,
    component TEXT,
    "group" TEXT NOT NULL,
    programme TEXT,
    occurred_at BIGINT NOT NULL,
    result TEXT NOT NULL,
    is_summary BOOLEAN NOT NULL,
    items TEXT NOT NULL,
    inspected_by TEXT,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, model) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, component) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, programme) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, inspected_by) REFERENCES names (club_id, id)
);
CREATE INDEX inspections_by_revision ON inspections (club_id, revision);
CREATE INDEX inspections_by_moment ON inspections (club_id, occurred_at, id);
CREATE INDEX inspections_by_model ON inspections (club_id, model);
CREATE INDEX inspections_by_component ON inspections (club_id, component);
CREATE INDEX inspections_by_programme ON inspections (club_id, programme);
CREATE INDEX inspections_by_inspected_by ON inspections (club_id, inspected_by);

CREATE TABLE measurements (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    subject TEXT NOT NULL,
    quantity TEXT NOT NULL,
    "values" TEXT NOT NULL,
    unit TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    method TEXT,
    temperature_c DOUBLE PRECISION,
    instrument TEXT,
    is_series_start BOOLEAN NOT NULL,
    measured_by TEXT,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, measured_by) REFERENCES names (club_id, id)
);
CREATE INDEX measurements_by_revision ON measurements (club_id, revision);
CREATE INDEX measurements_by_moment ON measurements (club_id, occurred_at, id);
CREATE INDEX measurements_by_subject ON measurements (club_id, subject);
CREATE INDEX measurements_by_measured_by ON measurements (club_id, measured_by);

CREATE TABLE weighings (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    model TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    configuration TEXT,
    mass_g DOUBLE PRECISION NOT NULL,
    x_mm DOUBLE PRECISION NOT NULL,
    u_x_mm DOUBLE PRECISION NOT NULL,
    y_mm DOUBLE PRECISION,
    supports TEXT NOT NULL,
    weighed_by TEXT,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, model) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, weighed_by) REFERENCES names (club_id, id)
);
CREATE INDEX weighings_by_revision ON weighings (club_id, revision);
CREATE INDEX weighings_by_moment ON weighings (club_id, occurred_at, id);
CREATE INDEX weighings_by_model ON weighings (club_id, model);
CREATE INDEX weighings_by_weighed_by ON weighings (club_id, weighed_by);

CREATE TABLE defects (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    model TEXT NOT NULL,
    subject TEXT NOT NULL,
    place TEXT,
    occurred_at BIGINT NOT NULL,
    severity TEXT NOT NULL,
    "text" TEXT NOT NULL,
    restriction TEXT,
    fix_by_on TEXT,
    found_by TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, model) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, found_by) REFERENCES names (club_id, id)
);
CREATE INDEX defects_by_revision ON defects (club_id, revision);
CREATE INDEX defects_by_moment ON defects (club_id, occurred_at, id);
CREATE INDEX defects_by_model ON defects (club_id, model);
CREATE INDEX defects_by_subject ON defects (club_id, subject);
CREATE INDEX defects_by_found_by ON defects (club_id, found_by);

CREATE TABLE closures (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    defect TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    kind TEXT NOT NULL,
    "text" TEXT NOT NULL,
    closed_by TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, defect) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, closed_by) REFERENCES names (club_id, id)
);
CREATE INDEX closures_by_revision ON closures (club_id, revision);
CREATE INDEX closures_by_moment ON closures (club_id, occurred_at, id);
CREATE INDEX closures_by_defect ON closures (club_id, defect);
CREATE INDEX closures_by_closed_by ON closures (club_id, closed_by);

CREATE TABLE repairs (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    model TEXT NOT NULL,
    components TEXT NOT NULL,
    defect TEXT,
    kind TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    cure_until_at BIGINT,
    "text" TEXT NOT NULL,
    material_mass_g DOUBLE PRECISION NOT NULL,
    x_mm DOUBLE PRECISION NOT NULL,
    y_mm DOUBLE PRECISION NOT NULL,
    z_mm DOUBLE PRECISION NOT NULL,
    slack_used_mm DOUBLE PRECISION,
    done_by TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, model) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, defect) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, done_by) REFERENCES names (club_id, id)
);
CREATE INDEX repairs_by_revision ON repairs (club_id, revision);
CREATE INDEX repairs_by_moment ON repairs (club_id, occurred_at, id);
CREATE INDEX repairs_by_model ON repairs (club_id, model);
CREATE INDEX repairs_by_defect ON repairs (club_id, defect);
CREATE INDEX repairs_by_done_by ON repairs (club_id, done_by);

CREATE TABLE releases (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    repair TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    second_person TEXT,
    released_by TEXT,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, repair) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, second_person) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, released_by) REFERENCES names (club_id, id)
);
CREATE INDEX releases_by_revision ON releases (club_id, revision);
CREATE INDEX releases_by_moment ON releases (club_id, occurred_at, id);
CREATE INDEX releases_by_repair ON releases (club_id, repair);
CREATE INDEX releases_by_second_person ON releases (club_id, second_person);
CREATE INDEX releases_by_released_by ON releases (club_id, released_by);

CREATE TABLE campaigns (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    occurred_at BIGINT NOT NULL,
    part TEXT NOT NULL,
    batch TEXT,
    position_kind TEXT,
    actions TEXT NOT NULL,
    "text" TEXT,
    opened_by TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, part) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, opened_by) REFERENCES names (club_id, id)
);
CREATE INDEX campaigns_by_revision ON campaigns (club_id, revision);
CREATE INDEX campaigns_by_moment ON campaigns (club_id, occurred_at, id);
CREATE INDEX campaigns_by_part ON campaigns (club_id, part);
CREATE INDEX campaigns_by_opened_by ON campaigns (club_id, opened_by);

CREATE TABLE loans (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    tag TEXT,
    item TEXT NOT NULL,
    lent_to TEXT NOT NULL,
    for_model TEXT,
    occurred_at BIGINT NOT NULL,
    from_on TEXT NOT NULL,
    due_back_on TEXT NOT NULL,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, lent_to) REFERENCES names (club_id, id),
    FOREIGN KEY (club_id, for_model) REFERENCES names (club_id, id)
);
CREATE INDEX loans_by_revision ON loans (club_id, revision);
CREATE INDEX loans_by_moment ON loans (club_id, occurred_at, id);
CREATE INDEX loans_by_item ON loans (club_id, item);
CREATE INDEX loans_by_lent_to ON loans (club_id, lent_to);
CREATE INDEX loans_by_for_model ON loans (club_id, for_model);

CREATE TABLE loan_returns (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    loan TEXT NOT NULL,
    occurred_at BIGINT NOT NULL,
    note TEXT,
    PRIMARY KEY (club_id, id, revision),
    FOREIGN KEY (club_id, loan) REFERENCES names (club_id, id)
);
CREATE INDEX loan_returns_by_revision ON loan_returns (club_id, revision);
CREATE INDEX loan_returns_by_moment ON loan_returns (club_id, occurred_at, id);
CREATE INDEX loan_returns_by_loan ON loan_returns (club_id, loan);

CREATE TABLE corrections (
    club_id TEXT NOT NULL REFERENCES clubs (id),
    id TEXT NOT NULL,
    revision BIGINT NOT NULL,
    recorded_at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    superseded BIGINT,
    is_correction BOOLEAN NOT NULL,
    noun TEXT NOT NULL,
    original TEXT NOT NULL,
    reason TEXT NOT NULL,
    is_void BOOLEAN NOT NULL,
    fact TEXT,
    PRIMARY KEY (club_id, id, revision)
);
CREATE INDEX corrections_by_revision ON corrections (club_id, revision);
CREATE INDEX corrections_by_original ON corrections (club_id, original);
