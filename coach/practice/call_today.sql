-- Whom to call today: one row a dog and reason, the dog with the gravest reason first; one row with
-- an empty rule for a dog without any. The same text runs on SQLite (from 3.35), DuckDB and
-- PostgreSQL; sqlglot carries it to others. Tables: coach/practice/tables.py. $today is the day as a
-- whole number (six digits: what happened last is found by it). What a call has answered is whatever the handovers told that were there at the call
-- (calls.seen); a standing rule rests for a while after it.
WITH told AS (
    SELECT
        d.dog_key, h.*,
        row_number() OVER (
            PARTITION BY d.dog_key, h.made_at ORDER BY h.handover DESC
        ) AS copy_number
    FROM handovers AS h
    INNER JOIN dogs AS d ON d.device = h.device AND d.dog = h.dog
),
aged AS (
    SELECT t.*, row_number() OVER (PARTITION BY t.dog_key ORDER BY t.made_at DESC) AS age
    FROM told AS t
    WHERE t.copy_number = 1
),
newest AS (
    SELECT
        a.*, coalesce(c.seen, '') AS seen, coalesce(c.rests_until, 0) AS rests_until,
        coalesce(c.until_day, 0) AS call_again_day, coalesce(c.day, 0) AS call_day,
        coalesce(c.called_by, '') AS called_by, coalesce(c.note, '') AS call_note
    FROM aged AS a
    LEFT JOIN calls AS c ON c.dog_key = a.dog_key
    WHERE a.age = 1
),
last_but_one AS (
    SELECT dog_key, made_at, made_day, plan_revision FROM aged WHERE age = 2
),
first_one AS (
    SELECT dog_key, min(made_day) AS made_day, count(*) AS handovers FROM aged GROUP BY dog_key
),
computers AS (
    SELECT dog_key, count(DISTINCT device) AS computers FROM aged GROUP BY dog_key
),
-- Every session that was held, in order; what it showed as 1 or 0.
held AS (
    SELECT
        n.dog_key, s.session, s.day, s.day_known, s.first_made, s.begun, s.skin, s.tolerance,
        s.words, s.alarming, s.overruled, s.journal, s.signature, s.stop_signs, s.early_signs,
        CASE WHEN s.plan = n.plan AND s.day >= n.start_day THEN s.begun ELSE 0 END AS of_course,
        CASE WHEN s.first_made > n.seen THEN 1 ELSE 0 END AS unseen,
        CASE WHEN s.skin = 'red' OR s.reason = 'hot_skin' OR s.stop_signs LIKE '%hot_skin%'
            THEN s.counts ELSE 0 END AS is_red,
        CASE WHEN s.skin = 'warm' THEN s.counts ELSE 0 END AS is_warm,
        CASE WHEN s.reason IN ('dog_unhappy', 'hot_skin') AND s.state <> 'finished'
            THEN s.counts ELSE 0 END AS is_dog_stop,
        CASE WHEN s.journal IN ('damaged', 'unreadable') OR s.signature IN ('bad', 'other_key')
            THEN 1 ELSE 0 END AS is_bad,
        row_number() OVER (
            PARTITION BY n.dog_key ORDER BY s.day, s.opened, s.session
        ) AS place
    FROM sessions AS s
    INNER JOIN dogs AS d ON d.device = s.device AND d.dog = s.dog
    INNER JOIN newest AS n ON n.dog_key = d.dog_key
),
skins AS (
    SELECT
        h.*,
        coalesce(max(CASE WHEN h.skin = 'fine' THEN h.place END) OVER (
            PARTITION BY h.dog_key
        ), 0) AS last_fine
    FROM held AS h
),
per_dog AS (
    SELECT
        dog_key,
        sum(begun) AS sessions,
        sum(of_course) AS begun,
        max(CASE WHEN begun = 1 THEN day ELSE 0 END) AS last_session,
        max(CASE WHEN of_course = 1 THEN unseen ELSE 0 END) AS begun_unseen,
        sum(CASE WHEN is_red = 1 AND unseen = 1 AND place > last_fine THEN 1 ELSE 0 END) AS reds,
        min(CASE WHEN is_red = 1 AND unseen = 1 AND place > last_fine THEN day END) AS red_since,
        max(CASE WHEN is_red = 1 AND unseen = 1 AND place > last_fine THEN day END) AS red_last,
        sum(CASE WHEN is_warm = 1 AND unseen = 1 AND place > last_fine THEN 1 ELSE 0 END) AS warms,
        min(CASE WHEN is_warm = 1 AND unseen = 1 AND place > last_fine THEN day END) AS warm_since,
        max(CASE WHEN is_warm = 1 AND unseen = 1 AND place > last_fine THEN day END) AS warm_last
    FROM skins
    GROUP BY dog_key
),
-- Of the scored sessions: the last one, and the best of the five before it.
scored AS (
    SELECT
        dog_key, day, unseen, tolerance AS value_now,
        max(tolerance) OVER (
            PARTITION BY dog_key ORDER BY place ROWS BETWEEN 5 PRECEDING AND 1 PRECEDING
        ) AS value_before,
        row_number() OVER (PARTITION BY dog_key ORDER BY place DESC) AS back
    FROM held
    WHERE tolerance IS NOT NULL AND begun = 1
),
functions AS (
    SELECT
        n.dog_key, f.day, f.score AS value_now,
        CASE WHEN f.first_made > n.seen THEN 1 ELSE 0 END AS unseen,
        max(f.score) OVER (
            PARTITION BY n.dog_key ORDER BY f.day, f.said_at
            ROWS BETWEEN 5 PRECEDING AND 1 PRECEDING
        ) AS value_before,
        row_number() OVER (PARTITION BY n.dog_key ORDER BY f.day DESC, f.said_at DESC) AS back
    FROM scores AS f
    INNER JOIN dogs AS d ON d.device = f.device AND d.dog = f.dog
    INNER JOIN newest AS n ON n.dog_key = d.dog_key
),
happened AS (
    SELECT
        n.dog_key, i.kind, i.day, i.what, i.first_made,
        CASE WHEN i.first_made > n.seen THEN 1 ELSE 0 END AS unseen
    FROM incidents AS i
    INNER JOIN dogs AS d ON d.device = i.device AND d.dog = i.dog
    INNER JOIN newest AS n ON n.dog_key = d.dog_key
),
-- The course as of today, from the days that the plan gives.
courses AS (
    SELECT
        n.dog_key,
        count(*) AS dues,
        sum(CASE WHEN u.state = 'given' THEN 1 ELSE 0 END) AS given,
        sum(CASE WHEN u.planned_day < $today OR (u.planned_day = $today AND u.state = 'given')
            THEN 1 ELSE 0 END) AS planned,
        min(CASE WHEN u.state <> 'given' THEN u.planned_day END) AS first_open,
        min(CASE
            WHEN u.state IN ('given', 'missed', 'ask') THEN NULL
            WHEN u.planned_day >= $today THEN u.planned_day
            WHEN n.missed_rule = 'shift' OR u.until_day >= $today THEN $today
        END) AS next_day
    FROM dues AS u
    INNER JOIN newest AS n ON n.device = u.device AND n.dog = u.dog
    GROUP BY n.dog_key
),
standing AS (
    SELECT
        n.dog_key, n.made_day, n.course, n.valid_until, n.recheck_day, n.recheck_after,
        coalesce(p.sessions, 0) AS sessions, coalesce(p.begun, 0) AS begun,
        coalesce(p.begun_unseen, 0) AS begun_unseen,
        coalesce(p.last_session, 0) AS last_session,
        CASE WHEN coalesce(p.last_session, 0) > 0 THEN p.last_session ELSE f.made_day END
            AS last_word,
        coalesce(k.dues, 0) AS dues,
        coalesce(k.planned, n.planned) AS planned,
        CASE WHEN k.dues > 0 OR m.computers > 1 THEN coalesce(p.begun, 0) - n.too_little
            ELSE n.given END AS enough,
        CASE WHEN m.computers > 1 THEN coalesce(p.begun, 0) ELSE coalesce(k.given, n.given) END
            AS given,
        coalesce(k.first_open, 0) AS first_open, coalesce(k.next_day, 0) AS next_day,
        f.handovers, m.computers
    FROM newest AS n
    INNER JOIN first_one AS f ON f.dog_key = n.dog_key
    INNER JOIN computers AS m ON m.dog_key = n.dog_key
    LEFT JOIN per_dog AS p ON p.dog_key = n.dog_key
    LEFT JOIN courses AS k ON k.dog_key = n.dog_key
),
days_of_sessions AS (
    SELECT
        h.dog_key, h.day, count(*) AS sessions, max(h.unseen) AS unseen,
        max(CASE WHEN n.most_a_day > 1 THEN n.most_a_day ELSE 1 END) AS most
    FROM held AS h
    INNER JOIN newest AS n ON n.dog_key = h.dog_key
    WHERE h.begun = 1 AND h.day_known = 1
    GROUP BY h.dog_key, h.day
),
-- What the prescriber's own stop rules count.
counted_signs AS (
    SELECT dog_key, 'red skin' AS sign, day, first_made, of_course FROM held WHERE is_red = 1
    UNION ALL
    SELECT dog_key, 'warm skin' AS sign, day, first_made, of_course FROM held WHERE is_warm = 1
    UNION ALL
    SELECT dog_key, 'stopped for the dog' AS sign, day, first_made, of_course
    FROM held
    WHERE is_dog_stop = 1
    UNION ALL
    SELECT dog_key, 'worse' AS sign, day, first_made, 1 AS of_course
    FROM happened
    WHERE kind = 'refused' AND what LIKE 'worse%'
),
reasons AS (
    SELECT dog_key, kind AS rule, min(day) AS since_day, max(day) AS last_day,
        count(*) AS figure, substr(max(CAST(day AS VARCHAR(9)) || what), 7) AS what
    FROM happened
    WHERE unseen = 1
    GROUP BY dog_key, kind

    UNION ALL
    SELECT dog_key, 'alarming_words', min(day), max(day), count(*), substr(max(CAST(day AS VARCHAR(9)) || words), 7)
    FROM held
    WHERE alarming = 1 AND unseen = 1
    GROUP BY dog_key

    UNION ALL
    SELECT dog_key, 'owner_words', min(day), max(day), count(*), substr(max(CAST(day AS VARCHAR(9)) || words), 7)
    FROM held
    WHERE words <> '' AND alarming = 0 AND unseen = 1
    GROUP BY dog_key

    UNION ALL
    SELECT n.dog_key, 'stop_rule', min(s.day), max(s.day), count(*), r.sign
    FROM newest AS n
    INNER JOIN stop_rules AS r ON r.device = n.device AND r.dog = n.dog
    INNER JOIN counted_signs AS s ON s.dog_key = n.dog_key AND s.sign = r.sign
    WHERE (r.within_days > 0 AND s.day > $today - r.within_days)
        OR (r.within_days = 0 AND s.of_course = 1)
    GROUP BY n.dog_key, n.seen, r.number, r.sign, r.times
    HAVING count(*) >= r.times AND max(s.first_made) > n.seen

    UNION ALL
    SELECT dog_key, 'stop_sign', min(day), max(day), count(*), substr(max(CAST(day AS VARCHAR(9)) || stop_signs), 7)
    FROM held
    WHERE stop_signs <> '' AND unseen = 1
    GROUP BY dog_key

    UNION ALL
    SELECT dog_key, 'early_sign', min(day), max(day), count(*), substr(max(CAST(day AS VARCHAR(9)) || early_signs), 7)
    FROM held
    WHERE early_signs <> '' AND unseen = 1
    GROUP BY dog_key

    UNION ALL
    SELECT dog_key, 'stopped_for_dog', min(day), max(day), count(*), ''
    FROM held
    WHERE is_dog_stop = 1 AND unseen = 1
    GROUP BY dog_key

    UNION ALL
    SELECT dog_key, 'red_skin', red_since, red_last, reds, '' FROM per_dog WHERE reds > 0

    UNION ALL
    SELECT dog_key, 'warm_skin', warm_since, warm_last, warms, '' FROM per_dog WHERE warms > 0

    UNION ALL
    SELECT dog_key, 'tolerance_fall', day, day, value_before - value_now,
        CAST(value_before AS VARCHAR(9)) || ' to ' || CAST(value_now AS VARCHAR(9))
    FROM scored
    WHERE back = 1 AND unseen = 1 AND value_before > value_now

    UNION ALL
    SELECT dog_key, 'tolerance_low', day, day, 1, CAST(value_now AS VARCHAR(9)) || ' of 10'
    FROM scored
    WHERE back = 1 AND unseen = 1 AND value_now <= 3

    UNION ALL
    SELECT dog_key, 'score_fall', day, day, value_before - value_now,
        CAST(value_before AS VARCHAR(9)) || ' to ' || CAST(value_now AS VARCHAR(9))
    FROM functions
    WHERE back = 1 AND unseen = 1 AND value_before > value_now

    UNION ALL
    SELECT dog_key, 'bad_log', min(day), max(day), count(*), substr(max(CAST(day AS VARCHAR(9)) || session), 7)
    FROM held
    WHERE is_bad = 1 AND unseen = 1
    GROUP BY dog_key

    UNION ALL
    SELECT dog_key, 'bad_log', made_day, made_day, 1, broken
    FROM newest
    WHERE broken <> '' AND made_at > seen

    UNION ALL
    SELECT dog_key, 'unsigned_log', min(day), max(day), count(*), ''
    FROM held
    WHERE signature = 'none' AND begun = 1 AND is_bad = 0 AND unseen = 1
    GROUP BY dog_key

    UNION ALL
    SELECT dog_key, 'clock', min(day), max(day), count(*), ''
    FROM held
    WHERE day_known = 0 AND unseen = 1
    GROUP BY dog_key

    UNION ALL
    SELECT dog_key, 'overruled', min(day), max(day), count(*), substr(max(CAST(day AS VARCHAR(9)) || overruled), 7)
    FROM held
    WHERE overruled <> '' AND begun = 1 AND unseen = 1
    GROUP BY dog_key

    UNION ALL
    SELECT dog_key, 'two_a_day', min(day), max(day), max(sessions - most), ''
    FROM days_of_sessions
    WHERE sessions > most AND unseen = 1
    GROUP BY dog_key

    UNION ALL
    SELECT dog_key, 'beyond', last_session, last_session, enough - planned, ''
    FROM standing
    WHERE dues > 0 AND enough > planned AND begun_unseen = 1

    UNION ALL
    SELECT dog_key, 'behind', first_open, last_word, planned - enough, ''
    FROM standing
    WHERE planned > enough

    -- Where no course is known, nobody can say for how long silence means anything: 90 days.
    UNION ALL
    SELECT dog_key, 'silence', last_word, last_word, $today - last_word,
        CASE WHEN sessions = 0 THEN 'no session yet' ELSE '' END
    FROM standing
    WHERE (dues > 0 AND planned > enough) OR (course = 0 AND $today - last_word <= 90)
        OR (course > 0 AND dues = 0 AND sessions = 0)

    UNION ALL
    SELECT dog_key, 'recheck', recheck_day, recheck_day, 1, ''
    FROM standing
    WHERE recheck_day > 0 AND recheck_day <= $today

    UNION ALL
    SELECT s.dog_key, 'recheck', s.last_session, s.last_session, s.begun,
        'after ' || CAST(s.recheck_after AS VARCHAR(9)) || ' sessions'
    FROM standing AS s
    WHERE s.recheck_after > 0 AND s.begun >= s.recheck_after
        AND (s.recheck_day = 0 OR s.recheck_day > $today)

    UNION ALL
    SELECT dog_key, 'plan_over', valid_until, valid_until, 1, ''
    FROM standing
    WHERE valid_until > 0 AND valid_until < $today AND (next_day > 0 OR first_open > 0)

    UNION ALL
    SELECT dog_key, 'call_again', call_again_day, call_again_day, 1, call_note
    FROM newest
    WHERE call_again_day > 0 AND call_again_day <= $today
),
holding AS (
    SELECT
        r.dog_key, r.rule, w.weight, r.since_day, r.last_day, r.figure, r.what,
        row_number() OVER (
            PARTITION BY r.dog_key
            ORDER BY w.weight DESC, r.figure DESC, r.last_day DESC, r.rule, r.what
        ) AS place
    FROM reasons AS r
    INNER JOIN rules AS w ON w.rule = r.rule
    INNER JOIN newest AS n ON n.dog_key = r.dog_key
    WHERE r.figure >= w.least AND r.last_day + w.lasts_days >= $today
        AND (w.standing = 0 OR w.rule = 'call_again' OR n.rests_until <= $today)
),
worst AS (
    SELECT dog_key, weight, figure, last_day FROM holding WHERE place = 1
),
since_last AS (
    SELECT h.dog_key, sum(h.begun) AS new_sessions
    FROM held AS h
    INNER JOIN last_but_one AS b ON b.dog_key = h.dog_key
    WHERE h.first_made > b.made_at
    GROUP BY h.dog_key
)
SELECT
    n.dog_key, n.dog, n.device, n.handover, n.report, n.made_at, n.made_day,
    n.plan, n.plan_revision, n.prescriber, n.clinic, n.owner, n.phone,
    s.handovers, s.computers, s.sessions, s.last_session,
    n.course, s.given, s.planned, s.begun,
    CASE WHEN s.planned > s.enough THEN s.planned - s.enough ELSE 0 END AS behind,
    CASE WHEN s.dues > 0 AND s.enough > s.planned THEN s.enough - s.planned ELSE 0 END AS extra,
    s.next_day, t.value_now AS tolerance, t.value_before AS tolerance_before,
    coalesce(b.made_day, 0) AS before_day, coalesce(b.plan_revision, 0) AS before_revision,
    coalesce(l.new_sessions, 0) AS new_sessions,
    n.call_day, n.called_by, n.call_note, n.call_again_day,
    coalesce(h.place, 0) AS place, coalesce(h.rule, '') AS rule, coalesce(h.weight, 0) AS weight,
    coalesce(h.since_day, 0) AS since_day, coalesce(h.last_day, 0) AS last_day,
    coalesce(h.figure, 0) AS figure, coalesce(h.what, '') AS what
FROM newest AS n
INNER JOIN standing AS s ON s.dog_key = n.dog_key
LEFT JOIN last_but_one AS b ON b.dog_key = n.dog_key
LEFT JOIN since_last AS l ON l.dog_key = n.dog_key
LEFT JOIN scored AS t ON t.dog_key = n.dog_key AND t.back = 1
LEFT JOIN holding AS h ON h.dog_key = n.dog_key
LEFT JOIN worst AS w ON w.dog_key = n.dog_key
ORDER BY
    coalesce(w.weight, 0) DESC, coalesce(w.figure, 0) DESC, coalesce(w.last_day, 0) DESC,
    n.dog, n.dog_key, coalesce(h.place, 0)
