"""The form of the shop log, one migration for each version. Never change one that is out."""

#: ``MIGRATIONS[n - 1]`` brings a log from version n - 1 to version n.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """
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
        ) STRICT
        """,
        "CREATE INDEX proof_by_job ON proof (job, at)",
        """
        CREATE TABLE cut (
            id INTEGER PRIMARY KEY,
            proof INTEGER NOT NULL REFERENCES proof (id) ON DELETE RESTRICT,
            at TEXT NOT NULL,
            went TEXT NOT NULL CHECK (went IN ('well', 'stalled', 'spoiled', 'stopped')),
            took_s REAL CHECK (took_s > 0),
            notes TEXT NOT NULL
        ) STRICT
        """,
        "CREATE INDEX cut_by_proof ON cut (proof, at)",
        """
        CREATE TABLE size (
            cut INTEGER NOT NULL REFERENCES cut (id) ON DELETE CASCADE,
            name TEXT NOT NULL,
            found_mm REAL NOT NULL,
            u_mm REAL CHECK (u_mm >= 0),
            wanted_mm REAL,
            PRIMARY KEY (cut, name)
        ) STRICT, WITHOUT ROWID
        """,
    ),
    (
        """
        CREATE TABLE acceptance (
            id INTEGER PRIMARY KEY,
            proof INTEGER NOT NULL REFERENCES proof (id) ON DELETE RESTRICT,
            at TEXT NOT NULL,
            finding TEXT NOT NULL,
            code TEXT NOT NULL,
            severity TEXT NOT NULL CHECK (severity IN ('caution', 'note')),
            words TEXT NOT NULL,
            value REAL NOT NULL,
            limit_value REAL NOT NULL,
            unit TEXT NOT NULL,
            reason TEXT NOT NULL CHECK (trim(reason) <> ''),
            UNIQUE (proof, finding)
        ) STRICT
        """,
    ),
)
