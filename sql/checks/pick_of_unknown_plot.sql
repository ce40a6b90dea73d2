-- severity: sets the row aside
-- says: a pick belongs to a plot of the plots table
-- may follow from an unread file: of its folder
-- needs: staging.harvests, staging.plots
-- rows of: staging.harvests
select h.file, h.sheet, h.row_number, 'harvests' as table_name, 'plot' as column_name, h.trial_id, null as site_id,
  coalesce(h.trial_id, '') || ' plot ' || coalesce(h.plot, '') as found, 'a plot of the plots table' as expected, 'add the plot, or correct the number' as mend
from staging.harvests as h left join staging.plots as p on p.trial_id = h.trial_id and p.plot = h.plot
where h.trial_id is not null and h.plot is not null and p.plot is null
