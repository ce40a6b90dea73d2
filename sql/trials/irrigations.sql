-- needs: staging.irrigations, trials.row_fates, trials.trials
-- One row per trial and day of irrigation.
create table trials.irrigations as
select i.trial_id, i.date, sum(i.irrigation_mm) as irrigation_mm
from staging.irrigations as i
inner join trials.row_fates as f
  on f.file = i.file and f.sheet is not distinct from i.sheet and f.row_number = i.row_number and f.table_name = 'irrigations' and f.fate = 'used'
inner join trials.trials as t on t.trial_id = i.trial_id
group by i.trial_id, i.date
order by i.trial_id, i.date;
comment on table trials.irrigations is 'One row per trial and day: water given (mm)';
