-- A shop log as version 1 made it, with entries. Never change this: it stands for logs out there.
PRAGMA application_id = 1264939622;
PRAGMA user_version = 1;
CREATE TABLE proof (
    id INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    job TEXT NOT NULL,
    outcome TEXT NOT NULL CHECK (outcome IN ('clear', 'care', 'stop')),
    sentence TEXT NOT NULL,
    time_s REAL NOT NULL,
    time_low_s REAL NOT NULL,
    time_high_s REAL NOT NULL,
    program_file TEXT NOT NULL,
    program_sha256 TEXT NOT NULL,
    machine TEXT NOT NULL,
    machine_sha256 TEXT NOT NULL,
    code_sha256 TEXT NOT NULL,
    tables_sha256 TEXT NOT NULL,
    verdict_file TEXT NOT NULL
) STRICT;
CREATE INDEX proof_by_job ON proof (job, at);
CREATE TABLE cut (
    id INTEGER PRIMARY KEY,
    proof INTEGER NOT NULL REFERENCES proof (id) ON DELETE RESTRICT,
    at TEXT NOT NULL,
    went TEXT NOT NULL CHECK (went IN ('well', 'stalled', 'spoiled', 'stopped')),
    took_s REAL CHECK (took_s > 0),
    notes TEXT NOT NULL
) STRICT;
CREATE INDEX cut_by_proof ON cut (proof, at);
CREATE TABLE size (
    cut INTEGER NOT NULL REFERENCES cut (id) ON DELETE CASCADE,
    name TEXT NOT NULL,
    found_mm REAL NOT NULL,
    u_mm REAL CHECK (u_mm >= 0),
    wanted_mm REAL,
    PRIMARY KEY (cut, name)
) STRICT, WITHOUT ROWID;
INSERT INTO proof VALUES (1, '2024-03-02T09:30:00+00:00', 'bat-box', 'care', 'Cut it with care.',
    6720.4, 5700.0, 7512.0, 'bat-box.nc', 'aa', 'Alder Lane router', 'bb', 'cc', 'dd',
    'jobs/bat-box/verdict.json');
INSERT INTO cut VALUES (1, 1, '2024-03-02T11:40:00+00:00', 'well', 6600.0, 'tongue a little tight');
INSERT INTO size VALUES (1, 'tongue', 19.02, 0.02, 19.0);
