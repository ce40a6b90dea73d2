-- needs: estimates.proposed_trials, reports.comparisons
-- One row per proposed trial, the most useful first.
create view reports.proposed_trials as
select e.*, c.position, c.crop
from estimates.proposed_trials as e inner join reports.comparisons as c on c.comparison_id = e.comparison_id
order by c.position, e.rank;
comment on view reports.proposed_trials is 'One row per proposed trial';
