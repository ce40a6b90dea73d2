-- needs: trials.trial_counts
-- One row per trial and table: delivered = used + set aside + held + superseded.
create view reports.trial_counts as select * from trials.trial_counts order by trial_id, table_name;
comment on view reports.trial_counts is 'One row per trial and table';
