-- severity: noted
-- says: a trial that was lost names its cause
-- needs: staging.trials
-- rows of: staging.trials
-- only where: t.outcome = 'lost' and t.outcome_reason is null
select file, sheet, row_number, 'trials' as table_name, 'outcome_reason' as column_name, trial_id, site_id,
  outcome || ' without a cause' as found, 'the cause in the field' as expected, 'say what happened; a trial may not be left out for its yields' as mend
from staging.trials
where outcome = 'lost' and outcome_reason is null
