-- Version 2: several words for how a ride felt, the errors that lengths of one photo share, what a load case is
-- made of, loads on the wheels, and sag.

CREATE TABLE felt (
    ride_entry_id TEXT NOT NULL REFERENCES ride_entry (id),
    word TEXT NOT NULL CHECK (word IN ('harsh', 'bottomed', 'wallows', 'dives')),
    PRIMARY KEY (ride_entry_id, word)
) STRICT;
INSERT INTO felt (ride_entry_id, word) SELECT id, felt FROM ride_entry WHERE felt IS NOT NULL ORDER BY rowid;
ALTER TABLE ride_entry DROP COLUMN felt;

CREATE TRIGGER felt_no_update BEFORE UPDATE ON felt
BEGIN SELECT RAISE(ABORT, 'append-only: felt is corrected by a new row'); END;
CREATE TRIGGER felt_no_delete BEFORE DELETE ON felt
BEGIN SELECT RAISE(ABORT, 'append-only: felt is corrected by a new row'); END;
CREATE TRIGGER felt_no_overwrite BEFORE INSERT ON felt
WHEN EXISTS (SELECT 1 FROM felt WHERE ride_entry_id = NEW.ride_entry_id AND word = NEW.word)
BEGIN SELECT RAISE(ABORT, 'append-only: felt holds this already'); END;

-- Covariance of exposed with marker, exposed with remaining, marker with remaining, mm squared.
ALTER TABLE reading ADD COLUMN exposed_marker_mm2 REAL;
ALTER TABLE reading ADD COLUMN exposed_remaining_mm2 REAL;
ALTER TABLE reading ADD COLUMN marker_remaining_mm2 REAL;

-- Mass, and its place behind the front axle.
CREATE TABLE load_item (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    load_case_id TEXT NOT NULL REFERENCES load_case (id),
    what TEXT NOT NULL CHECK (what IN ('rider', 'passenger', 'luggage', 'fuel', 'other')),
    label TEXT CHECK (label <> ''),
    mass_kg REAL,
    mass_u95_kg REAL,
    aft_mm REAL,
    aft_u95_mm REAL,
    provenance_id TEXT NOT NULL REFERENCES provenance (id)
    CHECK (mass_kg IS NULL AND mass_u95_kg IS NULL
        OR mass_kg IS NOT NULL AND abs(mass_kg) < 1e6 AND mass_u95_kg BETWEEN 0 AND 1e6 AND mass_kg >= 0),
    CHECK (aft_mm IS NULL AND aft_u95_mm IS NULL
        OR aft_mm IS NOT NULL AND abs(aft_mm) < 1e6 AND aft_u95_mm BETWEEN 0 AND 1e6)
) STRICT;

CREATE TRIGGER load_item_no_update BEFORE UPDATE ON load_item
BEGIN SELECT RAISE(ABORT, 'append-only: load_item is corrected by a new row'); END;
CREATE TRIGGER load_item_no_delete BEFORE DELETE ON load_item
BEGIN SELECT RAISE(ABORT, 'append-only: load_item is corrected by a new row'); END;
CREATE TRIGGER load_item_no_overwrite BEFORE INSERT ON load_item
WHEN EXISTS (SELECT 1 FROM load_item WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'append-only: load_item holds this already'); END;

-- What scales said under each wheel, the other on a block as high.
CREATE TABLE axle_load (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    load_case_id TEXT NOT NULL REFERENCES load_case (id),
    axle TEXT NOT NULL CHECK (axle IN ('front', 'rear')),
    mass_kg REAL,
    mass_u95_kg REAL,
    provenance_id TEXT NOT NULL REFERENCES provenance (id),
    CHECK (mass_kg IS NULL AND mass_u95_kg IS NULL
        OR mass_kg IS NOT NULL AND abs(mass_kg) < 1e6 AND mass_u95_kg BETWEEN 0 AND 1e6 AND mass_kg >= 0),
    CHECK (mass_kg IS NOT NULL)
) STRICT;

CREATE TRIGGER axle_load_no_update BEFORE UPDATE ON axle_load
BEGIN SELECT RAISE(ABORT, 'append-only: axle_load is corrected by a new row'); END;
CREATE TRIGGER axle_load_no_delete BEFORE DELETE ON axle_load
BEGIN SELECT RAISE(ABORT, 'append-only: axle_load is corrected by a new row'); END;
CREATE TRIGGER axle_load_no_overwrite BEFORE INSERT ON axle_load
WHEN EXISTS (SELECT 1 FROM axle_load WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'append-only: axle_load holds this already'); END;

CREATE TABLE sag_session (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    bike_id TEXT NOT NULL,
    bike_version_id TEXT NOT NULL,
    load_case_id TEXT,
    date TEXT NOT NULL CHECK (date IS date(date, '+0 days')),
    note TEXT CHECK (note <> ''),
    provenance_id TEXT NOT NULL REFERENCES provenance (id),
    replaces TEXT UNIQUE CHECK (replaces <> id),
    withdrawn INTEGER NOT NULL DEFAULT 0 CHECK (withdrawn IN (0, 1)),
    UNIQUE (id, bike_id),
    FOREIGN KEY (replaces, bike_id) REFERENCES sag_session (id, bike_id),
    CHECK (withdrawn = 0 OR replaces IS NOT NULL),
    FOREIGN KEY (bike_version_id, bike_id) REFERENCES bike_version (id, bike_id),
    FOREIGN KEY (load_case_id, bike_id) REFERENCES load_case (id, bike_id)
) STRICT;

CREATE TRIGGER sag_session_no_update BEFORE UPDATE ON sag_session
BEGIN SELECT RAISE(ABORT, 'append-only: sag_session is corrected by a new row'); END;
CREATE TRIGGER sag_session_no_delete BEFORE DELETE ON sag_session
BEGIN SELECT RAISE(ABORT, 'append-only: sag_session is corrected by a new row'); END;
CREATE TRIGGER sag_session_no_overwrite BEFORE INSERT ON sag_session
WHEN EXISTS (SELECT 1 FROM sag_session WHERE id = NEW.id OR replaces = NEW.replaces)
BEGIN SELECT RAISE(ABORT, 'append-only: sag_session holds this already'); END;

-- A length from axle to tail, or a shaft's exposed length; pressed down and let rise, or lifted and let settle.
CREATE TABLE sag_measurement (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    sag_session_id TEXT NOT NULL REFERENCES sag_session (id),
    place TEXT NOT NULL CHECK (place IN
        ('front', 'front-left', 'front-right', 'rear', 'rear-left', 'rear-right')),
    what TEXT NOT NULL CHECK (what IN ('axle-to-tail', 'exposed')),
    state TEXT NOT NULL CHECK (state IN ('hanging', 'on-wheels', 'rider-aboard')),
    approach TEXT NOT NULL CHECK (approach IN ('from-below', 'from-above', 'not-stated')),
    length_mm REAL,
    length_u95_mm REAL,
    provenance_id TEXT NOT NULL REFERENCES provenance (id),
    CHECK (length_mm IS NULL AND length_u95_mm IS NULL
        OR length_mm IS NOT NULL AND abs(length_mm) < 1e6 AND length_u95_mm BETWEEN 0 AND 1e6 AND length_mm >= 0),
    CHECK (length_mm IS NOT NULL)
) STRICT;

CREATE TRIGGER sag_measurement_no_update BEFORE UPDATE ON sag_measurement
BEGIN SELECT RAISE(ABORT, 'append-only: sag_measurement is corrected by a new row'); END;
CREATE TRIGGER sag_measurement_no_delete BEFORE DELETE ON sag_measurement
BEGIN SELECT RAISE(ABORT, 'append-only: sag_measurement is corrected by a new row'); END;
CREATE TRIGGER sag_measurement_no_overwrite BEFORE INSERT ON sag_measurement
WHEN EXISTS (SELECT 1 FROM sag_measurement WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'append-only: sag_measurement holds this already'); END;

CREATE INDEX load_item_case ON load_item (load_case_id);
CREATE INDEX axle_load_case ON axle_load (load_case_id);
CREATE INDEX sag_measurement_session ON sag_measurement (sag_session_id);
