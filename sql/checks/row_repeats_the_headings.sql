-- severity: sets the row aside
-- says: headings repeated further down are not a row of the table
-- needs: staging.rows_left_out
-- rows of: staging.rows_left_out
-- only where: t.what = 'repeats_headings'
select file, sheet, row_number, table_name, null as column_name, null as trial_id, null as site_id,
  found || ' ...' as found, null as expected, sentence || ' It is set aside; nothing is lost.' as mend
from staging.rows_left_out
where what = 'repeats_headings'
