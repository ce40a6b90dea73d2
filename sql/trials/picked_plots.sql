-- needs: staging.harvests, staging.plots, staging.repeats
-- One row per plot picked more than once: its picks added up, turnout weighted by the weight of each pick.
create table trials.picked_plots as
with plots as (
  select trial_id, plot, min(gin_turnout_fraction) as gin_turnout_fraction from staging.plots group by trial_id, plot
),
picks as (
  select h.trial_id, h.plot, h.harvest_weight_kg, coalesce(h.gin_turnout_fraction, p.gin_turnout_fraction) as gin_turnout_fraction
  from staging.harvests as h
  left join plots as p on p.trial_id = h.trial_id and p.plot = h.plot
  anti join (select * from staging.repeats where table_name = 'harvests') as r
    on r.file = h.file and r.sheet is not distinct from h.sheet and r.row_number = h.row_number
  where h.trial_id is not null and h.plot is not null
)
select
  trial_id, plot, count(*) as n_picks, sum(harvest_weight_kg) as harvest_weight_kg,
  -- where a pick has no turnout, that of the plot is not known
  case when bool_and(gin_turnout_fraction is not null or harvest_weight_kg = 0)
    then coalesce(sum(harvest_weight_kg * gin_turnout_fraction) / nullif(sum(harvest_weight_kg), 0), avg(gin_turnout_fraction)) end as gin_turnout_fraction
from picks
group by trial_id, plot
order by trial_id, plot;
comment on table trials.picked_plots is 'One row per plot with picks: total weight and weighted turnout';
