-- One row a dog over many handovers, those that need a call first. Runs as it is on SQLite (from
-- 3.25) and on DuckDB; on PostgreSQL with the parameters written its way. It reads two tables:
--   handovers  one row a handover: handover, made_at, device, dog, plan, plan_revision,
--              whole_course, planned, given, missed, next_day (from summary.json)
--   sessions   all rows of all sessions.csv as text, with the column handover
-- Parameters: $recent, the first day that counts as recent (2026-11-18).
WITH newest AS (
    SELECT *, row_number() OVER (
        PARTITION BY device, dog ORDER BY made_at DESC, handover DESC
    ) AS age
    FROM handovers
),
-- The same session may be in several handovers of a dog: the newest one tells it.
told AS (
    SELECT
        h.device, s.*, row_number() OVER (
            PARTITION BY h.device, h.dog, s.session ORDER BY h.made_at DESC, h.handover DESC
        ) AS age
    FROM sessions AS s
    INNER JOIN handovers AS h ON h.handover = s.handover
),
held AS (
    SELECT
        device, dog, opened, state, reason, skin, signals, journal,
        CAST(NULLIF(tolerance_0_10, '') AS INTEGER) AS tolerance,
        CASE WHEN substr(opened, 1, 10) >= $recent THEN 1 ELSE 0 END AS is_recent,
        row_number() OVER (PARTITION BY device, dog ORDER BY opened DESC, session DESC) AS back
    FROM told
    WHERE age = 1 AND counts = 'yes'
),
-- What cannot be read counts for nothing, and is told all the same.
broken AS (
    SELECT h.device, h.dog, count(*) AS journals
    FROM told AS t
    INNER JOIN newest AS h ON h.device = t.device AND h.age = 1 AND h.handover = t.handover
    WHERE t.age = 1 AND t.journal IN ('damaged', 'unreadable')
    GROUP BY h.device, h.dog
),
per_dog AS (
    SELECT
        device, dog,
        count(*) AS sessions,
        max(substr(opened, 1, 10)) AS last_session,
        sum(CASE WHEN state <> 'finished' THEN 1 ELSE 0 END) AS stopped,
        sum(CASE WHEN is_recent = 1 AND state <> 'finished'
                AND reason IN ('dog_unhappy', 'hot_skin') THEN 1 ELSE 0 END) AS dog_stops,
        sum(CASE WHEN is_recent = 1 AND skin = 'red' THEN 1 ELSE 0 END) AS red_skin,
        sum(CASE WHEN is_recent = 1 AND signals <> '' THEN 1 ELSE 0 END) AS with_signals,
        max(CASE WHEN back = 1 THEN state ELSE '' END) AS last_state,
        max(CASE WHEN back = 1 THEN reason ELSE '' END) AS last_reason,
        max(CASE WHEN back = 1 THEN tolerance END) AS last_tolerance
    FROM held
    GROUP BY device, dog
),
rows_of_dogs AS (
    SELECT
        n.dog, n.device, n.plan, n.plan_revision, n.made_at, n.handover,
        coalesce(p.sessions, 0) AS sessions,
        coalesce(p.last_session, '') AS last_session,
        n.whole_course, n.given, n.planned,
        CASE WHEN n.planned > n.given THEN n.planned - n.given ELSE 0 END AS behind,
        n.missed, n.next_day,
        coalesce(p.stopped, 0) AS stopped,
        coalesce(p.dog_stops, 0) AS dog_stops,
        coalesce(p.last_state, '') AS last_state,
        coalesce(p.last_reason, '') AS last_reason,
        coalesce(p.red_skin, 0) AS red_skin,
        coalesce(p.with_signals, 0) AS with_signals,
        p.last_tolerance,
        coalesce(b.journals, 0) AS broken_journals,
        CASE WHEN n.whole_course > 0 AND n.given >= n.whole_course THEN 1 ELSE 0 END AS done
    FROM newest AS n
    LEFT JOIN per_dog AS p ON p.device = n.device AND p.dog = n.dog
    LEFT JOIN broken AS b ON b.device = n.device AND b.dog = n.dog
    WHERE n.age = 1
)
SELECT
    CASE
        WHEN red_skin > 0 THEN '1 red skin'
        WHEN dog_stops > 0 THEN '2 stopped for the dog'
        WHEN with_signals > 0 THEN '3 signals seen'
        WHEN broken_journals > 0 THEN '4 a log is broken'
        WHEN behind > 0 THEN '5 behind'
        WHEN done = 1 THEN '7 done'
        ELSE '6 on its way'
    END AS standing,
    *
FROM rows_of_dogs
ORDER BY standing, behind DESC, red_skin DESC, dog, device
