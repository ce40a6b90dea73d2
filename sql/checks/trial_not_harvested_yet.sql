-- severity: noted
-- says: a planned or planted trial was harvested or lost by the time others of its crop and season are harvested, or is due later
-- may follow from an unread file: of its folder
-- needs: staging.trials, trials.still_to_harvest
-- rows of: staging.trials
-- only where: t.outcome in ('planned', 'planted')
select file, sheet, row_number, 'trials' as table_name, 'outcome' as column_name, trial_id, site_id,
  outcome || coalesce(', due ' || due, ', no due date') as found, 'its harvest, or what became of it' as expected,
  'deliver its harvest sheet, or say that it was lost and why: a trial that never reports is counted as planned and not reported' as mend
from staging.trials where outcome in ('planned', 'planted') and trial_id not in (select trial_id from trials.still_to_harvest)
