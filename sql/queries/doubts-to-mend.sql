-- What is to do among the doubts: rows refused, doubts that keep a case out of a figure, all of them.
SELECT coalesce(sum(weight = 'refused'), 0) AS refused,
       coalesce(sum(weight <> 'refused' AND blocks <> ''), 0) AS blocking,
       count(*) AS waiting
FROM doubt
WHERE state IN ('waiting', 'replied')
