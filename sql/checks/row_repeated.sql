-- severity: sets the row aside
-- says: a row is delivered once in a file; the repeat is set aside (the same description in another season's file is not a finding)
-- needs: staging.repeats, staging.all_rows
-- rows of: staging.repeats
-- only where: t.file = t.first_file
select r.file, r.sheet, r.row_number, r.table_name, null as column_name, a.trial_id, null as site_id,
  'a row that ' || r.reason as found, 'each row once' as expected, 'nothing is lost; remove the repeat if you like' as mend
from staging.repeats as r
left join staging.all_rows as a
  on a.file = r.file and a.sheet is not distinct from r.sheet and a.row_number = r.row_number and a.table_name = r.table_name
where r.file = r.first_file
