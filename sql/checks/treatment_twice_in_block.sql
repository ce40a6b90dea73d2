-- severity: noted
-- says: in a block design a treatment is in a block once; zero-N in a split-plot is in a main plot once
-- needs: staging.plots, staging.crowded_cells, staging.trials
-- rows of: staging.crowded_cells
-- only where: not t.trial_is_crowded
with plots_of as (
  select c.trial_id, c.block, c.treatment_code, c.within, c.file, c.sheet, max(p.row_number) as row_number,
    list_sort(list_distinct(list(p.plot))) as plots
  from staging.crowded_cells as c
  inner join staging.trials as t on t.trial_id = c.trial_id
  inner join staging.plots as p
    on p.trial_id = c.trial_id and p.block = c.block and p.treatment_code = c.treatment_code
    and (c.within = '' or p.main_plot = c.within)
  where not c.trial_is_crowded and t.design in ('RCBD', 'split-plot', 'Latin square')
  group by c.trial_id, c.block, c.treatment_code, c.within, c.file, c.sheet
)
select file, sheet, row_number, 'plots' as table_name, 'treatment_code' as column_name, trial_id, null as site_id,
  treatment_code || ' in plots ' || array_to_string(plots[1:3], ', ') || case when len(plots) > 3 then ' and ' || (len(plots) - 3) || ' more' else '' end
    || ' of block ' || block as found,
  'once per block' as expected, 'compare with the plot plan: two plots may be swapped' as mend
from plots_of
