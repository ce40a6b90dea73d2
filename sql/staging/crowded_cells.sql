-- needs: staging.plots, staging.trials, staging.treatments
-- One row per treatment in a block (without blocks: per treatment) that has more plots there than its design allows, with
-- the first of them, and whether most of its trial is so.
create table staging.crowded_cells as
with standing as (
  select
    p.trial_id, p.treatment_code, p.plot, p.file, p.sheet, p.row_number,
    t.design in ('RCBD', 'split-plot', 'Latin square', 'incomplete block') as has_blocks,
    case when has_blocks then p.block else 'all' end as block,
    -- zero-N may stand in each main plot of a block
    case when t.design = 'split-plot' and z.trial_id is not null then coalesce(p.main_plot, '') else '' end as within
  from staging.plots as p
  inner join staging.trials as t on t.trial_id = p.trial_id
  left join (select distinct trial_id, treatment_code from staging.treatments where is_zero_n or n_rate_kg_ha = 0) as z
    on z.trial_id = p.trial_id and z.treatment_code = p.treatment_code
  -- a strip may be delivered as points along it
  where t.design <> 'strips' and p.treatment_code is not null and p.block is not null
),
cells as (
  select trial_id, has_blocks, block, treatment_code, within,
    -- a treatment on more than 30 plots without blocks is no plan anybody draws (common practice, no source)
    case when has_blocks then 1 else 30 end as most_plots,
    count(*) > most_plots as may_be_crowded
  from standing
  group by trial_id, has_blocks, block, treatment_code, within
),
-- few cells have so many rows: their plots alone are told apart
crowded as (
  select
    s.trial_id, s.has_blocks, s.block, s.treatment_code, s.within, count(distinct s.plot) as n_plots,
    arg_min(s.file, (s.file, s.row_number)) as file, arg_min(s.sheet, (s.file, s.row_number)) as sheet,
    arg_min(s.row_number, (s.file, s.row_number)) as row_number
  from cells as c
  inner join standing as s
    on s.trial_id = c.trial_id and s.block = c.block and s.treatment_code = c.treatment_code and s.within = c.within
    and s.has_blocks = c.has_blocks
  where c.may_be_crowded
  group by s.trial_id, s.has_blocks, s.block, s.treatment_code, s.within, c.most_plots
  having n_plots > c.most_plots
),
-- check plots and two swapped codes crowd a few cells; points and lost block labels crowd most of them, of most treatments
of_treatments as (
  select c.trial_id, count(x.trial_id) as n_crowded, count(*) as n_cells, n_crowded * 2 > n_cells as mostly_crowded
  from cells as c
  left join crowded as x
    on x.trial_id = c.trial_id and x.block = c.block and x.treatment_code = c.treatment_code and x.within = c.within
    and x.has_blocks = c.has_blocks
  where c.within = '' and c.trial_id in (select trial_id from crowded)
  group by c.trial_id, c.treatment_code
),
of_trials as (
  select trial_id, sum(n_crowded) * 2 > sum(n_cells) and count(*) filter (mostly_crowded) * 2 > count(*) as trial_is_crowded
  from of_treatments group by trial_id
)
select x.*, coalesce(o.trial_is_crowded, false) as trial_is_crowded
from crowded as x left join of_trials as o on o.trial_id = x.trial_id
order by x.trial_id, x.block, x.treatment_code, x.within;
comment on table staging.crowded_cells is 'One row per treatment in a block with more plots there than the design allows';
