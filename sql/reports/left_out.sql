-- needs: trials.eligibility, estimates.comparisons, trials.trials
-- One row per comparison and trial that was left out, with the reason; a planned trial is not left out.
create view reports.left_out as
select e.comparison_id, c.position, c.crop, e.trial_id, e.place, e.season, e.reason
from trials.eligibility as e inner join estimates.comparisons as c on c.comparison_id = e.comparison_id
inner join trials.trials as t on t.trial_id = e.trial_id
where not e.is_used and t.status <> 'planned'
order by c.position, e.season, e.trial_id;
comment on view reports.left_out is 'One row per trial left out of a comparison';
