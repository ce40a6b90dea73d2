-- needs: staging.measurements, trials.row_fates, trials.plots, reference.traits, reference.trait_units
-- One row per plot, trait and date of an accepted trial: subsamples averaged to the plot, in the trait's stored unit.
create table trials.measurements as
select
  p.trial_id, p.block, p.main_plot, p.plot, p.treatment_code, m.trait, m.date,
  avg(m.value * u.factor) as value, t.unit, count(*) as n_subsamples
from staging.measurements as m
inner join trials.row_fates as f
  on f.file = m.file and f.sheet is not distinct from m.sheet and f.row_number = m.row_number and f.table_name = 'measurements' and f.fate = 'used'
inner join trials.plots as p on p.trial_id = m.trial_id and p.plot = m.plot and p.fate = 'used'
inner join reference.traits as t on t.word = m.trait
inner join reference.trait_units as u on u.delivered = m.unit and u.stored = t.unit
group by p.trial_id, p.block, p.main_plot, p.plot, p.treatment_code, m.trait, m.date, t.unit
order by p.trial_id, m.trait, m.date, p.plot;
comment on table trials.measurements is 'One row per plot, trait and date';
