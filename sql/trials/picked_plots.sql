-- needs: staging.harvests, staging.plots
-- One row per plot picked more than once: its picks added up, turnout weighted by the weight of each pick.
create table trials.picked_plots as
select
  h.trial_id, h.plot, count(*) as n_picks, sum(h.harvest_weight_kg) as harvest_weight_kg,
  sum(h.harvest_weight_kg * coalesce(h.gin_turnout_fraction, p.gin_turnout_fraction)) / sum(h.harvest_weight_kg) as gin_turnout_fraction
from staging.harvests as h
left join staging.plots as p on p.trial_id = h.trial_id and p.plot = h.plot
where h.trial_id is not null and h.plot is not null
group by h.trial_id, h.plot
order by h.trial_id, h.plot;
comment on table trials.picked_plots is 'One row per plot with picks: total weight and weighted turnout';
