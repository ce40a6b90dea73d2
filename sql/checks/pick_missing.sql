-- severity: holds the trial
-- says: a plot that is picked has each pick of its trial; without one its weight is too low
-- may follow from an unread file: of its folder
-- needs: staging.harvests, staging.plots
-- rows of: staging.harvests
with picks as (
  select distinct trial_id, plot, pick from staging.harvests
  where trial_id is not null and plot is not null and pick is not null
),
missing as (
  select trial_id, plot, pick
  from (select distinct trial_id, plot from picks) inner join (select distinct trial_id, pick from picks) using (trial_id)
  except
  select trial_id, plot, pick from picks
)
select p.file, p.sheet, p.row_number, 'plots' as table_name, 'plot' as column_name, p.trial_id, null as site_id,
  'no pick ' || string_agg(m.pick, ', ' order by m.pick) || ' of plot ' || p.plot || ' in harvests' as found,
  'each pick that other plots of the trial have' as expected,
  'deliver it, with a weight of 0 where nothing was left to pick; or give the plot its whole weight in plots and no picks' as mend
from staging.plots as p inner join missing as m on m.trial_id = p.trial_id and m.plot = p.plot
where p.harvest_weight_kg is null and (p.outcome = 'harvested' or p.caused_by_treatment)
group by p.file, p.sheet, p.row_number, p.trial_id, p.plot
