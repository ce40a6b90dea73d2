-- severity: noted
-- says: a file is the one that was received, where a manifest says so
-- asks: analyst
-- needs: raw.current_files, reference.manifest
-- rows of: reference.manifest
with seasons as (select distinct regexp_extract(file, '^seasons/[0-9]+') as folder from reference.manifest)
select f.file, null as sheet, null as row_number, 'manifest' as table_name, 'sha256' as column_name, null as trial_id, null as site_id,
  case when m.file is null then 'a file the manifest does not list' else 'sha256 ' || f.sha256[:12] || '...' end as found,
  case when m.file is null then 'a line for it in manifest.csv' else 'sha256 ' || m.sha256[:12] || '..., as received from ' || m.sender end as expected,
  'if it came from its sender like this, the line is: ' || regexp_replace(f.file, '^seasons/[0-9]+/', '') || ',' || f.sha256 || ',' || coalesce(m.sender, '<sender>') || ',<date>' as mend
from raw.current_files as f
left join reference.manifest as m on m.file = f.file
where regexp_extract(f.file, '^seasons/[0-9]+') in (select folder from seasons)
  and (m.file is null or m.sha256 <> f.sha256)
union all
select m.file, null, null, 'manifest', 'file', null, null, 'a line for a file that is not there', 'the file as received' as expected,
  'bring the file back, or remove its line from manifest.csv' as mend
from reference.manifest as m where m.file not in (select file from raw.current_files)
