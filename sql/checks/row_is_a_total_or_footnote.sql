-- severity: sets the row aside
-- says: totals, means and footnotes typed among the rows are not rows of the table
-- needs: staging.rows_left_out
-- rows of: staging.rows_left_out
-- only where: t.what not in ('repeats_headings', 'title_row')
-- A note of the reader is a sentence of its own: nothing else was expected.
select file, sheet, row_number, table_name, null as column_name, null as trial_id, null as site_id,
  found, null as expected, sentence || ' It is set aside; if it is a row of the table, fill in its cells.' as mend
from staging.rows_left_out
where what not in ('repeats_headings', 'title_row')
