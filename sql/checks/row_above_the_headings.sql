-- severity: sets the row aside
-- says: titles above the headings are not rows of the table
-- asks: analyst
-- needs: staging.rows_left_out
-- rows of: staging.rows_left_out
-- only where: t.what = 'title_row'
-- A note of the reader is a sentence of its own: nothing else was expected.
select file, sheet, row_number, table_name, null as column_name, null as trial_id, null as site_id,
  found, null as expected, sentence || ' If it is a row of the table, move it below the headings.' as mend
from staging.rows_left_out
where what = 'title_row'
