-- severity: noted
-- says: a file is comma-separated UTF-8 with decimal points; any other reading is shown and confirmed once in headings.yml
-- asks: analyst
-- needs: raw.notes, staging.contents, reference.read_as
-- rows of: raw.notes
-- only where: t.what = 'read_otherwise'
with unconfirmed as (
  select f.file, n.sheet, n.table_name, n.found, n.sentence, regexp_replace(f.file, '/[^/]*$', '') as folder,
    '"' || regexp_extract(f.file, '[^/]*$') || '": [' || n.found || ']' as entry
  from raw.notes as n inner join staging.contents as f on f.content = n.sha256
  anti join reference.read_as as r on r.file = f.file
  where n.what = 'read_otherwise'
)
-- headings.yml has one read_as for all files of its folder: the first file of them tells all of it
select file, sheet, null::bigint as row_number, table_name, null as column_name, null as trial_id, null as site_id,
  found, null as expected,
  sentence || ' If that is right, ' || case
    when file = first_value(file) over of_folder then 'put into ' || folder || '/headings.yml: read_as: {' ||
      string_agg(entry, ', ') over (of_folder rows between unbounded preceding and unbounded following) || '}.'
    else 'confirm it with the line told for ' || first_value(file) over of_folder || '.'
  end as mend
from unconfirmed
window of_folder as (partition by folder order by file)
