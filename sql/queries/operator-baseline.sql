-- The frozen baseline of one operator, if it may judge a period that ends on :last_day.
SELECT term, value, fitted_to FROM operator_baseline WHERE operator = :operator AND fitted_to <= :last_day ORDER BY term
