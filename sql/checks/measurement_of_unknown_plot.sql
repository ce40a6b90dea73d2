-- severity: sets the row aside
-- says: a measurement belongs to a plot of the plots table
-- may follow from an unread file: of its folder
-- needs: staging.measurements, staging.plots
-- rows of: staging.measurements
select m.file, m.sheet, m.row_number, 'measurements' as table_name, 'plot' as column_name, m.trial_id, null as site_id,
  coalesce(m.trial_id, '') || ' plot ' || coalesce(m.plot, '') as found, 'a plot of the plots table' as expected, 'add the plot, or correct the number' as mend
from staging.measurements as m left join staging.plots as p on p.trial_id = m.trial_id and p.plot = m.plot
where m.trial_id is not null and m.plot is not null and p.plot is null
