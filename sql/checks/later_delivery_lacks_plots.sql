-- severity: holds the trial
-- says: a later delivery of a trial brings all of its plots again, since it takes the place of the earlier
-- needs: staging.brought_again
-- rows of: staging.brought_again
-- only where: not t.is_latest and t.table_name in ('plots', 'harvests', 'measurements', 'printed_means')
with earlier as (
  select table_name, trial_id, part, plot, min(file) as file from staging.brought_again
  where not is_latest and table_name in ('plots', 'harvests', 'measurements', 'printed_means') and plot <> ''
  group by table_name, trial_id, part, plot
),
latest as (
  select table_name, trial_id, part, min(file) as file, arg_min(sheet, (file, row_number)) as sheet,
    arg_min(row_number, (file, row_number)) as row_number, list(plot) as plots
  from staging.brought_again where is_latest
  group by table_name, trial_id, part
),
lacking as (
  select l.file, l.sheet, l.row_number, l.table_name, l.trial_id, l.part, min(e.file) as earlier_file, list_sort(list(e.plot)) as plots
  from latest as l
  inner join earlier as e on e.table_name = l.table_name and e.trial_id = l.trial_id and e.part is not distinct from l.part
  where not list_contains(l.plots, e.plot)
  group by l.file, l.sheet, l.row_number, l.table_name, l.trial_id, l.part
)
select file, sheet, row_number, table_name, if(table_name = 'printed_means', 'treatment_code', 'plot') as column_name, trial_id, null as site_id,
  coalesce(if(table_name = 'harvests', 'pick ', '') || part || ' ', '') || 'without ' || array_to_string(plots[1:3], ', ') ||
    if(len(plots) > 3, ' and ' || (len(plots) - 3) || ' more', '') || ', which ' || earlier_file || ' brought' as found,
  'all ' || if(table_name = 'printed_means', 'treatments', 'plots') || ' of the trial, since the later delivery takes the place of the earlier' as expected,
  'deliver the trial whole, lost plots with their cause; for a few cells write corrections.yml and take this delivery out of the folder' as mend
from lacking
