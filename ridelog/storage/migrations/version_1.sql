-- Version 1: bikes, load cases by name, rides, settings, readings.
--
-- Every table is append-only: a correction is a new row whose `replaces` names the row that it takes the place of,
-- and a row with `withdrawn` strikes it out. `replaces` is unique, so that two corrections of one row cannot both
-- stand. Triggers refuse UPDATE and DELETE, and INSERT OR REPLACE, which would delete without firing a trigger.
-- Lengths in mm with their expanded uncertainty (k = 2) beside them; no text is empty; times are UTC, ISO 8601.

CREATE TABLE provenance (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    source TEXT NOT NULL CHECK (source IN ('photo', 'typed')),
    basis TEXT NOT NULL CHECK (basis IN ('measured', 'manual', 'estimated', 'default')),
    photo_name TEXT CHECK (photo_name <> ''),
    photo_sha256 TEXT CHECK (length(photo_sha256) = 64),
    program_version TEXT NOT NULL CHECK (program_version <> ''),
    who TEXT CHECK (who <> ''),
    recorded_at TEXT NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??*Z'),
    CHECK ((source = 'photo') = (photo_sha256 IS NOT NULL)),
    CHECK ((source = 'photo') = (photo_name IS NOT NULL))
) STRICT;

CREATE TRIGGER provenance_no_update BEFORE UPDATE ON provenance
BEGIN SELECT RAISE(ABORT, 'append-only: provenance is corrected by a new row'); END;
CREATE TRIGGER provenance_no_delete BEFORE DELETE ON provenance
BEGIN SELECT RAISE(ABORT, 'append-only: provenance is corrected by a new row'); END;
CREATE TRIGGER provenance_no_overwrite BEFORE INSERT ON provenance
WHEN EXISTS (SELECT 1 FROM provenance WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'append-only: provenance holds this already'); END;

CREATE TABLE bike (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    name TEXT NOT NULL UNIQUE CHECK (name <> ''),
    provenance_id TEXT NOT NULL REFERENCES provenance (id)
) STRICT;

CREATE TRIGGER bike_no_update BEFORE UPDATE ON bike
BEGIN SELECT RAISE(ABORT, 'append-only: bike is corrected by a new row'); END;
CREATE TRIGGER bike_no_delete BEFORE DELETE ON bike
BEGIN SELECT RAISE(ABORT, 'append-only: bike is corrected by a new row'); END;
CREATE TRIGGER bike_no_overwrite BEFORE INSERT ON bike
WHEN EXISTS (SELECT 1 FROM bike WHERE id = NEW.id OR name = NEW.name)
BEGIN SELECT RAISE(ABORT, 'append-only: bike holds this already'); END;

-- What the bike's file said: a ride keeps to the text that was in force.
CREATE TABLE bike_version (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    bike_id TEXT NOT NULL REFERENCES bike (id),
    toml TEXT NOT NULL CHECK (toml <> ''),
    sha256 TEXT NOT NULL CHECK (length(sha256) = 64),
    provenance_id TEXT NOT NULL REFERENCES provenance (id),
    UNIQUE (bike_id, sha256),
    UNIQUE (id, bike_id)
) STRICT;

CREATE TRIGGER bike_version_no_update BEFORE UPDATE ON bike_version
BEGIN SELECT RAISE(ABORT, 'append-only: bike_version is corrected by a new row'); END;
CREATE TRIGGER bike_version_no_delete BEFORE DELETE ON bike_version
BEGIN SELECT RAISE(ABORT, 'append-only: bike_version is corrected by a new row'); END;
CREATE TRIGGER bike_version_no_overwrite BEFORE INSERT ON bike_version
WHEN EXISTS (SELECT 1 FROM bike_version WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'append-only: bike_version holds this already'); END;

CREATE TABLE load_case (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    bike_id TEXT NOT NULL REFERENCES bike (id),
    name TEXT NOT NULL CHECK (name <> ''),
    provenance_id TEXT NOT NULL REFERENCES provenance (id),
    replaces TEXT UNIQUE CHECK (replaces <> id),
    withdrawn INTEGER NOT NULL DEFAULT 0 CHECK (withdrawn IN (0, 1)),
    UNIQUE (id, bike_id),
    FOREIGN KEY (replaces, bike_id) REFERENCES load_case (id, bike_id),
    CHECK (withdrawn = 0 OR replaces IS NOT NULL)
) STRICT;

CREATE TRIGGER load_case_no_update BEFORE UPDATE ON load_case
BEGIN SELECT RAISE(ABORT, 'append-only: load_case is corrected by a new row'); END;
CREATE TRIGGER load_case_no_delete BEFORE DELETE ON load_case
BEGIN SELECT RAISE(ABORT, 'append-only: load_case is corrected by a new row'); END;
CREATE TRIGGER load_case_no_overwrite BEFORE INSERT ON load_case
WHEN EXISTS (SELECT 1 FROM load_case WHERE id = NEW.id OR replaces = NEW.replaces)
BEGIN SELECT RAISE(ABORT, 'append-only: load_case holds this already'); END;

CREATE UNIQUE INDEX load_case_first ON load_case (bike_id, name) WHERE replaces IS NULL;

CREATE TABLE ride (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    number INTEGER NOT NULL UNIQUE CHECK (number > 0),
    bike_id TEXT NOT NULL REFERENCES bike (id),
    UNIQUE (id, bike_id)
) STRICT;

CREATE TRIGGER ride_no_update BEFORE UPDATE ON ride
BEGIN SELECT RAISE(ABORT, 'append-only: ride is corrected by a new row'); END;
CREATE TRIGGER ride_no_delete BEFORE DELETE ON ride
BEGIN SELECT RAISE(ABORT, 'append-only: ride is corrected by a new row'); END;
CREATE TRIGGER ride_no_overwrite BEFORE INSERT ON ride
WHEN EXISTS (SELECT 1 FROM ride WHERE id = NEW.id OR number = NEW.number)
BEGIN SELECT RAISE(ABORT, 'append-only: ride holds this already'); END;

CREATE TABLE ride_entry (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    ride_id TEXT NOT NULL,
    bike_id TEXT NOT NULL,
    bike_version_id TEXT NOT NULL,
    load_case_id TEXT,
    date TEXT NOT NULL CHECK (date IS date(date, '+0 days')),
    route TEXT CHECK (route <> ''),
    felt TEXT CHECK (felt IN ('harsh', 'bottomed', 'wallows', 'dives')),
    temperature_c REAL CHECK (temperature_c BETWEEN -60 AND 70),
    front_pressure_kpa REAL CHECK (front_pressure_kpa BETWEEN 0 AND 1000),
    rear_pressure_kpa REAL CHECK (rear_pressure_kpa BETWEEN 0 AND 1000),
    note TEXT CHECK (note <> ''),
    provenance_id TEXT NOT NULL REFERENCES provenance (id),
    replaces TEXT UNIQUE CHECK (replaces <> id),
    withdrawn INTEGER NOT NULL DEFAULT 0 CHECK (withdrawn IN (0, 1)),
    UNIQUE (id, ride_id),
    FOREIGN KEY (replaces, ride_id) REFERENCES ride_entry (id, ride_id),
    CHECK (withdrawn = 0 OR replaces IS NOT NULL),
    FOREIGN KEY (ride_id, bike_id) REFERENCES ride (id, bike_id),
    FOREIGN KEY (bike_version_id, bike_id) REFERENCES bike_version (id, bike_id),
    FOREIGN KEY (load_case_id, bike_id) REFERENCES load_case (id, bike_id)
) STRICT;

CREATE TRIGGER ride_entry_no_update BEFORE UPDATE ON ride_entry
BEGIN SELECT RAISE(ABORT, 'append-only: ride_entry is corrected by a new row'); END;
CREATE TRIGGER ride_entry_no_delete BEFORE DELETE ON ride_entry
BEGIN SELECT RAISE(ABORT, 'append-only: ride_entry is corrected by a new row'); END;
CREATE TRIGGER ride_entry_no_overwrite BEFORE INSERT ON ride_entry
WHEN EXISTS (SELECT 1 FROM ride_entry WHERE id = NEW.id OR replaces = NEW.replaces)
BEGIN SELECT RAISE(ABORT, 'append-only: ride_entry holds this already'); END;

CREATE UNIQUE INDEX ride_entry_first ON ride_entry (ride_id) WHERE replaces IS NULL;

CREATE TABLE setting (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    ride_id TEXT NOT NULL REFERENCES ride (id),
    leg TEXT NOT NULL
        CHECK (leg IN ('front', 'front-left', 'front-right', 'rear', 'rear-left', 'rear-right')),
    adjuster TEXT NOT NULL CHECK (adjuster <> ''),
    kind TEXT NOT NULL CHECK (kind IN ('turns', 'clicks', 'positions')),
    count REAL CHECK (count BETWEEN 0 AND 1000),
    counted_from TEXT NOT NULL CHECK (counted_from IN ('soft', 'hard')),
    confidence TEXT NOT NULL CHECK (confidence IN ('counted', 'in-doubt', 'unknown')),
    provenance_id TEXT NOT NULL REFERENCES provenance (id),
    replaces TEXT UNIQUE CHECK (replaces <> id),
    withdrawn INTEGER NOT NULL DEFAULT 0 CHECK (withdrawn IN (0, 1)),
    UNIQUE (id, ride_id, leg, adjuster),
    FOREIGN KEY (replaces, ride_id, leg, adjuster) REFERENCES setting (id, ride_id, leg, adjuster),
    CHECK (withdrawn = 0 OR replaces IS NOT NULL),
    CHECK ((count IS NULL) = (confidence = 'unknown'))
) STRICT;

CREATE TRIGGER setting_no_update BEFORE UPDATE ON setting
BEGIN SELECT RAISE(ABORT, 'append-only: setting is corrected by a new row'); END;
CREATE TRIGGER setting_no_delete BEFORE DELETE ON setting
BEGIN SELECT RAISE(ABORT, 'append-only: setting is corrected by a new row'); END;
CREATE TRIGGER setting_no_overwrite BEFORE INSERT ON setting
WHEN EXISTS (SELECT 1 FROM setting WHERE id = NEW.id OR replaces = NEW.replaces)
BEGIN SELECT RAISE(ABORT, 'append-only: setting holds this already'); END;

CREATE UNIQUE INDEX setting_first ON setting (ride_id, leg, adjuster) WHERE replaces IS NULL;

CREATE TABLE reading (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    ride_id TEXT NOT NULL REFERENCES ride (id),
    leg TEXT NOT NULL
        CHECK (leg IN ('front', 'front-left', 'front-right', 'rear', 'rear-left', 'rear-right')),
    state TEXT NOT NULL CHECK (state IN ('hanging', 'on-wheels', 'rider-aboard', 'unknown')),
    exposed_mm REAL,
    exposed_u95_mm REAL,
    marker_mm REAL,
    marker_u95_mm REAL,
    remaining_mm REAL,
    remaining_u95_mm REAL,
    at_stop INTEGER CHECK (at_stop IN (0, 1)),
    marker_kind TEXT NOT NULL CHECK (marker_kind IN ('tie', 'o-ring', 'unknown')),
    marker_lock TEXT NOT NULL CHECK (marker_lock IN ('meets-seal', 'unknown')),
    marker_width_mm REAL,
    marker_width_u95_mm REAL,
    reset_compression_mm REAL,
    reset_compression_u95_mm REAL,
    provenance_id TEXT NOT NULL REFERENCES provenance (id),
    replaces TEXT UNIQUE CHECK (replaces <> id),
    withdrawn INTEGER NOT NULL DEFAULT 0 CHECK (withdrawn IN (0, 1)),
    CHECK (exposed_mm IS NULL AND exposed_u95_mm IS NULL
        OR exposed_mm IS NOT NULL AND abs(exposed_mm) < 1e6 AND exposed_u95_mm BETWEEN 0 AND 1e6),
    CHECK (marker_mm IS NULL AND marker_u95_mm IS NULL
        OR marker_mm IS NOT NULL AND abs(marker_mm) < 1e6 AND marker_u95_mm BETWEEN 0 AND 1e6),
    CHECK (remaining_mm IS NULL AND remaining_u95_mm IS NULL
        OR remaining_mm IS NOT NULL AND abs(remaining_mm) < 1e6 AND remaining_u95_mm BETWEEN 0 AND 1e6),
    CHECK (marker_width_mm IS NULL AND marker_width_u95_mm IS NULL
        OR marker_width_mm IS NOT NULL AND abs(marker_width_mm) < 1e6 AND marker_width_u95_mm BETWEEN 0 AND 1e6 AND marker_width_mm >= 0),
    CHECK (reset_compression_mm IS NULL AND reset_compression_u95_mm IS NULL
        OR reset_compression_mm IS NOT NULL AND abs(reset_compression_mm) < 1e6 AND reset_compression_u95_mm BETWEEN 0 AND 1e6 AND reset_compression_mm >= 0),
    UNIQUE (id, ride_id, leg),
    FOREIGN KEY (replaces, ride_id, leg) REFERENCES reading (id, ride_id, leg),
    CHECK (withdrawn = 0 OR replaces IS NOT NULL),
    CHECK (withdrawn = 1 OR at_stop = 1
        OR exposed_mm IS NOT NULL OR marker_mm IS NOT NULL OR remaining_mm IS NOT NULL)
) STRICT;

CREATE TRIGGER reading_no_update BEFORE UPDATE ON reading
BEGIN SELECT RAISE(ABORT, 'append-only: reading is corrected by a new row'); END;
CREATE TRIGGER reading_no_delete BEFORE DELETE ON reading
BEGIN SELECT RAISE(ABORT, 'append-only: reading is corrected by a new row'); END;
CREATE TRIGGER reading_no_overwrite BEFORE INSERT ON reading
WHEN EXISTS (SELECT 1 FROM reading WHERE id = NEW.id OR replaces = NEW.replaces)
BEGIN SELECT RAISE(ABORT, 'append-only: reading holds this already'); END;

CREATE INDEX ride_entry_ride ON ride_entry (ride_id);
CREATE INDEX setting_ride ON setting (ride_id);
CREATE INDEX reading_ride ON reading (ride_id);
