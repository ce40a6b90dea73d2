-- severity: noted
-- says: every crop that is compared has a rainfall window
-- asks: analyst
-- needs: trials.first_harvests, reference.rainfall_windows
select distinct 'program.yml' as file, null as sheet, null::bigint as row_number, 'program.yml' as table_name, null as column_name,
  null as trial_id, null as site_id, 'no rainfall window for ' || h.crop || ', so none of its site-years has a rainfall class' as found,
  'a window of calendar days, fixed before the harvest' as expected,
  'add under rainfall: windows: a line like ' || h.crop || ': {first_day: 05-01, last_day: 06-30}, with days that suit it' as mend
from trials.first_harvests as h where h.crop not in (select crop from reference.rainfall_windows)
