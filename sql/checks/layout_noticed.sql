-- severity: noted
-- says: how a sheet's layout was read: units beneath the headings, cells merged over a block, a sheet without a table
-- asks: analyst
-- needs: raw.notes, staging.contents, reference.layout_notes
-- rows of: raw.notes
-- A note is a sentence of its own: nothing else was expected.
select f.file, n.sheet, n.row_number, n.table_name, n.column_name, null as trial_id, null as site_id,
  n.found, null as expected, n.sentence as mend
from raw.notes as n inner join staging.contents as f on f.content = n.sha256
semi join reference.layout_notes as l on l.what = n.what
