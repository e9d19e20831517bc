-- The question of a registry: given against prescribed energy by practice, region and week (its
-- Monday as a whole number). Only handovers that were made without names. $least is the fewest dogs
-- of a cell that is shown: a smaller one could point at a dog, and is only counted.
WITH doses_of_practices AS (
    SELECT
        p.practice, d.dog_key, x.region, x.session, x.prescribed_mj, x.given_mj,
        x.day - (x.day - 1) % 7 AS week
    FROM doses AS x
    INNER JOIN dogs AS d ON d.device = x.device AND d.dog = x.dog
    INNER JOIN practices AS p ON p.handover = x.handover
),
cells AS (
    SELECT
        practice, region, week,
        count(DISTINCT dog_key) AS dogs, count(DISTINCT session) AS sessions,
        sum(prescribed_mj) AS prescribed_mj, sum(given_mj) AS given_mj
    FROM doses_of_practices
    GROUP BY practice, region, week
)
SELECT
    c.practice, c.region, c.week,
    CASE WHEN c.dogs >= $least THEN 1 ELSE 0 END AS shown,
    CASE WHEN c.dogs >= $least THEN c.dogs END AS dogs,
    CASE WHEN c.dogs >= $least THEN c.sessions END AS sessions,
    CASE WHEN c.dogs >= $least THEN c.prescribed_mj END AS prescribed_mj,
    CASE WHEN c.dogs >= $least THEN c.given_mj END AS given_mj
FROM cells AS c
ORDER BY c.practice, c.region, c.week;

-- How tolerance and score changed, from the first to the last, by practice.
WITH values_of_dogs AS (
    SELECT 'tolerance' AS what, p.practice, d.dog_key, s.tolerance AS value,
        row_number() OVER (
            PARTITION BY p.practice, d.dog_key ORDER BY s.day, s.opened, s.session
        ) AS place,
        count(*) OVER (PARTITION BY p.practice, d.dog_key) AS places
    FROM sessions AS s
    INNER JOIN dogs AS d ON d.device = s.device AND d.dog = s.dog
    INNER JOIN handovers AS h ON h.handover = s.handover AND h.names = 0
    INNER JOIN practices AS p ON p.handover = s.handover
    WHERE s.tolerance IS NOT NULL AND s.begun = 1

    UNION ALL
    SELECT 'score' AS what, p.practice, d.dog_key, f.score,
        row_number() OVER (PARTITION BY p.practice, d.dog_key ORDER BY f.day, f.said_at),
        count(*) OVER (PARTITION BY p.practice, d.dog_key)
    FROM scores AS f
    INNER JOIN dogs AS d ON d.device = f.device AND d.dog = f.dog
    INNER JOIN handovers AS h ON h.handover = f.handover AND h.names = 0
    INNER JOIN practices AS p ON p.handover = f.handover
),
changes AS (
    SELECT what, practice, dog_key,
        sum(CASE WHEN place = 1 THEN value ELSE 0 END) AS first_value,
        sum(CASE WHEN place = places THEN value ELSE 0 END) AS last_value
    FROM values_of_dogs
    WHERE places >= 2
    GROUP BY what, practice, dog_key
)
SELECT
    what, practice,
    CASE WHEN count(*) >= $least THEN 1 ELSE 0 END AS shown,
    CASE WHEN count(*) >= $least THEN count(*) END AS dogs,
    CASE WHEN count(*) >= $least THEN sum(first_value) END AS first_sum,
    CASE WHEN count(*) >= $least THEN sum(last_value) END AS last_sum
FROM changes
GROUP BY what, practice
ORDER BY what, practice
