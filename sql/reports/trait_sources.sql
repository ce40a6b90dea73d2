-- needs: staging.measurements, trials.row_fates, trials.plots, trials.trials, trials.arms, estimates.trait_blocks, reports.comparisons, raw.current_files
-- One row per comparison and measurement of another trait on a used plot of its arms, at the last date that such a plot of the trial has: value as delivered, file, sheet, row.
-- A plot without a measured one to compare it with is in no difference, and its fate says so. Where a difference is adjusted for blocks over its whole trial, the measured plots of all treatments and rates are in it.
create view reports.trait_sources as
with used as (
  select m.*, p.treatment_code, p.block, max(m.date) over (partition by m.trial_id, m.trait) as last_date
  from staging.measurements as m
  inner join trials.row_fates as r
    on r.file = m.file and r.sheet is not distinct from m.sheet and r.row_number = m.row_number and r.table_name = 'measurements' and r.fate = 'used'
  inner join trials.plots as p on p.trial_id = m.trial_id and p.plot = m.plot and p.fate = 'used'
),
measured as (select * from used where date = last_date or last_date is null),
-- "all" stands for the whole trial, but where a sender calls one of its blocks so
blocks as (
  select b.*, t.design, b.block = 'all' and (t.design in ('CRD', 'incomplete block') or not exists (from trials.plots as p where p.trial_id = b.trial_id and p.block = 'all')) as is_whole
  from estimates.trait_blocks as b inner join trials.trials as t on t.trial_id = b.trial_id
),
adjusted as (select comparison_id, trait, trial_id, rates_missing from blocks where is_whole and design <> 'CRD'),
behind as (
  select m.*, a.comparison_id, a.arm, a.rate_kg_ha
  from measured as m inner join trials.arms as a on a.trial_id = m.trial_id and a.treatment_code = m.treatment_code
  union all
  select m.*, j.comparison_id, 'joins the blocks', null
  from measured as m inner join adjusted as j on j.trial_id = m.trial_id and j.trait = m.trait
  anti join trials.arms as a on a.comparison_id = j.comparison_id and a.trial_id = m.trial_id and a.treatment_code = m.treatment_code
),
compared as (
  select
    m.* replace (if(coalesce(list_contains(j.rates_missing, m.rate_kg_ha), false), 'joins the blocks', m.arm) as arm),
    j.trial_id is null and not exists (
      from blocks as b
      where b.comparison_id = m.comparison_id and b.trait = m.trait and b.trial_id = m.trial_id and (b.block = m.block or b.is_whole)
        and not coalesce(list_contains(b.rates_missing, m.rate_kg_ha), false)
    ) as is_alone
  from behind as m
  left join adjusted as j on j.comparison_id = m.comparison_id and j.trait = m.trait and j.trial_id = m.trial_id
)
select
  m.comparison_id, c.position, c.crop, m.trait, m.trial_id, t.site_year_id, t.place, t.season, m.arm, m.treatment_code,
  m.rate_kg_ha, units.lb_ac(m.rate_kg_ha) as rate_lb_ac, m.block, m.plot, m.date as measured, m.value, m.unit,
  if(m.is_alone, 'not compared', 'used') as fate, if(m.is_alone, 'the other arm was not measured beside it', null) as reason,
  t.design = 'strips' as is_strip_point, m.file, m.sheet, m.row_number, f.sha256
from compared as m
inner join trials.trials as t on t.trial_id = m.trial_id
inner join reports.comparisons as c on c.comparison_id = m.comparison_id
left join raw.current_files as f on f.file = m.file
order by c.position, m.trait, t.season, m.trial_id, m.arm, m.block, m.plot, m.row_number;
comment on view reports.trait_sources is 'One row per comparison and measurement of another trait: value as delivered, file, sheet, row and sha256';
