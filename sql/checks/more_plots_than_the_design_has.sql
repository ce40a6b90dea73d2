-- severity: holds the trial
-- says: most treatments are in a block no more often than their design allows: points, samples and two trials in one are not plots
-- needs: staging.crowded_cells
-- rows of: staging.crowded_cells
-- only where: t.trial_is_crowded
with crowded as (
  select *, row_number() over (partition by trial_id order by file, row_number) as place
  from staging.crowded_cells where trial_is_crowded
),
of_trial as (
  select trial_id, any_value(has_blocks) as has_blocks, arg_min(file, place) as file, arg_min(sheet, place) as sheet, arg_min(row_number, place) as row_number,
    string_agg(treatment_code || ' ' || n_plots || ' times' || case when has_blocks then ' in block ' || block else '' end, ', ' order by place) filter (place <= 3) as first_three,
    count(*) as n_crowded, median(n_plots) as usual, count(distinct block) as n_blocks
  from crowded group by trial_id
)
select file, sheet, row_number, 'plots' as table_name, 'block' as column_name, trial_id, null as site_id,
  first_three || case when n_crowded > 3 then ' and ' || (n_crowded - 3) || ' more like these' else '' end as found,
  case when has_blocks then 'each treatment once in a block' else 'at most 30 plots of a treatment' end as expected,
  case
    when usual >= 10 then 'likely points along a strip or of a yield monitor, which are not plots: write the design strips and a block for each set of strips, or average each strip to one row'
    when n_blocks = 1 then 'likely the block labels are missing: fill in the block of each plot, or write the design CRD if there are none'
    else 'likely block labels repeated (two trials or two sites under one trial_id: give each its own), samples of one plot (average them), or main plots that the treatment codes do not distinguish'
  end as mend
from of_trial
