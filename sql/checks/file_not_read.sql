-- severity: holds the trial
-- says: every delivered file can be read as a table of ours; until then none of its rows counts, and the trials of its sender's folder are held
-- asks: analyst
-- needs: raw.current_files
select file, null as sheet, null::bigint as row_number, 'files' as table_name, null as column_name, null as trial_id, null as site_id,
  coalesce(held_rows || case held_rows when 1 then ' row' else ' rows' end, 'rows that cannot be counted') || ', none of them used' as found,
  null as expected, held_because as mend
from raw.current_files
where held_because is not null
