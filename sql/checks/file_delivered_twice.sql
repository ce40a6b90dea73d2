-- severity: noted
-- says: rows are delivered in one file of a season; where a second file says the same, its rows are set aside and counted once
-- needs: staging.repeats, raw.current_files
-- rows of: staging.repeats
-- only where: t.file <> t.first_file
with repeats as (
  select r.file, r.first_file, r.table_name, count(*) as n, min(r.row_number) as row_number, arg_min(r.sheet, r.row_number) as sheet
  from staging.repeats as r
  inner join raw.current_files as f on f.file = r.file
  inner join raw.current_files as o on o.file = r.first_file and o.season = f.season
  where r.file <> r.first_file
  group by r.file, r.first_file, r.table_name
)
select r.file, r.sheet, r.row_number, r.table_name, null as column_name, null as trial_id, null as site_id,
  r.n || case r.n when 1 then ' row says' else ' rows say' end || ' the same as ' || r.first_file
    || case when f.sha256 = o.sha256 then '; the two files are the same' else '' end as found,
  'each row in one file' as expected,
  'nothing is lost: they are set aside here and used there. If a folder was copied or renamed, remove the copy' as mend
from repeats as r
inner join raw.current_files as f on f.file = r.file
inner join raw.current_files as o on o.file = r.first_file
