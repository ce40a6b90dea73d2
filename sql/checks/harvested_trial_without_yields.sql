-- severity: holds the trial
-- says: at least one plot of a harvested trial has what a yield is computed from
-- may follow from an unread file: of its folder
-- needs: staging.trials, staging.plots, trials.plots_without_yield
-- rows of: trials.plots_without_yield
with counted as (
  select trial_id, count(*) as n, min(missing) as missing, count(distinct missing) as n_ways
  from trials.plots_without_yield group by trial_id
)
select t.file, t.sheet, t.row_number, 'trials' as table_name, 'outcome' as column_name, t.trial_id, t.site_id,
  'a harvested trial, but ' || case when c.n_ways = 1 then 'no ' || array_to_string(c.missing, ', no ') else 'not what a yield is computed from' end || ' in any plot' as found,
  'what the yields of its plots are computed from' as expected, 'look for a column that is missing or under a heading nobody mapped, or say what became of the trial' as mend
from staging.trials as t inner join counted as c on c.trial_id = t.trial_id
where t.outcome = 'harvested'
  and c.n = (select count(*) from staging.plots as p where p.trial_id = t.trial_id and (p.outcome = 'harvested' or p.caused_by_treatment))
