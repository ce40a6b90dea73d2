-- severity: noted
-- says: a file is comma-separated UTF-8 with decimal points; any other reading is shown and confirmed once in headings.yml
-- asks: analyst
-- needs: raw.notes, raw.current_files, reference.read_as
-- rows of: raw.notes
-- only where: t.what = 'read_otherwise'
select f.file, n.sheet, null::bigint as row_number, n.table_name, null as column_name, null as trial_id, null as site_id,
  n.found, null as expected,
  n.sentence || ' If that is right, put into ' || regexp_replace(f.file, '/[^/]*$', '') || '/headings.yml: read_as: {"' ||
    regexp_extract(f.file, '[^/]*$') || '": [' || n.found || ']}' as mend
from raw.notes as n inner join raw.current_files as f using (sha256)
anti join reference.read_as as r on r.file = f.file
where n.what = 'read_otherwise' and f.held_because is null
