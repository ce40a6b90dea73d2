-- severity: holds the trial
-- says: a harvested trial has plots and treatments
-- may follow from an unread file: of its folder
-- needs: staging.trials, staging.plots, staging.treatments, staging.printed_means
select t.file, t.sheet, t.row_number, 'trials' as table_name, 'outcome' as column_name, t.trial_id, t.site_id,
  'a harvested trial without ' || case when t.trial_id in (select trial_id from staging.plots where trial_id is not null union select trial_id from staging.printed_means where trial_id is not null) then 'treatments' else 'plots' end as found,
  'its plots and its treatments' as expected,
  'deliver them, or say what became of the trial' as mend
from staging.trials as t
where t.outcome = 'harvested' and t.trial_id is not null
  and (t.trial_id not in (select trial_id from staging.plots where trial_id is not null union select trial_id from staging.printed_means where trial_id is not null)
    or t.trial_id not in (select trial_id from staging.treatments where trial_id is not null))
