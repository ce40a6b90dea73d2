-- severity: sets the row aside
-- says: a row is delivered once in a file; the repeat is set aside (the same description in another season's file is no finding)
-- needs: staging.repeats
select file, sheet, row_number, table_name, null as column_name, null as trial_id, null as site_id,
  reason as found, 'each row once' as expected, 'nothing is lost; remove the repeat if you like' as mend
from staging.repeats
where file = first_file
