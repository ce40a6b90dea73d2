-- severity: holds the trial
-- says: a trial's season is that of the folder it came in
-- asks: analyst
-- needs: staging.trials, raw.current_files
select t.file, t.sheet, t.row_number, 'trials' as table_name, 'season' as column_name, t.trial_id, t.site_id,
  cast(t.season as varchar) as found, 'season ' || f.season || ', as the folder says' as expected,
  'correct the season, or move the file to its season folder' as mend
from staging.trials as t inner join raw.current_files as f on f.file = t.file
where t.season is not null and t.season <> f.season
