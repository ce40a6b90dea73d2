-- needs: trials.eligibility, trials.trials, estimates.comparisons
-- One row per comparison: trials of its crop listed, harvested, accepted and used. Each step says how many it lost.
create view reports.flow as
select
  c.comparison_id, c.position, c.crop,
  count(*) as n_listed,
  count(*) filter (where t.outcome = 'harvested') as n_harvested,
  count(*) filter (where t.status = 'held') as n_held,
  count(*) filter (where t.status = 'planned') as n_planned,
  count(*) filter (where t.status = 'not harvested') as n_not_harvested,
  count(*) filter (where t.status = 'accepted') as n_accepted,
  count(*) filter (where t.status = 'accepted' and not e.is_used) as n_not_eligible,
  count(*) filter (where e.is_used) as n_used,
  count(distinct e.site_year_id) filter (where e.is_used) as n_site_years
from trials.eligibility as e
inner join estimates.comparisons as c on c.comparison_id = e.comparison_id
inner join trials.trials as t on t.trial_id = e.trial_id
group by c.comparison_id, c.position, c.crop
order by c.position;
comment on view reports.flow is 'One row per comparison; n_listed = n_held + n_planned + n_not_harvested + n_not_eligible + n_used';
