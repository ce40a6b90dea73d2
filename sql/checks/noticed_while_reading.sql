-- severity: noted
-- says: what the reader of the file noticed and its sender should look at
-- needs: raw.notes, staging.contents, reference.layout_notes
-- rows of: raw.notes
-- A note is a sentence of its own: nothing else was expected.
select f.file, n.sheet, n.row_number, n.table_name, n.column_name, null as trial_id, null as site_id,
  n.found, null as expected, n.sentence as mend
from raw.notes as n inner join staging.contents as f on f.content = n.sha256
anti join reference.layout_notes as l on l.what = n.what
where n.what not in ('repeats_headings', 'looks_like_total', 'looks_like_footnote', 'title_row', 'read_otherwise')
