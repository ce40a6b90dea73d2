-- severity: holds the trial
-- says: a split-plot names the main plot of every plot
-- needs: staging.plots, staging.trials
-- rows of: staging.trials
-- only where: t.design = 'split-plot'
select p.file, p.sheet, p.row_number, 'plots' as table_name, 'main_plot' as column_name, p.trial_id, null as site_id,
  '(empty)' as found, 'the main plot within the block' as expected, 'fill in main_plot, or correct the design' as mend
from staging.plots as p inner join staging.trials as t on t.trial_id = p.trial_id
where t.design = 'split-plot' and p.main_plot is null
