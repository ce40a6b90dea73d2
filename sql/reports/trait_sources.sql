-- needs: staging.measurements, trials.row_fates, trials.plots, trials.trials, trials.arms, reports.comparisons, raw.current_files
-- One row per comparison and measurement of another trait on a used plot of its arms, at the last date that such a plot of the trial has: value as delivered, file, sheet, row.
create view reports.trait_sources as
with used as (
  select m.*, p.treatment_code, p.block, max(m.date) over (partition by m.trial_id, m.trait) as last_date
  from staging.measurements as m
  inner join trials.row_fates as r
    on r.file = m.file and r.sheet is not distinct from m.sheet and r.row_number = m.row_number and r.table_name = 'measurements' and r.fate = 'used'
  inner join trials.plots as p on p.trial_id = m.trial_id and p.plot = m.plot and p.fate = 'used'
)
select
  a.comparison_id, c.position, c.crop, m.trait, m.trial_id, t.site_year_id, t.place, t.season, a.arm, m.treatment_code, m.block, m.plot,
  m.date as measured, m.value, m.unit, m.file, m.sheet, m.row_number, f.sha256
from used as m
inner join trials.trials as t on t.trial_id = m.trial_id
inner join trials.arms as a on a.trial_id = m.trial_id and a.treatment_code = m.treatment_code
inner join reports.comparisons as c on c.comparison_id = a.comparison_id
left join raw.current_files as f on f.file = m.file
where m.date = m.last_date or m.last_date is null
order by c.position, m.trait, t.season, m.trial_id, a.arm, m.block, m.plot, m.row_number;
comment on view reports.trait_sources is 'One row per comparison and measurement of another trait: value as delivered, file, sheet, row and sha256';
