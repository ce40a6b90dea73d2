-- needs: trials.findings, staging.headings
-- One row per finding, worst first. Sites and files stand for all their trials. What cannot be seen in a text is said in it.
create view reports.findings as
with theirs as (
  select file, sheet, table_name, heading, min(verbatim) as headed
  from staging.headings where regexp_replace(lower(trim(verbatim)), '[^a-z0-9]+', '_', 'g') <> heading
  group by all
)
select
  f.severity, f.check_name, f.file, f.sheet, f.row_number, f.table_name, f.column_name, h.headed, f.trial_id, f.site_id,
  regexp_replace(f.found, '[\x{00AD}\x{200B}-\x{200F}\x{202A}-\x{202E}\x{2060}-\x{206F}\x{FEFF}]', '[unseen character]', 'g') as found, f.expected, f.mend
from trials.findings as f
left join theirs as h on h.file = f.file and h.sheet is not distinct from f.sheet and h.table_name = f.table_name and h.heading = f.column_name
order by case f.severity when 'holds the trial' then 1 when 'sets the row aside' then 2 else 3 end, f.check_name, f.file, f.row_number;
comment on view reports.findings is 'One row per finding';
