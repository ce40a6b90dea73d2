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
  select
    trial_id, has_blocks, block, treatment_code, within,
    count(distinct plot) as n_plots,
    -- a treatment on more than 30 plots without blocks is no plan anybody draws (common practice, no source)
    n_plots > case when has_blocks then 1 else 30 end as is_crowded
  from standing
  group by trial_id, has_blocks, block, treatment_code, within
),
-- check plots and two swapped codes crowd a few cells; points and lost block labels crowd most of them, of most treatments
of_treatments as (
  select trial_id, count(*) filter (is_crowded) as n_crowded, count(*) as n_cells, n_crowded * 2 > n_cells as mostly_crowded
  from cells where within = '' group by trial_id, treatment_code
),
of_trials as (
  select trial_id, sum(n_crowded) * 2 > sum(n_cells) and count(*) filter (mostly_crowded) * 2 > count(*) as trial_is_crowded
  from of_treatments group by trial_id
)
select
  c.trial_id, c.has_blocks, c.block, c.treatment_code, c.within, c.n_plots,
  arg_min(s.file, (s.file, s.row_number)) as file, arg_min(s.sheet, (s.file, s.row_number)) as sheet,
  arg_min(s.row_number, (s.file, s.row_number)) as row_number,
  coalesce(o.trial_is_crowded, false) as trial_is_crowded
from cells as c
inner join standing as s
  on s.trial_id = c.trial_id and s.block = c.block and s.treatment_code = c.treatment_code and s.within = c.within
  and s.has_blocks = c.has_blocks
left join of_trials as o on o.trial_id = c.trial_id
where c.is_crowded
group by c.trial_id, c.has_blocks, c.block, c.treatment_code, c.within, c.n_plots, o.trial_is_crowded
order by c.trial_id, c.block, c.treatment_code, c.within;
comment on table staging.crowded_cells is 'One row per treatment in a block with more plots there than the design allows';
