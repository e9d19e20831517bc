-- Version 1 of the tables in a PostgreSQL. Never changed: a later version adds a file.
CREATE TABLE handovers (
    handover TEXT COLLATE "C", device TEXT COLLATE "C", dog TEXT COLLATE "C", made_at TEXT
    COLLATE "C", made_day INTEGER, digest TEXT COLLATE "C", plan TEXT COLLATE "C",
    plan_revision INTEGER, prescriber TEXT COLLATE "C", clinic TEXT COLLATE "C", owner TEXT
    COLLATE "C", phone TEXT COLLATE "C", names INTEGER, valid_until INTEGER, start_day
    INTEGER, course INTEGER, planned INTEGER, given INTEGER, too_little INTEGER, missed_rule
    TEXT COLLATE "C", recheck_day INTEGER, recheck_after INTEGER, most_a_day INTEGER,
    patient_number TEXT COLLATE "C", chip TEXT COLLATE "C", broken TEXT COLLATE "C", report
    TEXT COLLATE "C", for_page TEXT COLLATE "C", PRIMARY KEY (handover)
);
CREATE TABLE sessions (
    device TEXT COLLATE "C", dog TEXT COLLATE "C", session TEXT COLLATE "C", made_at TEXT
    COLLATE "C", first_made TEXT COLLATE "C", handover TEXT COLLATE "C", day INTEGER,
    day_known INTEGER, opened TEXT COLLATE "C", counts INTEGER, begun INTEGER, plan TEXT
    COLLATE "C", state TEXT COLLATE "C", reason TEXT COLLATE "C", skin TEXT COLLATE "C",
    tolerance INTEGER, stop_signs TEXT COLLATE "C", early_signs TEXT COLLATE "C", words TEXT
    COLLATE "C", alarming INTEGER, overruled TEXT COLLATE "C", journal TEXT COLLATE "C",
    signature TEXT COLLATE "C", PRIMARY KEY (device, dog, session)
);
CREATE TABLE dues (
    device TEXT COLLATE "C", dog TEXT COLLATE "C", number INTEGER, planned_day INTEGER,
    until_day INTEGER, state TEXT COLLATE "C", PRIMARY KEY (device, dog, number)
);
CREATE TABLE incidents (
    device TEXT COLLATE "C", dog TEXT COLLATE "C", incident TEXT COLLATE "C", made_at TEXT
    COLLATE "C", first_made TEXT COLLATE "C", handover TEXT COLLATE "C", kind TEXT COLLATE
    "C", day INTEGER, what TEXT COLLATE "C", PRIMARY KEY (device, dog, incident)
);
CREATE TABLE scores (
    device TEXT COLLATE "C", dog TEXT COLLATE "C", said_at TEXT COLLATE "C", made_at TEXT
    COLLATE "C", first_made TEXT COLLATE "C", handover TEXT COLLATE "C", day INTEGER, score
    INTEGER, PRIMARY KEY (device, dog, said_at)
);
CREATE TABLE stop_rules (
    device TEXT COLLATE "C", dog TEXT COLLATE "C", number INTEGER, sign TEXT COLLATE "C",
    times INTEGER, within_days INTEGER, PRIMARY KEY (device, dog, number)
);
CREATE TABLE doses (
    device TEXT COLLATE "C", dog TEXT COLLATE "C", session TEXT COLLATE "C", region TEXT
    COLLATE "C", made_at TEXT COLLATE "C", first_made TEXT COLLATE "C", handover TEXT
    COLLATE "C", day INTEGER, prescribed_mj INTEGER, given_mj INTEGER, PRIMARY KEY (device,
    dog, session, region)
);
CREATE TABLE files (
    handover TEXT PRIMARY KEY, state TEXT, remark TEXT, device TEXT, dog TEXT, stamp TEXT
)
