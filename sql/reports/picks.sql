-- needs: staging.harvests, trials.plots, raw.current_files, reference.program
-- One row per pick of a plot picked more than once: its weight as delivered, turnout, file, sheet and row.
create view reports.picks as
select
  h.trial_id, h.plot, h.pick, h.picked, h.harvest_weight_kg, units.lb(h.harvest_weight_kg) as harvest_weight_lb,
  coalesce(h.gin_turnout_fraction, p.gin_turnout_fraction) as gin_turnout_fraction, h.file, h.sheet, h.row_number, r.display_units, f.sha256
from staging.harvests as h
inner join trials.plots as p on p.trial_id = h.trial_id and p.plot = h.plot
left join raw.current_files as f on f.file = h.file
cross join reference.program as r
order by h.trial_id, h.plot, h.pick;
comment on view reports.picks is 'One row per plot and pick: weight, turnout, file, sheet, row and sha256';
