-- severity: noted
-- says: what the reader of the file noticed
-- needs: raw.notes, raw.current_files, reference.confirmed_readings
-- A note is a sentence of its own: nothing else was expected.
select f.file, n.sheet, n.row_number, n.table_name, n.column_name, null as trial_id, null as site_id,
  n.found, null as expected,
  case when n.what <> 'reading' then n.sentence
    else 'The file was read as text with ' || n.found || '. ' || n.sentence || ' If that is right, put into '
      || regexp_replace(f.file, '[^/]*$', 'headings.yml') || ': reading_confirmed: {"' || regexp_extract(f.file, '[^/]*$') || '": "' || n.found || '"}' end as mend
from raw.notes as n inner join raw.current_files as f using (sha256)
left join reference.confirmed_readings as c on c.file = f.file and c.reading = n.found
where n.what not in ('repeats_headings', 'looks_like_total', 'looks_like_footnote')
  and (n.what <> 'reading' or c.file is null)
