-- The tables of the question, from Parquet files of several practices (views raw_...: the files with
-- the columns practice and month of their folders). One dog may have been at two practices: of two
-- rows of the same thing the one told later counts. DuckDB runs it as it is; sqlglot carries it on.
CREATE VIEW handovers AS
SELECT {handovers} FROM raw_handovers AS r;

CREATE VIEW newest_practice AS
SELECT device, dog, practice
FROM (
    SELECT
        device, dog, practice, row_number() OVER (
            PARTITION BY device, dog ORDER BY made_at DESC, practice DESC
        ) AS age
    FROM raw_handovers
) AS h
WHERE h.age = 1;

CREATE VIEW sessions AS
SELECT {sessions}
FROM (
    SELECT s.*, row_number() OVER (
        PARTITION BY s.device, s.dog, s.session ORDER BY s.made_at DESC, s.practice DESC
    ) AS age
    FROM raw_sessions AS s
) AS r
WHERE r.age = 1;

CREATE VIEW incidents AS
SELECT {incidents}
FROM (
    SELECT i.*, row_number() OVER (
        PARTITION BY i.device, i.dog, i.incident ORDER BY i.made_at DESC, i.practice DESC
    ) AS age
    FROM raw_incidents AS i
) AS r
WHERE r.age = 1;

CREATE VIEW scores AS
SELECT {scores}
FROM (
    SELECT f.*, row_number() OVER (
        PARTITION BY f.device, f.dog, f.said_at ORDER BY f.made_at DESC, f.practice DESC
    ) AS age
    FROM raw_scores AS f
) AS r
WHERE r.age = 1;

CREATE VIEW doses AS
SELECT {doses}
FROM (
    SELECT x.*, row_number() OVER (
        PARTITION BY x.device, x.dog, x.session, x.region
        ORDER BY x.made_at DESC, x.practice DESC
    ) AS age
    FROM raw_doses AS x
) AS r
WHERE r.age = 1;

CREATE VIEW dues AS
SELECT {dues}
FROM raw_dues AS r
INNER JOIN newest_practice AS n
    ON n.device = r.device AND n.dog = r.dog AND n.practice = r.practice;

CREATE VIEW stop_rules AS
SELECT {stop_rules}
FROM raw_stop_rules AS r
INNER JOIN newest_practice AS n
    ON n.device = r.device AND n.dog = r.dog AND n.practice = r.practice
